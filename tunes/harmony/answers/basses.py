"""Answers that name a chord and the bass under it: I/5, I6/4, IV/V, 1 over 3, V/B.

A stroke also stands before a goal (V/ii), so what it means is settled by the chord that was asked: where that chord
has the bass named, the bass is meant (common practice, no source). A number after the stroke counts in the key (IV/V)
or in the chord (I/3). Figures: Aldwell & Schachter, *Harmony and Voice Leading*.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from tunes.harmony.answers.form import SUBSTITUTE, Answer, degree_fifths
from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.pitch.spelling import Key, NoteName, SpellingError

_UNDER = {"63": "3", "64": "5", "65": "3", "43": "5", "42": "7"}
"""The note of the chord that lies in the bass, by the figures of the inversion."""


def over_bass(given: Answer, symbol: ChordSymbol, key: Key) -> Iterator[tuple[Answer, bool]]:
    """Readings of an answer as a chord over a bass, each with whether that is the bass of ``symbol``; none where no bass
    was named. ``key`` is the one that numbers count in, in the pitch of the symbol.

    >>> from tunes.harmony.answers.reader import read_answer
    >>> from tunes.harmony.chords import parse_symbol
    >>> c, over_g = Key.parse("C"), parse_symbol("C/G").symbol
    >>> [(a.numeral, fits) for t in ("I/5", "I64", "I/3") for a, fits in over_bass(read_answer(t).answer, over_g, c)]
    [('I', True), ('I', True), ('I', False)]
    """
    if given.bass:
        yield replace(given, bass=""), _fits(given.bass, symbol, key)
    elif given.stroke and given.of and given.of[-1] != SUBSTITUTE:
        yield replace(given, of=given.of[:-1], stroke=False), _fits(given.of[-1], symbol, key)


def _fits(said: str, symbol: ChordSymbol, key: Key) -> bool:
    bass = symbol.bass or symbol.root
    if said in _UNDER:
        return symbol.bass_degree.lstrip("b#") == _UNDER[said]
    if said[0] in "ABCDEFG":
        return _pitch(said) == bass.pc
    in_key = NoteName.from_fifths(key.tonic.fifths + degree_fifths(said)).pc == bass.pc
    return in_key or symbol.bass_degree == said or symbol.bass_degree.lstrip("b#") == said


def _pitch(note: str) -> int | None:
    try:
        return NoteName.parse(note).pc
    except SpellingError:
        return None
