"""A chart ready to be studied: the bars, the analysis with the instructor's overrules applied, and its key.

`StudyChart` is the one object that drawings, quiz keys and drills are made from. It is pure: `study_chart`
reads a revision (and its standing overrules) once, everything else is computed from what it holds.
Event indices count `chart.events()`; pitches are concert unless the chart was made `for_instrument`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

from tunes.by_hand import read_by_hand
from tunes.engine import analyse, landing, version
from tunes.harmony.analysis.pipeline import Analysis, Function, KeyArea, Reading
from tunes.harmony.charts import Chart, Event, parse_chart, transpose_chart
from tunes.harmony.pitch.spelling import UNISON, Interval, Key, sensible, transposition
from tunes.harmony.readings.reason import Args, Named, Reason
from tunes.harmony.readings.rule_ids import RuleId
from tunes.moving import moved_analysis, moved_reading

if TYPE_CHECKING:
    from studio.instruments import Instrument
    from tunes.models import AreaOverride, ChartRevision, LabelOverride


class ChartUnreadable(ValueError):
    """The stored text cannot be read as a chart; the message names the first problem."""


@dataclass(frozen=True)
class Overruled:
    """One standing overrule of a label: what a person hears, who says so and why, and what was computed."""

    id: int
    event: int
    key: Key
    function: Function
    why: str
    by: str
    when: datetime | None
    computed: Reading
    together: str = ""  # shared by the events that were overruled in one go


@dataclass(frozen=True)
class OverruledArea:
    """One standing overrule of a key area: events `first` to `last`, both included."""

    id: int
    first: int
    last: int
    key: Key
    why: str
    by: str
    when: datetime | None


@dataclass(frozen=True)
class StudyChart:
    """Chart, computed analysis, and the analysis that counts (`analysis`: overrules applied).

    `interval` says how far this copy lies from the concert chart as it was typed; `written_for` is the key
    of `studio.instruments.INSTRUMENTS` when it is written pitch, "" for concert pitch.
    """

    chart: Chart
    computed: Analysis
    analysis: Analysis
    overridden: Mapping[int, Overruled] = field(default_factory=dict)
    overridden_areas: tuple[OverruledArea, ...] = ()
    interval: Interval = UNISON
    written_for: str = ""

    @property
    def key(self) -> Key:
        """The key of the chart: as typed, else as computed."""
        return self.chart.key or self.analysis.home

    @property
    def typed_otherwise(self) -> Key | None:
        """The key that is typed, where the chords speak for another home and nobody has settled it."""
        if self.overridden_areas or not self.computed.areas:
            return None
        clauses = self.computed.areas[0].reason.more
        return next((clause.args.key for clause in clauses if clause.rule == RuleId.TYPED_OTHERWISE), None)

    @cached_property
    def events(self) -> tuple[Event, ...]:
        return tuple(self.chart.events())

    @property
    def last_event(self) -> int:
        return len(self.events) - 1

    def reading(self, event: int) -> Reading:
        """The reading that counts for one event. Raises IndexError for an event that does not exist."""
        if not 0 <= event < len(self.analysis.readings):
            raise IndexError(event)
        return self.analysis.readings[event]

    def area_of(self, event: int) -> KeyArea | None:
        return next((area for area in self.analysis.areas if area.first <= event <= area.last), None)

    def transposed(self, to: Key) -> StudyChart:
        """The same study in another key; the mode stays the chart's own."""
        return self._moved(transposition(self.key, replace(self.key, tonic=to.tonic)))

    def for_instrument(self, instrument: Instrument) -> StudyChart:
        """Written pitch for an instrument, in a key that a player would be given (no E sharp major)."""
        written = sensible(self.key.transposed(instrument.interval.simple))
        return replace(self.transposed(written), written_for=instrument.key)

    def _moved(self, interval: Interval) -> StudyChart:
        if interval == UNISON:
            return self
        return replace(
            self,
            chart=transpose_chart(self.chart, interval),
            computed=moved_analysis(self.computed, interval),
            analysis=moved_analysis(self.analysis, interval),
            overridden={event: _move_label(label, interval) for event, label in self.overridden.items()},
            overridden_areas=tuple(replace(area, key=area.key.transposed(interval)) for area in self.overridden_areas),
            interval=self.interval + interval,
        )


@lru_cache(maxsize=256)
def chart_of(text: str) -> Chart:
    """The chart that a text describes; raises `ChartUnreadable`. Cached: charts are immutable."""
    reading = parse_chart(text)
    if reading.chart is None:
        first = reading.problems[0].message if reading.problems else "it is empty"
        raise ChartUnreadable(f"This chart cannot be read: {first}")
    return reading.chart


@lru_cache(maxsize=512)
def _analysed(chart: Chart) -> Analysis:
    return analyse(chart)


