"""What a template draws of a chart: sections, bars, slots and bands, all frozen. Made by `tunes.drawing`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from tunes.chord_width import bar_class
from tunes.drawing_lanes import Lanes, Profile
from tunes.harmony.analysis.pipeline import Reading
from tunes.harmony.charts import Bar
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.problems import Problem
from tunes.study import Overruled

COLUMNS = 24
DESK, PHONE = 4, 2  # bars in a system
LONG = 36  # bars
NARROW_PICKUP = 2.6  # ems
TIMES = {2: "second time", 3: "third time", 4: "fourth time"}


@dataclass(frozen=True)
class SlotView:
    """One chord where it stands. `column` counts from 1, `span` in columns; `beat` from 1 as players count."""

    event: int | None  # None in a bar that the chorus does not play
    symbol: ChordSymbol | None
    column: int
    span: int
    beat: str
    text: str = ""  # as typed: tells N.C., a blank, a held chord and unread text apart
    reading: Reading | None = None
    overruled: Overruled | None = None
    landing: int | None = None
    goes_to: str = ""  # "Gm7 in bar 5", "Gm7 in bar 17 (written 9)", "" when it goes nowhere
    second: Reading | None = None  # another reading when the bar is played again
    second_time: str = ""  # when that is: "second time"
    extra: Any = None


@dataclass(frozen=True)
class BandView:
    """A piece of a key area inside one bar. `starts`/`ends` say whether the area itself does so here."""

    key: Key
    column: int
    span: int
    starts: bool
    ends: bool
    tint: int  # 0 or 1, alternating: tells neighbours apart, means nothing
    first_event: int
    overruled: bool


@dataclass(frozen=True)
class Spot:
    """Where a bar stands in its system: column from 1 (0: in the margin), whether it opens the system, columns it takes."""

    column: int
    opens: bool
    span: int = 1


@dataclass(frozen=True)
class BarView:
    """One bar as drawn. `index` is its place in the drawing, `number` its number as played (the first time, where it is
    drawn once), `passes` all of them, `besides` the words about other numbers where the reader has to be told: at the head
    of a section and where the counts part (`tunes.harmony.charts.bar_count`)."""

    index: int
    number: int
    bar: Bar
    besides: str = field(default="", kw_only=True)
    passes: tuple[int, ...] = field(default=(), kw_only=True)
    slots: tuple[SlotView, ...]
    bands: tuple[BandView, ...] = ()
    lanes: Lanes | None = None
    desk: Spot = Spot(1, True)
    phone: Spot = Spot(1, True)
    close: Spot = Spot(1, True)  # on a phone, where the chart is drawn close
    ems: float = 0.0  # width of all its chords together
    shows_metre: bool = False
    copied: bool = False
    in_ending: bool = False
    problems: tuple[Problem, ...] = ()

    @property
    def opens_ending(self) -> bool:
        return bool(self.bar.endings)

    @property
    def fit(self) -> str:
        """The class that says how wide its chords are together."""
        return bar_class(self.ems)

    @property
    def crowded(self) -> bool:
        """More than two chords: set smaller."""
        return len(self.slots) > 2


@dataclass(frozen=True)
class SectionView:
    """One block of the form with the letter that stands in the margin ("" for none)."""

    label: str
    bars: tuple[BarView, ...]
    start_index: int


@dataclass(frozen=True)
class ChartView:
    """Everything that `tunes/_chart.html` draws."""

    sections: tuple[SectionView, ...]
    key: Key | None
    metre: str
    written_out: bool
    has_repeats: bool
    analysed: bool
    compact: bool = False  # functions and key names without the lines above and below
    close_size: int = 20  # px: of the chords, where a phone draws it close
    profile: Profile | None = None
    rows: tuple[SlotView, ...] = ()
    problems: tuple[Problem, ...] = ()
    extras: Mapping[int, Any] = field(default_factory=dict)

    @property
    def counts_differ(self) -> bool:
        """Whether a bar has more numbers than one."""
        return any(bar.besides for bar in self.bars)

    @property
    def pickup(self) -> str:
        """Room that a pickup needs in the margin: "" without one, "narrow" for one chord, "wide" for more."""
        most = max((bar.ems for bar in self.bars if bar.bar.is_pickup), default=0.0)
        return "" if not most else "narrow" if most <= NARROW_PICKUP else "wide"

    @property
    def is_long(self) -> bool:
        """More bars than one printed sheet holds at full size."""
        return sum(len(section.bars) for section in self.sections) > LONG

    @property
    def bars(self) -> tuple[BarView, ...]:
        return tuple(bar for section in self.sections for bar in section.bars)
