"""Degrees and roles. The tables name the books whose definitions they state; chapters from memory."""

import pytest

from tunes.harmony.charts.bars import COMMON_TIME
from tunes.harmony.chords import parse_symbol
from tunes.melody import Change, Grid, Note, read_notes


def changes(text: str) -> list[Change]:
    """ "G7@0 Cmaj7@4": chords and the crotchet they begin on."""
    return [
        Change(float(at), parse_symbol(symbol).symbol) for symbol, at in (word.split("@") for word in text.split())
    ]


def melody(midi: list[int], start: float = 0.0, step: float = 0.5) -> list[Note]:
    return [Note(start + n * step, step, pitch) for n, pitch in enumerate(midi)]


def roles(midi: list[int], chords: str, start: float = 0.0) -> list[str]:
    return [n.role for n in read_notes(melody(midi, start), changes(chords), Grid.even(COMMON_TIME))]


# Coker 1991 and Ligon 1996 on enclosure and approach, Baker 1985 on passing notes, Kostka and Payne on the rest.
ROLES = [
    ("passing note between two chord tones", "Cmaj7@0", [60, 62, 64], 0, ["chord tone", "passing", "chord tone"]),
    ("chromatic passing note, beat to beat", "G7@0", [67, 66, 65], 0, ["chord tone", "passing", "chord tone"]),
    ("lower neighbour", "Cmaj7@0", [67, 66, 67], 0, ["chord tone", "neighbour", "chord tone"]),
    ("half step from below after a leap", "Cmaj7@0", [67, 63, 64], 0, ["chord tone", "approach", "chord tone"]),
    ("enclosure: above, below, target", "Cmaj7@0", [60, 65, 63, 64], -0.5,
     ["rest", "enclosure", "enclosure", "chord tone"]),
    ("enclosure from below first", "Cmaj7@0", [72, 66, 68, 67], 0, ["chord tone", "enclosure", "enclosure", "chord tone"]),
]  # fmt: skip


@pytest.mark.parametrize(("name", "chords", "midi", "start", "expected"), ROLES, ids=[row[0] for row in ROLES])
def test_roles_as_the_books_define_them(name, chords, midi, start, expected):
    assert roles(midi, chords, start) == expected
