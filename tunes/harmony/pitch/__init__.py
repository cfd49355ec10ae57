"""Notes, intervals and keys by letter and accidental: what everything else stands on."""
