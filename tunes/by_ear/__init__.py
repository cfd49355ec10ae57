"""Changes taken down by ear: an empty form, filled while hearing, then laid beside the agreed chart."""
