"""Versions of a tune side by side: what differs, what a player changes, a quiz and a card for the jam session."""
