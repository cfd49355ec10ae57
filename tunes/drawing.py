"""A study chart laid out for a page: sections → bars → slots, with the lanes that the analysis fills.

Where a bar stands in its system (four bars on a desk, two on a phone) is worked out in `tunes.drawing_systems`;
nothing here knows about systems: every bar is drawn on its own and the stylesheet places it. A bar is `UNIT` wide in drawing
units and divided into `COLUMNS` columns for its chords. Lines that cross bars (arrows, brackets) are drawn
through the windows of all bars that they touch (`tunes.drawing_lanes`).

`extras` carries anything another app wants to show at an event (a quiz field, a mark, a drill's notes): it
arrives in the template as `slot.extra`, drawn by the template that the caller names as `slot_template`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from tunes.drawing_lanes import UNIT, Place, make_lanes
from tunes.drawing_systems import close_size, in_systems, under_endings
from tunes.drawing_views import (
    COLUMNS,
    TIMES,
    BandView,
    BarView,
    ChartView,
    SectionView,
    SlotView,
)
from tunes.harmony.analysis.pipeline import KeyArea, Reading
from tunes.harmony.charts import Bar, Chart, Event
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.problems import Problem
from tunes.study import StudyChart

__all__ = ["COLUMNS", "ChartView", "draw_chart", "draw_study"]


def draw_study(
    study: StudyChart,
    *,
    written_out: bool = False,
    analysed: bool = True,
    compact: bool = False,
    extras: Mapping[int, Any] | None = None,
) -> ChartView:
    """Lay out a study chart. `written_out` unfolds the repeats; `analysed` adds labels, lanes and bands; `compact`
    leaves the lanes out again."""
    return _Layout(study.chart, written_out, study if analysed else None, extras or {}, (), compact and analysed).view()


def draw_chart(
    chart: Chart,
    *,
    written_out: bool = False,
    problems: Sequence[Problem] = (),
    extras: Mapping[int, Any] | None = None,
) -> ChartView:
    """Lay out a chart without analysis, with the problems of its text at their bars."""
    return _Layout(chart, written_out, None, extras or {}, tuple(problems)).view()


@dataclass(frozen=True)
class _Drawn:
    """One bar to draw: index into `chart.bars` and the events of each time it is played."""

    written: int
    passes: tuple[tuple[Event, ...], ...]


class _Layout:
    """Works out one drawing. Holds what all steps need; `view` runs them."""

    def __init__(
        self,
        chart: Chart,
        written_out: bool,
        study: StudyChart | None,
        extras: Mapping[int, Any],
        problems: tuple[Problem, ...],
        compact: bool = False,
    ) -> None:
        self.chart, self.study, self.extras, self.problems = chart, study, extras, problems
        self.written_out, self.compact = written_out, compact
        self.events = tuple(chart.events())
        self.under_endings = under_endings(chart.bars)
        self.drawn = self._unfolded() if written_out else self._folded()
        self.places = self._places()
        self.count = bar_count(chart)
        self.besides = self._besides()
        self.lanes = make_lanes(study.analysis, self.events, self.places) if study and not compact else None

    def _by_chorus_bar(self) -> dict[int, tuple[Event, ...]]:
        found: dict[int, list[Event]] = {}
        for event in self.events:
            found.setdefault(event.chorus_bar, []).append(event)
        return {bar: tuple(events) for bar, events in found.items()}

    def _unfolded(self) -> tuple[_Drawn, ...]:
        played = self._by_chorus_bar()
        return tuple(_Drawn(bar.bar, (played.get(bar.index, ()),)) for bar in self.chart.unfold())

    def _folded(self) -> tuple[_Drawn, ...]:
        played = self._by_chorus_bar()
        passes: dict[int, list[tuple[Event, ...]]] = {}
        for bar in self.chart.unfold():
            passes.setdefault(bar.bar, []).append(played.get(bar.index, ()))
        return tuple(_Drawn(index, tuple(passes.get(index, ()))) for index in range(len(self.chart.bars)))

    def _places(self) -> dict[int, Place]:
        """Where each drawn event stands, in drawing units from the start of the chart."""
        places: dict[int, Place] = {}
        for index, drawn in enumerate(self.drawn):
            for event in drawn.passes[0] if drawn.passes else ():
                start, end = _fractions(event, self.chart.bars[drawn.written])
                places[event.index] = Place(index, (index + start) * UNIT, (index + end) * UNIT)
        return places

    def _number(self, index: int, drawn: _Drawn) -> int:
        return self.count.chorus[index] if self.written_out else self.count.first(drawn.written)

    def _besides(self) -> dict[int, str]:
        """Index in the drawing → what stands beside its number, at the head of a section and where the counts part."""
        told: dict[int, str] = {}
        mark: tuple[int, ...] | None = None
        for index, drawn in enumerate(self.drawn):
            bar = self.chart.bars[drawn.written]
            number = self._number(index, drawn)
            passes = (number,) if self.written_out else self.count.passes[drawn.written]
            now = (bar.section, len(passes), *(played - bar.number for played in passes))
            if now != mark and number:
                words = f"written {bar.number}" if bar.number != number else ""
                told[index] = words if self.written_out else self.count.besides(drawn.written)
            mark = now
        return {index: words for index, words in told.items() if words}

    def view(self) -> ChartView:
        bars = [self._bar(index, drawn) for index, drawn in enumerate(self.drawn)]
        rows = tuple(slot for bar in bars for slot in bar.slots)
        return ChartView(
            sections=self._sections(bars),
            compact=self.compact,
            close_size=close_size(bars),
            key=self.study.key if self.study else self.chart.key,
            metre=self.chart.metre.text,
            written_out=self.written_out,
            has_repeats=_has_repeats(self.chart),
            analysed=self.study is not None,
            profile=self.lanes.profile if self.lanes else None,
            rows=rows,
            problems=self.problems,
            extras=self.extras,
        )

    def _sections(self, bars: list[BarView]) -> tuple[SectionView, ...]:
        groups: list[tuple[tuple[int, int], list[BarView]]] = []
        passes = [bar.pass_no for bar in self.chart.unfold()] if self.written_out else []
        for bar in bars:
            mark = (bar.bar.section, passes[bar.index] if passes else 0)
            if not groups or groups[-1][0] != mark:
                groups.append((mark, []))
            groups[-1][1].append(bar)
        size = close_size(bars)
        return tuple(
            SectionView(self._label(mark[0]), in_systems(group, self.written_out, size), group[0].index)
            for mark, group in groups
        )

    def _label(self, section: int) -> str:
        return self.chart.sections[section].label if 0 <= section < len(self.chart.sections) else ""

    def _bar(self, index: int, drawn: _Drawn) -> BarView:
        bar = self.chart.bars[drawn.written]
        before = self.chart.bars[self.drawn[index - 1].written].metre if index else self.chart.metre
        events = drawn.passes[0] if drawn.passes else ()
        slots = tuple(self._slot(event, bar, drawn.passes) for event in events) or _unplayed(bar)
        return BarView(
            index=index,
            number=self._number(index, drawn),
            besides=self.besides.get(index, ""),
            passes=(self.count.chorus[index],) if self.written_out else self.count.passes[drawn.written],
            bar=bar,
            slots=slots,
            bands=self._bands(events, bar),
            lanes=self.lanes.window(index) if self.lanes else None,
            shows_metre=bar.metre != before,
            copied=bar.copied,
            in_ending=drawn.written in self.under_endings,
            problems=tuple(problem for problem in self.problems if problem.bar == bar.number),
        )

    def _slot(self, event: Event, bar: Bar, passes: tuple[tuple[Event, ...], ...]) -> SlotView:
        column, span = _columns(event, bar)
        view: dict[str, Any] = {"event": event.index, "symbol": event.symbol, "column": column, "span": span}
        view |= {"beat": _beat(event.onset), "extra": self.extras.get(event.index), "text": event.text}
        if self.study is None:
            return SlotView(**view)
        reading = self.study.analysis.readings[event.index]
        return SlotView(
            **view,
            reading=reading,
            overruled=self.study.overridden.get(event.index),
            landing=self.study.analysis.landing[event.index],
            goes_to=self._goes_to(reading),
            **self._second(event, passes, reading),
        )

    def _second(self, event: Event, passes: tuple[tuple[Event, ...], ...], first: Reading) -> dict[str, Any]:
        """How the same chord is read when the bar comes again, if differently, and which time that is."""
        if self.study is None or self.written_out:
            return {}
        for time, later in enumerate(passes[1:], 2):
            for twin in later:
                if twin.slot == event.slot:
                    reading = self.study.analysis.readings[twin.index]
                    if (reading.function.numeral, reading.key) != (first.function.numeral, first.key):
                        return {"second": reading, "second_time": TIMES.get(time, f"time {time}")}
        return {}

    def _goes_to(self, reading: Reading) -> str:
        target = self.study.analysis.heading(reading.event) if self.study else None
        if target is None or not 0 <= target < len(self.events):
            return ""
        event = self.events[target]
        name = event.symbol.display if event.symbol else "no chord"
        place = f"{name} in {self.count.name_at(target)}"
        return f"{place}, back at the top" if target <= reading.event else place

    def _bands(self, events: Sequence[Event], bar: Bar) -> tuple[BandView, ...]:
        if self.study is None or not events:
            return ()
        pieces: list[BandView] = []
        for event in events:
            number, area = self._area(event.index)
            if area is None:
                continue
            column, span = _columns(event, bar)
            last = pieces[-1] if pieces else None
            joined = last is not None and last.first_event == area.first
            held = any(a.first <= event.index <= a.last for a in self.study.overridden_areas)
            piece = BandView(
                key=area.key,
                column=last.column if joined and last else column,
                span=last.span + span if joined and last else span,
                starts=last.starts if joined and last else event.index == area.first,
                ends=event.index == area.last,
                tint=number % 2,
                first_event=area.first,
                overruled=held,
            )
            pieces = [*pieces[:-1], piece] if joined else [*pieces, piece]
        return tuple(pieces)

    def _area(self, event: int) -> tuple[int, KeyArea | None]:
        assert self.study is not None
        for number, area in enumerate(self.study.analysis.areas):
            if area.first <= event <= area.last:
                return number, area
        return 0, None


def _unplayed(bar: Bar) -> tuple[SlotView, ...]:
    """Chords of a bar that the chorus does not play (a coda kept for the last chorus): drawn, without an event."""
    return tuple(
        SlotView(None, slot.symbol, *_columns_of(slot.start, slot.end, bar), beat=_beat(slot.start), text=slot.text)
        for slot in bar.slots
    )


def _fractions(event: Event, bar: Bar) -> tuple[Fraction, Fraction]:
    """Start and end of an event as fractions of its bar (0 to 1)."""
    length = bar.beats or Fraction(1)
    return event.onset / length, min(Fraction(1), (event.onset + event.duration) / length)


def _columns(event: Event, bar: Bar) -> tuple[int, int]:
    return _columns_of(event.onset, event.onset + event.duration, bar)


def _columns_of(onset: Fraction, until: Fraction, bar: Bar) -> tuple[int, int]:
    length = bar.beats or Fraction(1)
    start, end = onset / length, min(Fraction(1), until / length)
    column = min(COLUMNS - 1, round(start * COLUMNS))
    return column + 1, max(1, round(end * COLUMNS) - column)


def _beat(onset: Fraction) -> str:
    """Beat as players count, from 1: "1", "3", "2½"; other places as a fraction."""
    whole, rest = divmod(onset, 1)
    halves = {Fraction(0): "", Fraction(1, 2): "½", Fraction(1, 3): "⅓", Fraction(2, 3): "⅔"}
    sign = halves.get(rest, f" {rest}")
    return f"{int(whole) + 1}{sign}"


def _has_repeats(chart: Chart) -> bool:
    return len(tuple(chart.unfold())) > len(chart.bars)
