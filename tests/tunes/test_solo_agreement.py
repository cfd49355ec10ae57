"""Two versions of the same bars, laid beside each other. Which differences matter is common practice, no source."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tunes.harmony.pitch.spelling import Pitch
from tunes.solos.agreement import compare
from tunes.solos.notes import Sounding

HALF = Fraction(1, 2)


def line(text: str) -> list[Sounding]:
    """ "C4 D4@3/2 (E4)": quavers one after the other, a place after @, a ghost in brackets."""
    found: list[Sounding] = []
    at = Fraction(0)
    for word in text.split():
        name, _, place = word.strip("()").partition("@")
        at = Fraction(place) if place else at
        found.append(Sounding(Pitch.parse(name), at, HALF, int(at // 4), at % 4, 0, ghost=word.startswith("(")))
        at += HALF
    return found


TABLE = (
    ("C4 D4 E4", "C4 D4 E4", []),
    ("C4 D4 E4", "C4 E4@1", ["missing"]),
    ("C4 D4 E4", "C4 D4 F4 E4@1", ["extra"]),
    ("C4 D4 E4", "C4 Eb4 E4", ["other"]),
    ("C4 D4 E4", "C4 D5 E4", ["octave"]),
    ("C4 D#4 E4", "C4 Eb4 E4", ["spelling"]),
    ("C4 D4 E4@3/2", "C4 D4 E4@1", ["rhythm"]),
    ("C4 D4@5/8 E4@1", "C4 D4 E4@1", []),
    ("C4 (Db4) D4", "C4 D4@1", []),
    ("C4 D4", "C4 (Db4) D4@1/2", []),
    ("C4", "C4@8", ["missing", "extra"]),
    ("", "C4", ["extra"]),
)  # fmt: skip


@pytest.mark.parametrize(("key", "given", "kinds"), TABLE)
def test_differences_are_told_apart(key: str, given: str, kinds: list[str]) -> None:
    assert [pair.kind for pair in compare(line(key), line(given)).differences] == kinds


def test_agreement_counts_pitch_classes_near_their_place() -> None:
    found = compare(line("C4 D4 E4 F4 (G4)"), line("C5 D4 Eb4 F4"))
    assert (found.notes, found.agreed) == (4, 3)


pitches = st.lists(st.integers(55, 80), max_size=20)


@given(pitches, pitches)
def test_every_note_stands_once_and_in_order(one: list[int], other: list[int]) -> None:
    key, written = (
        [Sounding(_pitch(midi), Fraction(i, 2), HALF, i // 8, Fraction(i % 8, 2), 0) for i, midi in enumerate(row)]
        for row in (one, other)
    )  # fmt: skip
    found = compare(key, written)
    assert [pair.key for pair in found.pairs if pair.key] == key
    assert [pair.given for pair in found.pairs if pair.given] == written
    assert compare(key, key).differences == ()


def _pitch(midi: int) -> Pitch:
    names = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
    return Pitch.parse(f"{names[midi % 12]}{midi // 12 - 1}")
