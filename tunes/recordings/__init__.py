"""Recordings to hear: streaming, form maps, listening logs."""
