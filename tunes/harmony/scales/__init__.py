"""One plain scale for each chord, by what the chord does."""
