"""Takes: a player records what was to be played; it is heard at the bar. `docs/takes.md` says how it fits together."""
