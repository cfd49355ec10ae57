"""Charts that another engine has read are read again, and what that changes is told.

What an analysis says is derived from the text, so writing it again breaks no promise of a revision. Overrules stay as they are:
they stand beside whatever is computed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.db.models import QuerySet

from tunes.engine import analyse, version
from tunes.harmony.analysis.pipeline import Analysis, Reading
from tunes.harmony.charts import Chart
from tunes.harmony.charts.bar_count import bar_count, runs_named
from tunes.models import ChartRevision
from tunes.study import ChartUnreadable, chart_of


@dataclass(frozen=True, kw_only=True)
class LabelChange:
    """One chord that is named otherwise; `before` is "" where the old reading cannot be read any more."""

    event: int
    bar: int
    before: str
    after: str


@dataclass(frozen=True, kw_only=True)
class RevisionChange:
    """What reading a revision again has changed. `problem` says why it could not be read."""

    revision: ChartRevision
    labels: tuple[LabelChange, ...] = ()
    problem: str = ""

    @property
    def bars(self) -> str:
        """The bars that changed, as played: "3, 7 to 9"."""
        return runs_named(change.bar for change in self.labels)


def stale_revisions() -> QuerySet[ChartRevision]:
    """Revisions that another engine has read."""
    return ChartRevision.objects.exclude(engine=version())


def read_again(revision: ChartRevision) -> RevisionChange:
    """Read one revision with this engine and keep the result; safe to repeat, and nothing else of the row is written."""
    try:
        chart = chart_of(revision.text)
    except ChartUnreadable as error:
        return RevisionChange(revision=revision, problem=str(error))
    now = analyse(chart)
    changed = tuple(_changes(chart, revision.analysis, now))
    ChartRevision.objects.filter(pk=revision.pk, engine=revision.engine).update(
        analysis=now.to_json(), engine=now.engine
    )
    return RevisionChange(revision=revision, labels=changed)


def _changes(chart: Chart, stored: dict[str, object], now: Analysis) -> Iterator[LabelChange]:
    try:
        before: list[str | None] = [_said(reading) for reading in Analysis.from_json(stored).readings]
    except (KeyError, ValueError, TypeError):  # written by an engine with other fields
        before = []
    events = chart.events()
    if len(before) != len(events):
        before = [None] * len(events)
    for event, old, reading in zip(events, before, now.readings, strict=True):
        if old != _said(reading):
            yield LabelChange(
                event=event.index, bar=bar_count(chart).events[event.index], before=old or "", after=_said(reading)
            )


def _said(reading: Reading) -> str:
    """A label as a report names it."""
    return f"{reading.function.numeral} in {reading.key.text}"
