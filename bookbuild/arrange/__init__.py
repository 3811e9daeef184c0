"""What each hand, each finger and the bellows play: pure computation from tune, groove and instrument."""
