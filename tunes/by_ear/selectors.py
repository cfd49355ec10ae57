"""What reads by-ear sheets."""

from __future__ import annotations

from collections import Counter
from typing import Any

from django.db.models import Count, Q, QuerySet

from tunes.by_ear.reading import BarReading, read_bar
from tunes.harmony.charts import Chart
from tunes.models import ByEarBar, ByEarSheet, ChartRevision, Recording, Tune
from tunes.recordings.form_map import FormMapProblem, bar_times
from tunes.recordings.selectors import moments_of


def sheets_of(user: Any, tune: Tune) -> QuerySet[ByEarSheet]:
    """A person's sheets of a tune with `filled_bars`, newest first. One query."""
    return (
        ByEarSheet.objects.filter(user=user, revision__version__tune=tune)
        .select_related("recording", "revision__version")
        .annotate(filled_bars=Count("bars", filter=~Q(bars__chords="") | ~Q(bars__bass="")))
    )


def readings(chart: Chart, rows: list[ByEarBar]) -> dict[int, BarReading]:
    """What every row says, by bar; rows beyond the chart are left out."""
    return {
        row.bar: read_bar(row.bass, row.chords, chart.bars[row.bar].metre)
        for row in rows
        if row.bar < len(chart.bars) and (row.bass.strip() or row.chords.strip())
    }


def heard_by_others(revision: ChartRevision) -> dict[int, list[tuple[str, int]]]:
    """Per bar, what shared sheets of this revision wrote and how many wrote it, most first. One query."""
    rows = ByEarBar.objects.filter(sheet__revision=revision, sheet__shared=True).exclude(chords="")
    counts: dict[int, Counter[str]] = {}
    for bar, chords in rows.values_list("bar", "chords"):
        counts.setdefault(bar, Counter())[" ".join(chords.split())] += 1
    return {bar: counter.most_common(5) for bar, counter in counts.items()}


def hearing_times(recording: Recording | None, chart: Chart) -> dict[int, list[float]]:
    """Per written bar (index), where it begins and ends in the recording in seconds, first time round.

    Empty without a form map. At most one query beside the recording's sound.
    """
    if recording is None:
        return {}
    order = [place.bar for place in chart.unfold() if not chart.bars[place.bar].is_pickup]
    sound = getattr(recording, "sound", None)
    duration = sound.duration if sound else None
    try:
        times = bar_times(moments_of(recording), len(order), duration)
    except FormMapProblem:
        return {}
    flat = [moment for chorus in times for moment in chorus]
    spans: dict[int, list[float]] = {}
    for place, index in enumerate(order[: len(flat)]):
        end = flat[place + 1] if place + 1 < len(flat) else flat[place] + 2
        spans.setdefault(index, [flat[place], end])
    return spans
