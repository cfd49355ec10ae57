"""What every chord is called in its key, by which rule, and how that is said."""
