"""The rules that reasons name, and their sentences."""
