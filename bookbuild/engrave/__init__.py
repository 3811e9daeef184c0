"""From an Arrangement to drawn systems: engraver input, the engraver's run, and the cache."""
