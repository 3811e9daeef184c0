"""How hard an exercise is, what it teaches, and how to practise it: pure."""
