"""Chord symbols to and from MusicXML 4.0 `harmony`, and to the syntax of Harte et al. 2005.

MusicXML: W3C, *MusicXML 4.0*, types `kind-value` and `degree-type-value`. A degree of type "add" is relative to
a dominant chord (major and perfect intervals, minor seventh); "alter" and "subtract" are relative to what the
kind contains. Harte, Sandler, Abdallah, Gómez, *Symbolic representation of musical chords*, ISMIR 2005.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from tunes.harmony.chords.symbol import ChordSymbol, make_symbol
from tunes.harmony.chords.vocabulary import ALTERED, KINDS, degree_parts, in_order
from tunes.harmony.pitch.spelling import NoteName

DegreeType = Literal["add", "alter", "subtract"]

_NINTH = {"dominant": "dominant-ninth", "major-seventh": "major-ninth", "minor-seventh": "minor-ninth"}
_ELEVENTH = {"dominant": "dominant-11th", "major-seventh": "major-11th", "minor-seventh": "minor-11th"}
_THIRTEENTH = {"dominant": "dominant-13th", "major-seventh": "major-13th", "minor-seventh": "minor-13th"}


def _stacked(kind: str, *extensions: str) -> tuple[str, ...]:
    return (*KINDS[kind].degrees, *extensions)


MUSICXML_KINDS: dict[str, tuple[str, ...]] = {
    **{kind.musicxml: kind.degrees for kind in KINDS.values() if kind.musicxml != "suspended-fourth"},
    "diminished": KINDS["diminished"].degrees,
    "suspended-fourth": KINDS["suspended-fourth"].degrees,
    **{name: _stacked(kind, "9") for kind, name in _NINTH.items()},
    **{name: _stacked(kind, "9", "11") for kind, name in _ELEVENTH.items()},
    **{name: _stacked(kind, "9", "11", "13") for kind, name in _THIRTEENTH.items()},
    "other": ("1",),
}
"""Degrees of every `kind-value` that stands for a chord by itself."""

FUNCTIONAL_KINDS = frozenset({"Neapolitan", "Italian", "French", "German", "Tristan"})
"""Kinds named by what they do in a key; they need the key to become notes, so they are not read as symbols."""

BASS_ONLY_KINDS = frozenset({"pedal"})


@dataclass(frozen=True, slots=True)
class MusicXMLDegree:
    """One `degree` element: its value (2–13), alteration in semitones, and type."""

    value: int
    alter: int
    type: DegreeType


@dataclass(frozen=True, slots=True)
class MusicXMLChord:
    """What a `harmony` element holds: root, kind, the kind's `text`, degrees and bass."""

    root: NoteName
    kind: str
    text: str
    degrees: tuple[MusicXMLDegree, ...]
    bass: NoteName | None


def to_musicxml(symbol: ChordSymbol) -> MusicXMLChord:
    """
    >>> from tunes.harmony.chords import parse_symbol
    >>> chord = to_musicxml(parse_symbol("C13").symbol)
    >>> chord.kind, [(d.value, d.alter, d.type) for d in chord.degrees]
    ('dominant-13th', [(11, 0, 'subtract')])
    """
    kind = _musicxml_kind(symbol)
    return MusicXMLChord(
        symbol.root,
        kind,
        symbol.kind_text,
        tuple(_differences(MUSICXML_KINDS[kind], symbol.degrees)),
        symbol.bass,
    )


def _musicxml_kind(symbol: ChordSymbol) -> str:
    kind, have = symbol.kind, set(symbol.degrees)
    if symbol.degrees == ALTERED or kind not in _NINTH:
        return KINDS[kind].musicxml
    if "13" in have and have & {"9", "b9", "#9"}:
        return _THIRTEENTH[kind]
    if {"9", "11"} <= have:
        return _ELEVENTH[kind]
    return _NINTH[kind] if "9" in have else KINDS[kind].musicxml


def _differences(implied: tuple[str, ...], wanted: tuple[str, ...]) -> Iterable[MusicXMLDegree]:
    """What to alter, take away and add to turn the kind's degrees into the symbol's."""
    left = [degree for degree in wanted if degree not in implied]
    for degree in implied:
        if degree in wanted:
            continue
        number, alter = degree_parts(degree)
        altered = next((other for other in left if degree_parts(other)[0] == number), None)
        if altered is None:
            yield MusicXMLDegree(number, 0, "subtract")
        else:
            left.remove(altered)
            yield MusicXMLDegree(number, degree_parts(altered)[1] - alter, "alter")
    for degree in left:
        number, alter = degree_parts(degree)
        yield MusicXMLDegree(number, alter + (1 if number == 7 else 0), "add")


def from_musicxml(
    root: NoteName, kind: str, degrees: Iterable[MusicXMLDegree] = (), bass: NoteName | None = None
) -> ChordSymbol | None:
    """The symbol of a `harmony` element; None for "none" and for kinds that are no chord by themselves.

    >>> from_musicxml(NoteName("G"), "suspended-fourth", [MusicXMLDegree(7, 0, "add")]).text
    'G7sus4'
    """
    if kind not in MUSICXML_KINDS:
        return None
    have = set(MUSICXML_KINDS[kind])
    for degree in degrees:
        _apply(have, degree)
    return make_symbol(root, have, bass)


def _apply(have: set[str], degree: MusicXMLDegree) -> None:
    present = [other for other in in_order(have) if degree_parts(other)[0] == degree.value]
    if degree.type == "subtract":
        have.difference_update(present[:1])
    elif degree.type == "alter":
        base = degree_parts(present[0])[1] if present else (-1 if degree.value == 7 else 0)
        have.difference_update(present[:1])
        have.add(_degree(degree.value, base + degree.alter))
    else:
        shift = -1 if degree.value == 7 else 0
        have.add(_degree({2: 9}.get(degree.value, degree.value), degree.alter + shift))


def _degree(number: int, alter: int) -> str:
    return ("#" * alter if alter > 0 else "b" * -alter) + str(number)


def to_harte(symbol: ChordSymbol) -> str:
    """
    >>> from tunes.harmony.chords import parse_symbol
    >>> [to_harte(parse_symbol(text).symbol) for text in ("C7b5", "Bbm7/Ab", "F9sus4")]
    ['C:7(*5,b5)', 'Bb:min7/b7', 'F:sus4(b7,9)']
    """
    row = KINDS[symbol.kind]
    base = {"augmented-seventh": "7", "suspended-seventh": "sus4", "diminished-major-seventh": "dim"}.get(
        symbol.kind, row.harte
    )
    implied = next((kind.degrees for kind in KINDS.values() if kind.harte == base and base), ("1",))
    omitted = [f"*{degree}" for degree in implied if degree not in symbol.degrees]
    added = [degree for degree in symbol.degrees if degree not in implied]
    listed = ",".join([*omitted, *added])
    body = base + (f"({listed})" if listed else "")
    bass = f"/{symbol.bass_degree}" if symbol.bass else ""
    return f"{symbol.root.text}:{body}{bass}"
