"""What writes: the practice log and the packs."""
