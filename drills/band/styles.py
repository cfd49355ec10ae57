"""What a band plays in each style: where the bass plays in a bar, rhythms to comp in, strokes of the drums.

Common practice, no single source. Places are crotchets from the bar line, straight. A bar of another length than the style
is made for (a bar of two in a tune in four) gets a bass note, a ride stroke and nothing else on every beat.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

Place = Fraction


@dataclass(frozen=True, slots=True)
class Stroke:
    """One stroke of the drums: `at` in crotchets from the bar line, `what` one of DRUMS, `level` 0 to 1."""

    at: Fraction
    what: str
    level: float


@dataclass(frozen=True, slots=True)
class Style:
    """length    crotchets of the bar the style is made for.
    swing     whether quavers are uneven.
    tempo     where it is usual, crotchets a minute.
    bass      places of the bass in a bar; `walks`: no note is played twice running.
    comping   rhythms of one bar: (place, length) of each chord; the last place may be the last half beat of the bar, which then
              brings the chord of the next one early.
    drums     strokes of one bar; `fill` those of the last bar of eight, in place of it.
    """

    id: str
    name: str
    length: Fraction
    swing: bool
    tempo: tuple[int, int]
    bass: tuple[Place, ...]
    walks: bool
    comping: tuple[tuple[tuple[Place, Fraction], ...], ...]
    drums: tuple[Stroke, ...]
    fill: tuple[Stroke, ...]


# General MIDI percussion keys of the strokes (General MIDI level 1).
DRUMS = {"kick": 36, "stick": 37, "snare": 38, "brush": 40, "hat": 42, "foot": 44, "crash": 49, "ride": 51}


def _places(text: str) -> tuple[Place, ...]:
    return tuple(Fraction(part) for part in text.split())


def _rhythms(*texts: str) -> tuple[tuple[tuple[Place, Fraction], ...], ...]:
    """ "0:3/2 3/2:1/2" → places with lengths."""
    return tuple(
        tuple((Fraction(place), Fraction(length)) for place, length in (part.split(":") for part in text.split()))
        for text in texts
    )


def _strokes(**parts: str) -> tuple[Stroke, ...]:
    """ride="0 1 3/2.6" → strokes; what stands behind a point is the level in tenths, 7 without."""
    found = []
    for what, text in parts.items():
        for part in text.split():
            place, _, level = part.partition(".")
            found.append(Stroke(Fraction(place), what, int(level or 7) / 10))
    return tuple(sorted(found, key=lambda stroke: (stroke.at, stroke.what)))


_RIDE = {"ride": "0 1 3/2.5 2 3 7/2.5", "foot": "1.6 3.6"}
_SWING_FILL = _strokes(ride="0 1", snare="3/2.5 2.7 5/2.5 3.8 7/2.6", kick="3.6", foot="1.6 3.6")
_SWING_COMPING = _rhythms(
    "0:3/2 3/2:1/2", "3/2:1/2 7/2:1/2", "0:1/2 5/2:1/2", "1:1 7/2:1/2", "3/2:3/2", "0:3/2 5/2:1", "1/2:1 3:1/2", "0:1 3/2:1/2 7/2:1/2",
)  # fmt: skip

STYLES: dict[str, Style] = {
    style.id: style
    for style in (
        Style("two", "Two-feel", Fraction(4), True, (90, 200), _places("0 2"), False,
              _rhythms("0:2", "0:3/2 5/2:1", "3/2:2", "0:1 7/2:1/2"),
              _strokes(kick="0.3", **_RIDE), _SWING_FILL),
        Style("four", "Walking four", Fraction(4), True, (90, 300), _places("0 1 2 3"), True, _SWING_COMPING,
              _strokes(kick="0.2 1.2 2.2 3.2", **_RIDE), _SWING_FILL),
        Style("ballad", "Ballad", Fraction(4), True, (50, 80), _places("0 2"), False, _rhythms("0:4", "0:2 2:2", "0:3 3:1"),
              _strokes(brush="0.4 1.6 2.4 3.6", foot="1.4 3.4"), _strokes(brush="0.4 1.6 2.4 3.6 7/2.4", foot="1.4 3.4")),
        Style("bossa", "Bossa", Fraction(4), False, (100, 160), _places("0 3/2 2 7/2"), False,
              _rhythms("0:3/2 3/2:3/2 3:1", "0:1/2 3/2:1 3:1", "1/2:1 2:1 7/2:1/2"),
              _strokes(hat="0.5 1/2.3 1.5 3/2.3 2.5 5/2.3 3.5 7/2.3", stick="0.6 3/2.6 3.6", kick="0.6 3/2.4 2.6 7/2.4"),
              _strokes(hat="0.5 1/2.3 1.5 3/2.3 2.5 5/2.3 3.5 7/2.3", stick="0.6 1.6 2.6 5/2.6 3.7 7/2.6", kick="0.6 2.6")),
        Style("waltz", "Waltz", Fraction(3), True, (90, 220), _places("0 1 2"), True,
              _rhythms("1:1 2:1/2", "3/2:3/2", "0:3/2 3/2:1", "1:1", "0:1 5/2:1/2"),
              _strokes(ride="0 1 3/2.5 2 5/2.5", foot="1.6", kick="0.4"), _strokes(ride="0", snare="1.6 3/2.5 2.8", foot="1.6", kick="0.4")),
        Style("even", "Even eighths", Fraction(4), False, (90, 220), _places("0 3/2 5/2"), False,
              _rhythms("0:3/2 3/2:2", "1/2:1 5/2:1", "0:1 3/2:1/2 3:1"),
              _strokes(ride="0 1/2.4 1.6 3/2.5 2 5/2.4 3.6 7/2.5", stick="1.5 7/2.4", kick="0.5 5/2.4", foot="1.5 3.5"),
              _strokes(ride="0 1/2.4 1.6", snare="3/2.5 2.7 5/2.6 3.7 7/2.7", kick="0.5", foot="1.5 3.5")),
        Style("five", "Five four", Fraction(5), True, (90, 200), _places("0 3/2 3 4"), False,
              _rhythms("0:3/2 3:1", "0:3/2 3/2:3/2 3:1 4:1", "3/2:1 4:1"),
              _strokes(ride="0 1 3/2.5 2 3 4 9/2.5", foot="1.5 4.5", kick="0.5 3.4"),
              _strokes(ride="0 1 2", snare="3.7 7/2.6 4.8 9/2.6", foot="1.5 4.5", kick="0.5")),
        Style("seven", "Seven four", Fraction(7), True, (100, 220), _places("0 3/2 2 4 5 6"), False,
              _rhythms("0:3/2 4:1", "0:2 2:2 4:3", "3/2:1 6:1"),
              _strokes(ride="0 1 3/2.5 2 3 4 5 6 13/2.5", foot="1.5 3.5 5.5", kick="0.5 4.4"),
              _strokes(ride="0 1 2 3", snare="4.6 5.7 11/2.5 6.8", foot="1.5 3.5", kick="0.5")),
    )
}  # fmt: skip


def style_for(length: Fraction, style: str = "") -> Style:
    """The style by id; without one, or with one made for another bar, the first that fits the length of the bar.

    >>> style_for(Fraction(3)).id, style_for(Fraction(4), "bossa").id, style_for(Fraction(4), "waltz").id, style_for(Fraction(2)).id
    ('waltz', 'bossa', 'four', 'four')
    """
    asked = STYLES.get(style)
    if asked is not None and asked.length == length:
        return asked
    usual = ("four", "waltz", "five", "seven")
    return next((STYLES[name] for name in usual if STYLES[name].length == length), STYLES["four"])
