"""How the sections of a chart compare, and what a form is called."""
