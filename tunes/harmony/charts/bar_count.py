"""What a bar is called. The one door: every page, sheet, sentence, file and answer takes the number of a bar from here.

The rule (common practice, no source: the bridge of a 32-bar AABA is bar 17, however the chart is folded):

* A bar has the number under which it is **played**: one chorus is counted through, a repeated bar counts each time it
  sounds. A pickup is 0 and called so.
* Its **written** number, the place on a chart that draws a repeat once, comes second and only where it differs:
  "bar 17 (written 9)".
* A bar that is **drawn once and sounds more often** goes by its first number, the others behind it: "bar 3, and 11 the
  second time", "bar 3, then 11 and 19". Whatever speaks of one sounding (a chord, a question, a mark) says that one.
* A bar that one chorus does not reach (a coda kept for the last chorus) has only its written number: "written bar 33".

Written numbers and indices go on being what is stored, sent and compared; they are identities, not names.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from tunes.harmony.charts.model import Chart

PICKUP = "pickup"


def bar_name(played: int, written: int | None = None) -> str:
    """The name of one sounding of a bar.

    >>> bar_name(12), bar_name(17, 9), bar_name(0)
    ('bar 12', 'bar 17 (written 9)', 'pickup')
    """
    if not played:
        return PICKUP
    return f"bar {played}" if written in (None, played) else f"bar {played} (written {written})"


def bars_named(numbers: Iterable[int]) -> str:
    """Several bars by their numbers as played.

    >>> bars_named([4]), bars_named([12, 4, 4]), bars_named([0, 4, 12, 28])
    ('bar 4', 'bars 4 and 12', 'the pickup, bars 4, 12 and 28')
    """
    found = sorted(set(numbers))
    words = [f"the {PICKUP}"] if 0 in found else []
    named = [str(number) for number in found if number]
    if named:
        words.append(f"bar{'s' if len(named) > 1 else ''} {_listed(named)}")
    return ", ".join(words)


def stretch_name(first: int, last: int) -> str:
    """A run of bars by its ends as played.

    >>> stretch_name(4, 4), stretch_name(4, 9), stretch_name(0, 2), stretch_name(0, 0)
    ('bar 4', 'bars 4 to 9', 'pickup to bar 2', 'pickup')
    """
    if first == last or not first:
        return bar_name(first) + (f" to bar {last}" if first != last else "")
    return f"bars {first} to {last}"


def runs_named(numbers: Iterable[int]) -> str:
    """Many bars by their numbers as played, neighbours drawn together.

    >>> runs_named([9, 3, 7, 8, 8, 12])
    '3, 7 to 9, 12'
    """
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    said = (str(run[0]) if len(run) == 1 else f"{run[0]}{' to ' if len(run) > 2 else ', '}{run[-1]}" for run in runs)
    return ", ".join(said)


def _listed(words: Sequence[str]) -> str:
    return ", ".join(words[:-1]) + " and " + words[-1] if len(words) > 1 else words[0]


@dataclass(frozen=True)
class BarCount:
    """Both counts of one chart.

    chorus   the number as played of every bar of one chorus, in playing order; events: of every event of it.
    passes   index in `Chart.bars` → its numbers as played, empty for a bar that one chorus does not reach.
    written  index in `Chart.bars` → the printed number.
    """

    chorus: tuple[int, ...]
    events: tuple[int, ...]
    event_bars: tuple[int, ...]
    passes: tuple[tuple[int, ...], ...]
    written: tuple[int, ...]

    @property
    def folded(self) -> bool:
        """Whether the two counts differ anywhere."""
        return any(
            set(passes) != {written} for passes, written in zip(self.passes, self.written, strict=True) if passes
        )

    def first(self, index: int) -> int:
        """The number that a bar as drawn goes by: as played the first time; as written where no chorus reaches it."""
        return self.passes[index][0] if self.passes[index] else self.written[index]

    def besides(self, index: int) -> str:
        """What stands beside the first number of a bar as drawn: "written 9", "and 11 the second time", or ""."""
        passes, written = self.passes[index], self.written[index]
        if not passes:
            return "as written"
        words = [f"written {written}"] if passes[0] != written else []
        later = [str(number) for number in passes[1:] if number]
        if later:
            words.append(f"and {later[0]} the second time" if len(later) == 1 else f"then {_listed(later)}")
        return ", ".join(words)

    def drawn_name(self, index: int) -> str:
        """The name of a bar as drawn: "bar 3, and 11 the second time", "bar 17 (written 9)", "written bar 33"."""
        passes, written = self.passes[index], self.written[index]
        if not passes:
            return f"written bar {written}"
        named = bar_name(passes[0], written)
        later = [str(number) for number in passes[1:] if number]
        if not later:
            return named
        return named + (f", and {later[0]} the second time" if len(later) == 1 else f", then {_listed(later)}")

    def name_at(self, event: int) -> str:
        """The name of the bar in which an event sounds."""
        return bar_name(self.events[event], self.written[self.event_bars[event]])

    def names_at(self, events: Iterable[int]) -> str:
        """The bars in which these events sound."""
        return bars_named(self.events[event] for event in events)

    def stretch_at(self, first: int, last: int) -> str:
        """The bars from one event to another."""
        return stretch_name(self.events[first], self.events[last])

    def index_of(self, written: int) -> int | None:
        """The index of the bar that is printed under a number."""
        return self.written.index(written) if written in self.written else None

    def played_of(self, written: int) -> tuple[int, ...]:
        """The numbers as played of the bar printed under a number; that number alone where the chart has no such bar."""
        index = self.index_of(written)
        return (self.passes[index] or (written,)) if index is not None else (written,)

    def drawn_at(self, written: int) -> str:
        """The name of the bar printed under a number, as drawn."""
        index = self.index_of(written)
        return bar_name(written) if index is None else self.drawn_name(index)

    def written_stretch(self, first: int, last: int) -> str:
        """A run of printed bars by the numbers under which they first sound: "bars 17 to 20 (written 9 to 12)"."""
        played = sorted((self.sounding_of(first), self.sounding_of(last)))
        named = stretch_name(played[0], played[1])
        if played == [first, last]:
            return named
        return f"{named} (written {first if first == last else f'{first} to {last}'})"

    def sounding_of(self, written: int, times: int = 1) -> int:
        """The number as played of a printed bar, the first, second … time it comes."""
        found = self.played_of(written)
        return found[min(max(times, 1), len(found)) - 1]


@lru_cache(maxsize=512)
def bar_count(chart: Chart) -> BarCount:
    """Both counts of a chart."""
    chorus: list[int] = []
    passes: list[list[int]] = [[] for _ in chart.bars]
    for one in chart.unfold():
        number = 0 if chart.bars[one.bar].is_pickup else max(chorus, default=0) + 1
        chorus.append(number)
        passes[one.bar].append(number)
    events = chart.events()
    return BarCount(
        tuple(chorus),
        tuple(chorus[event.chorus_bar] for event in events),
        tuple(event.bar for event in events),
        tuple(tuple(found) for found in passes),
        tuple(bar.number for bar in chart.bars),
    )
