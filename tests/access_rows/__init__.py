"""One module per app, each with `ROWS` and, if it needs objects, `build(world)`."""
