"""Which chord prepares which: the grammar, its weights, and the search for the best tree."""
