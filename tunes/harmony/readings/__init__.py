"""The shapes of a result: what a chord does, how it is read, how far it is from home."""
