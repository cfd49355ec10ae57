"""Which chord a handful of notes is: what somebody plays, read as a symbol. Pure.

The bass decides where notes have two names (C6 is not Am7: common practice); a missing fifth is no matter, a missing third is.
Extensions are taken where the kind allows them; what fits no kind has no name here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tunes.harmony.chords.symbol import ChordSymbol, make_symbol
from tunes.harmony.pitch.spelling import Key, NoteName

# Degrees of a kind with their semitones; the fifth may be left out where it is perfect.
_KINDS: tuple[tuple[str, ...], ...] = (
    ("1", "3", "5"), ("1", "b3", "5"), ("1", "b3", "b5"), ("1", "3", "#5"), ("1", "4", "5"), ("1", "2", "5"),
    ("1", "3", "5", "6"), ("1", "b3", "5", "6"), ("1", "3", "5", "7"), ("1", "3", "5", "b7"), ("1", "b3", "5", "b7"),
    ("1", "b3", "b5", "b7"), ("1", "b3", "b5", "bb7"), ("1", "b3", "5", "7"), ("1", "4", "5", "b7"), ("1", "3", "#5", "b7"),
)  # fmt: skip
_STEPS = {"1": 0, "2": 2, "b3": 3, "3": 4, "4": 5, "b5": 6, "5": 7, "#5": 8, "6": 9, "bb7": 9, "b7": 10, "7": 11}
# Extensions by semitone above the root, for chords with a seventh (a 6th), by third.
_MAJOR_SEVENTH = {2: "9", 6: "#11", 9: "13"}
_DOMINANT = {1: "b9", 2: "9", 3: "#9", 6: "#11", 8: "b13", 9: "13"}
_MINOR = {2: "9", 5: "11", 9: "13"}
_SUSPENDED = {1: "b9", 2: "9", 9: "13"}
_NO_FIFTH, _EXTENSION, _INVERTED, _PLAIN_SUSPENSION = 0.4, 0.3, 1.0, 0.2


def chords_of(notes: Sequence[int], key: Key, most: int = 3) -> tuple[ChordSymbol, ...]:
    """The chords that MIDI numbers may be, the likeliest first, spelled for a key; none for fewer than three notes.

    >>> c = Key.parse("C")
    >>> [chords_of(notes, c)[0].text for notes in ((50, 53, 60), (43, 53, 59), (48, 52, 57, 67), (45, 48, 52, 55))]
    ['Dm7', 'G7', 'C6', 'Am7']
    """
    pcs = frozenset(note % 12 for note in notes)
    if len(pcs) < 3:
        return ()
    bass = min(notes) % 12
    found = sorted(_candidates(pcs, bass, key), key=lambda row: (row[0], row[1].text))
    return tuple(dict.fromkeys(symbol for _, symbol in found))[:most]


def _candidates(pcs: frozenset[int], bass: int, key: Key) -> Iterator[tuple[float, ChordSymbol]]:
    for root in sorted(pcs):
        above = {(pc - root) % 12 for pc in pcs}
        for degrees in _KINDS:
            steps = {_STEPS[degree] for degree in degrees}
            missing = steps - above
            if missing - {7}:
                continue
            extra = _extensions(degrees, above - steps)
            if extra is None:
                continue
            turned = root != bass
            cost = len(missing) * _NO_FIFTH + len(extra) * _EXTENSION + turned * _INVERTED
            cost += _PLAIN_SUSPENSION * ("2" in degrees or "4" in degrees)
            lowest = name_in_key(bass, key) if turned else None
            yield cost, make_symbol(name_in_key(root, key), {*degrees, *extra}, lowest)


def _extensions(degrees: tuple[str, ...], above: set[int]) -> tuple[str, ...] | None:
    """The names of what lies outside a kind; None where something has none."""
    if not above:
        return ()
    if len(degrees) < 4 or "bb7" in degrees:
        return None
    if "4" in degrees:
        table = _SUSPENDED
    elif "b3" in degrees:
        table = _MINOR
    else:
        table = _DOMINANT if "b7" in degrees else _MAJOR_SEVENTH
    taken = {step for step in above if step in table}
    if taken != above or ("6" in degrees and 9 in above):
        return None
    return tuple(table[step] for step in sorted(above))


def name_in_key(pc: int, key: Key) -> NoteName:
    """A pitch class by the name that lies nearest to a key on the circle of fifths.

    >>> [name_in_key(pc, Key.parse("Eb")).text for pc in (1, 3, 6, 11)]
    ['Db', 'Eb', 'Gb', 'Cb']
    """
    names = [NoteName.from_fifths(fifths) for fifths in range(-7, 11) if NoteName.from_fifths(fifths).pc == pc % 12]
    return min(names, key=lambda name: (abs(name.fifths - key.fifths - 1), name.fifths))
