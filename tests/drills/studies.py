"""Charts for the tests of drills: our own progressions, and charts that hypothesis draws."""

from __future__ import annotations

from dataclasses import dataclass

from hypothesis import strategies as st

from tunes.harmony.analysis.pipeline import Analysis
from tunes.harmony.charts import Chart, parse_chart
from tunes.harmony.chords import ChordSymbol, parse_symbol
from tunes.harmony.pitch.spelling import Interval, Key, NoteName

KIND_TEXTS = (
    "maj7", "m7", "7", "m7b5", "dim7", "6", "m6", "7sus4", "", "m", "m(maj7)", "7b9", "7alt", "9", "13", "maj9", "sus4", "aug", "5",
)  # fmt: skip
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
FORM = """key: Eb major
[A]
| Ebmaj7 | Cm7 | Fm7 | Bb7 |
| Gm7 C7 | Fm7 Bb7 | Ebmaj7 | Fm7 Bb7 |
[A]
| Ebmaj7 | Cm7 | Fm7 | Bb7 |
| Gm7 C7 | Fm7 Bb7 | Eb6 | Bbm7 Eb7 |
[B]
| Abmaj7 | % | Am7b5 | D7b9 |
| Gm7 | C7b9 | Fm7 | Bb7sus4 Bb7 |
[A]
| Ebmaj7 | Cm7 | Fm7 | Bb7 |
| Gm7 C7 | Fm7 Bb7 | Eb6 | N.C. |
"""


@dataclass(frozen=True)
class FakeStudy:
    """What drills read of a study chart, without an analysis unless one is given."""

    chart: Chart
    key: Key
    analysis: Analysis | None = None


def symbol(text: str) -> ChordSymbol:
    read = parse_symbol(text).symbol
    assert read is not None, text
    return read


def chart(text: str) -> Chart:
    reading = parse_chart(text)
    assert not reading.problems, reading.problems
    assert reading.chart is not None
    return reading.chart


def study(text: str = FORM) -> FakeStudy:
    read = chart(text)
    return FakeStudy(read, read.key or Key(NoteName("C")))


def moved(texts: str, interval: Interval) -> list[ChordSymbol]:
    return [symbol(text).transposed(interval) for text in texts.split()]


symbols = st.builds(lambda root, kind: symbol(root + kind), st.sampled_from(ROOTS), st.sampled_from(KIND_TEXTS))
progressions = st.lists(symbols, min_size=1, max_size=12)
"""Chords in any order: as wild as a chart can be."""
