"""Solos written out from recordings: what was played, bar by bar, over the changes it was played on."""
