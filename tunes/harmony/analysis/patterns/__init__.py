"""What shows only over several chords together."""
