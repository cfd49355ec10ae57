"""A study with a hand-made analysis, in any key: what the engine would say about a progression of our own.

Functions after the published tables of dominants (Pease, *Jazz Composition*, 2003, p. 53) and of interchange
(Mulholland & Hojnacki, *The Berklee Book of Jazz Harmony*, 2013, ch. 5).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from tests.drills.studies import chart
from tunes.harmony.analysis.pipeline import Alternative, Analysis, Function, KeyArea, Reading, analyse
from tunes.harmony.charts import Chart, transpose_chart
from tunes.harmony.pitch.spelling import Interval, Key
from tunes.harmony.readings.reason import Args, Reason
from tunes.harmony.readings.rule_ids import RuleId

C = Key.parse("C")
AB = Key.parse("Ab")


@dataclass(frozen=True)
class Study:
    """What questions read of a study chart."""

    chart: Chart
    analysis: Analysis
    overridden: Mapping[int, object] = field(default_factory=dict)

    @property
    def key(self) -> Key:
        return self.analysis.home


def studied(made: Chart) -> Study:
    """A chart with what the engine says of it."""
    return Study(made, analyse(made))


TEXT = """key: C major
[A]
| Cmaj7 A7 | Dm7 G7 | Em7 Eb7 | Dm7 Db7 |
| Gm7 C7 | Fmaj7 Bb7 | Cmaj7 C#dim7 | Dm7 G7 |
[A]
| Cmaj7 A7 | Dm7 G7 | Em7 Eb7 | Dm7 Db7 |
| Gm7 C7 | Fmaj7 Bb7 | Cmaj7 | Bbm7 Eb7 |
[B]
| Abmaj7 | Dbmaj7 | Bbm7 | Eb7 |
| Abmaj7 | D7 | Dm7 | G7 |
[A]
| Cmaj7 A7 | Dm7 G7 | Em7 Eb7 | Dm7 Db7 |
| Gm7 C7 | Fmaj7 Bb7 | Cmaj7 C#dim7 | N.C. |
"""

# name -> function, event of the goal counted from the chord itself (None: no resolution)
PARTS: dict[str, tuple[Function, int | None]] = {
    "I": (Function("1", "maj7", "tonic", "diatonic"), None),
    "V/ii": (Function("6", "7", "dominant", "applied", "2", True, "5"), 1),
    "ii": (Function("2", "m7", "predominant", "diatonic"), 1),
    "V": (Function("5", "7", "dominant", "diatonic", "1", False, "5"), 1),
    "iii": (Function("3", "m7", "tonic", "diatonic"), None),
    "subV/ii": (Function("b3", "7", "dominant", "tritone-substitute", "2", True, "sub5"), 1),
    "subV": (Function("b2", "7", "dominant", "tritone-substitute", "1", False, "sub5"), 1),
    "ii/IV": (Function("5", "m7", "predominant", "related-ii", "4", False, "2"), 1),
    "V/IV": (Function("1", "7", "dominant", "applied", "4", False, "5"), 1),
    "IV": (Function("4", "maj7", "predominant", "diatonic"), None),
    "bVII7": (Function("b7", "7", "dominant", "backdoor", "1", False, "b7"), 1),
    "#i°": (Function("#1", "dim7", "passing", "passing-diminished", "2", True), 1),
    "V/V": (Function("2", "7", "dominant", "applied", "5", False, "5"), 2),
    "N.C.": (Function("1", "", "none", "no-chord"), None),
}
_A_HEAD = "I V/ii ii V iii subV/ii ii subV ii/IV V/IV IV bVII7 I "
NAMES = (_A_HEAD + "#i° ii V " + _A_HEAD + "ii V " + "I IV ii V I V/V ii V " + _A_HEAD + "#i° N.C.").split()
KEYS = [C] * 29 + [AB] * 7 + [C] * 18
HOME_CHANGES = {29: AB, 36: C}
"""Events where a key area begins: the second ending turns to A flat, the bridge leads back."""


SAID = Reason(rule=RuleId.BY_HAND, args=Args(by="A teacher", words="the chord after it is where it leads"))


def study(to: Key = C) -> Study:
    """The progression in a key, every reading in its place."""
    plain = chart(TEXT)
    move = C.tonic.interval_to(to.tonic)
    moved = transpose_chart(plain, move) if move != Interval(0, 0) else plain
    readings = tuple(_reading(index, name, KEYS[index], move) for index, name in enumerate(NAMES))
    areas = tuple(
        KeyArea(key=key.transposed(move), first=first, last=last, reason=SAID)
        for key, first, last in ((C, 0, 28), (AB, 29, 35), (C, 36, 53))
    )
    return Study(moved, Analysis(home=to, areas=areas, readings=readings, landing=(0,) * len(NAMES), engine="by hand"))


def _reading(index: int, name: str, key: Key, move: Interval) -> Reading:
    function, goal = PARTS[name]
    others = ()
    if name == "iii":
        other = Function("3", "m7", "predominant", "related-ii", "2", True, "2")
        others = (Alternative(key=key.transposed(move), function=other, margin=1.5, reason=SAID),)
    here = key.transposed(move)
    return Reading(
        event=index, key=here, function=function, resolves_to=None if goal is None else index + goal,
        resolution="none" if goal is None else "direct", reason=SAID, local_key=here, alternatives=others,
    )  # fmt: skip
