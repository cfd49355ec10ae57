"""One plain scale per chord, up, down, alternating, or running on through the changes inside the range.

Which scale belongs to a chord is decided by `tunes.harmony.scales.scales`; here it is only laid out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from tunes.harmony.pitch.spelling import NoteName, degree_between

from .carried import CarriedNotes, named
from .cells import Rung, fill, place_ladder, run_on, way
from .compass import Compass
from .line import LineChord, LineNote
from .passage import Passage


@dataclass(frozen=True, slots=True)
class ChordScale:
    """The scale of one chord: notes from its root, its name, why it is this one, whether a melody or bass said so, the 9th to colour with."""

    name: str
    notes: tuple[NoteName, ...]
    reason: str
    overridden: bool = False
    ninth: NoteName | None = None


def degree_in_scale(root: NoteName, name: NoteName) -> str:
    """The degree of a note; one written as the root with a sign less (G over G sharp) is the 7th that it sounds as."""
    degree = degree_between(root, name)
    return "7" if degree.endswith("1") and degree != "1" else degree


ScaleOf = Callable[[LineChord], ChordScale]


def scales(
    passage: Passage,
    compass: Compass,
    scale_of: ScaleOf,
    *,
    direction: str = "up",
    continuous: bool = False,
    value: Fraction,
    carried: CarriedNotes = MappingProxyType({}),
) -> list[LineNote]:
    """The notes of a scale drill; N.C. is left empty. `carried` notes are in their scales already, and are reached."""
    notes: list[LineNote] = []
    heading, turn = way(direction, 0), 0
    for chord in passage.chords:
        if chord.symbol is None:
            continue
        scale = scale_of(chord)
        must = {name.pc for _, name in named(chord, carried)}
        names = [(degree_in_scale(scale.notes[0], name), name) for name in scale.notes]
        if continuous:
            rungs = [Rung(pitch, degree) for degree, name in names for pitch in compass.all_of(name)]
            rungs.sort(key=lambda rung: rung.pitch.midi)
            last = notes[-1].pitch if notes else None
            more, heading = run_on(chord, rungs, value, last, heading, compass.middle, must)
        else:
            rungs_up = place_ladder([*names, names[0]], compass, compass.middle)
            more = fill(chord, rungs_up, value, way(direction, turn), must)
            turn += 1
        notes += more
    return notes
