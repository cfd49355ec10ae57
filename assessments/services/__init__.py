"""Everything that writes: assign, answer, hand in, review, sign off. Selectors read."""
