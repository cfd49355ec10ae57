"""Keeping the form while the changes are hidden and the band falls silent: played by the page, scored here."""