def analysis_of(revision: ChartRevision) -> Analysis:
    """The stored analysis of a revision; computed anew when another engine has made it, or it does not fit the text.

    So overrules always stand beside one engine's reading, never beside half of an old one (`tunes.services.reanalysis`
    writes the new reading down).
    """
    chart = chart_of(revision.text)
    count = len(tuple(chart.events()))
    if revision.engine == version() and len(revision.analysis.get("readings", ())) == count:
        return Analysis.from_json(revision.analysis)
    return _analysed(chart)


def study_chart(revision: ChartRevision) -> StudyChart:
    """The study of one revision: two queries for its standing overrules, none if they are prefetched."""
    labels = [row for row in revision.label_overrides.all() if row.withdrawn is None]
    areas = [row for row in revision.area_overrides.all() if row.withdrawn is None]
    return study_of_text(revision.text, analysis_of(revision), labels, areas)


def study_of_text(
    text: str,
    computed: Analysis | None = None,
    labels: Iterable[LabelOverride] = (),
    areas: Iterable[AreaOverride] = (),
) -> StudyChart:
    """A study of a text that may not be saved anywhere (a preview); raises `ChartUnreadable`."""
    chart = chart_of(text)
    computed = computed or _analysed(chart)
    events = range(len(computed.readings))
    read_areas = tuple(
        OverruledArea(row.pk, row.first, row.last, Key.parse(row.key), row.why, _name(row), row.created)
        for row in areas
        if row.last in events
    )
    read_labels = {
        row.event: Overruled(
            row.pk,
            row.event,
            Key.parse(row.key),
            Function.from_json(row.function),
            row.why,
            _name(row),
            row.created,
            computed.readings[row.event],
            str(row.together or ""),
        )
        for row in labels
        if row.event in events
    }
    return StudyChart(
        chart=chart,
        computed=computed,
        analysis=apply_overrules(chart, computed, read_labels, read_areas),
        overridden=read_labels,
        overridden_areas=read_areas,
    )


def _name(row: LabelOverride | AreaOverride) -> str:
    return row.by.name if row.by else "somebody who has left"


def apply_overrules(
    chart: Chart, computed: Analysis, labels: Mapping[int, Overruled], areas: Iterable[OverruledArea]
) -> Analysis:
    """The analysis that counts: computed readings, then overruled areas, then overruled labels.

    A later area wins over an earlier one where they overlap. Inside an overruled area a chord takes the
    function that the engine gives it when told to hear that key; where overruled chords go, landing and areas are
    derived again.
    """
    held = {event: area.key for area in areas for event in range(area.first, area.last + 1)}
    held |= {event: label.key for event, label in labels.items()}
    if not held:
        return computed
    heard = analyse(chart, held=held)
    events = tuple(chart.events())
    readings = []
    for reading in computed.readings:
        label = labels.get(reading.event)
        if label is not None:
            base = heard.readings[reading.event]
            readings.append(read_by_hand(base, label.key, label.function, _said(label), events))
        elif reading.event in held:
            readings.append(heard.readings[reading.event])
        else:
            readings.append(_beside(reading, computed, labels))
    return replace(
        computed,
        readings=tuple(readings),
        areas=_areas(readings, computed.areas),
        landing=landing(readings),
    )


def _beside(reading: Reading, computed: Analysis, labels: Mapping[int, Overruled]) -> Reading:
    """A reading whose sentence names a chord that somebody hears otherwise says what that one is heard as."""
    args = reading.reason.args
    named = [one for one in (args.target, args.itself, args.following_as) if one is not None]
    for event in (reading.resolves_to, reading.event + 1):
        label = labels.get(event) if event is not None else None
        was = computed.readings[label.event].function if label is not None else None
        if (
            label is not None
            and was != label.function
            and any(one.function == was or _is_degree(one, was) for one in named)
        ):
            said = Args(key=reading.key, chord=reading.function, target=Named(function=label.function))
            return replace(reading, reason=Reason(rule=RuleId.TO_HEARD, args=said))
    return reading


def _is_degree(named: Named, function: Function | None) -> bool:
    return function is not None and named.function is None and named.degree == function.degree


def _said(label: Overruled) -> Reason:
    return Reason(rule=RuleId.BY_HAND, args=Args(by=label.by, words=label.why))


_AREA_BY_HAND = Reason(rule=RuleId.AREA_BY_HAND)


def _areas(readings: list[Reading], computed: tuple[KeyArea, ...]) -> tuple[KeyArea, ...]:
    """Runs of one key, with the engine's reason where a run is still exactly what the engine found."""
    known = {(area.key, area.first, area.last): area.reason for area in computed}
    runs: list[KeyArea] = []
    for reading in readings:
        if runs and runs[-1].key == reading.key:
            runs[-1] = replace(runs[-1], last=reading.event)
        else:
            runs.append(KeyArea(key=reading.key, first=reading.event, last=reading.event, reason=_AREA_BY_HAND))
    return tuple(replace(run, reason=known.get((run.key, run.first, run.last), _AREA_BY_HAND)) for run in runs)


def _move_label(label: Overruled, interval: Interval) -> Overruled:
    return replace(label, key=label.key.transposed(interval), computed=moved_reading(label.computed, interval))
