"""Two charts of one tune side by side, and a chord that was heard beside one that was agreed."""
