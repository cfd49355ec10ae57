"""The form cut into stretches of one key, and how those keys are spelled."""
