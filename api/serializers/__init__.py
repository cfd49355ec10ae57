"""Shapes of the bodies that go in and out, one module per app."""
