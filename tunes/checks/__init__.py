"""Charts checked bar by bar against a recording; disputes, and their settlement."""
