"""Tests of the theory engine. Tables are tried in C and in two awkward keys; properties prove all twelve."""

from tunes.harmony.pitch.spelling import Key

TONICS = ("C", "Gb", "B")
"""C, and one key at either end of the signatures."""
TRIED_MAJOR = tuple(Key.parse(f"{tonic} major") for tonic in TONICS)
TRIED_MINOR = tuple(Key.parse(f"{tonic} minor") for tonic in ("C", "Eb", "G#"))
