"""Pitch, meter, chords, counting, tempo marks and rhythm measures: pure, no input or output."""
