"""The home key of a tune, and its mode."""
