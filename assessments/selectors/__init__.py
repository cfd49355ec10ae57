"""Everything that reads. Selectors never write."""
