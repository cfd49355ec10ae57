"""Lines for tests: recipes over invented charts, for any instrument, with a plain scale where none is computed."""

from __future__ import annotations

from drills.lines.build import Recipe, build_line
from drills.lines.compass import compass_of
from drills.lines.line import Line, LineChord
from drills.lines.scales import ChordScale, ScaleOf
from studio.instruments import INSTRUMENTS
from tests.drills.studies import FORM, FakeStudy, study
from tunes.harmony.charts import transpose_chart
from tunes.harmony.pitch.spelling import Interval, sensible, transposition

_MAJOR = tuple(Interval(step, semitones) for step, semitones in enumerate((0, 2, 4, 5, 7, 9, 11)))
RECIPES = (
    Recipe(), Recipe(start="7", ornament="enclosure"), Recipe(start="3", ornament="below"), Recipe(voices=2),
    Recipe("arpeggios", "root"), Recipe("arpeggios", "root", direction="down", value="crotchets"),
    Recipe("arpeggios", "third", direction="alternating", ninth=True), Recipe("arpeggios", "nearest"),
    Recipe("scales", "root", direction="alternating"), Recipe("scales", "nearest"),
)  # fmt: skip


def plain_scales(_: object) -> ScaleOf:
    """The major scale of every root: enough to lay a scale out."""

    def scale_of(chord: LineChord) -> ChordScale:
        assert chord.symbol is not None
        return ChordScale("Ionian", tuple(chord.symbol.root + interval for interval in _MAJOR), "for a test")

    return scale_of


def line_for(instrument: str, recipe: Recipe, text: str = FORM) -> Line:
    """A drill in the written pitch of an instrument."""
    player = INSTRUMENTS[instrument]
    concert = study(text)
    written = sensible(concert.key.transposed(player.interval.simple))
    moved = transpose_chart(concert.chart, transposition(concert.key, written))
    return build_line(
        FakeStudy(moved, written), recipe, compass_of(player), scale_of=plain_scales, written_for=instrument
    )
