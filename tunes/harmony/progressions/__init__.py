"""Progressions as patterns over functions, and where they occur in a chart and in a whole repertoire."""
