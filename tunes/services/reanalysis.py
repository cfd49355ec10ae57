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
        """The bars that changed, as printed: "3, 7 to 9"."""
        return bars_in_words(change.bar for change in self.labels)


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
                event=event.index, bar=chart.bars[event.bar].number, before=old or "", after=_said(reading)
            )


def _said(reading: Reading) -> str:
    """A label as a report names it."""
    return f"{reading.function.numeral} in {reading.key.text}"


def bars_in_words(numbers: Iterator[int]) -> str:
    """
    >>> bars_in_words(iter([9, 3, 7, 8, 8, 12]))
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
