"""A melody to take down by ear, phrase by phrase: where each sounds, what stands in it, and what the player has of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from drills.selectors import melody_of
from tunes.harmony.charts import Chart
from tunes.harmony.pitch.spelling import NoteName
from tunes.interchange.melody import Melody
from tunes.models import Phrase, PhraseByEar, Recording, Tune
from tunes.recordings.charts import form_revision
from tunes.recordings.form_map import FormMapProblem, bar_times
from tunes.recordings.selectors import moments_of
from tunes.study import chart_of

from ..models import Recall

GROUP = 8  # bars that stand for a phrase where none are mapped


@dataclass(frozen=True)
class Line:
    """One phrase. `span` is where it sounds in the recording, in seconds; `notes` how many are kept; `row` what the player
    has of it; `hidden` says that it is asked from memory now."""

    first: int
    last: int
    label: str
    span: tuple[float, float] | None
    kept: tuple[NoteName, ...]
    row: PhraseByEar | None
    hidden: bool

    @property
    def notes(self) -> int:
        return len(self.kept)

    @property
    def name(self) -> str:
        return f"{self.first}-{self.last}"


@dataclass(frozen=True)
class MelodyPage:
    """The whole melody as the page shows it; the kept notes stay in here."""

    lines: tuple[Line, ...]
    recording: Recording | None
    recall: Recall | None
    from_memory: bool

    @property
    def sound(self) -> Any:
        return getattr(self.recording, "sound", None)

    @property
    def can_check(self) -> bool:
        return any(line.notes for line in self.lines)

    @property
    def taken(self) -> int:
        return sum(bool(line.row and line.row.taken) for line in self.lines)


def melody_page(player: Any, tune: Tune, now: datetime) -> MelodyPage:
    """Seven queries, however many phrases."""
    revision = form_revision(tune)
    recording = Recording.objects.filter(tune=tune, is_reference=True).select_related("sound").first()
    if revision is None:
        return MelodyPage((), recording, None, False)
    chart, melody = chart_of(revision.text), melody_of(revision) or Melody()
    order = [place.bar for place in chart.unfold() if not chart.bars[place.bar].is_pickup]
    times = _times(recording, len(order))
    rows = {(row.first, row.last): row for row in PhraseByEar.objects.filter(user=player, tune=tune)}
    recall = Recall.objects.filter(player=player, tune=tune, what=Recall.What.MELODY).first()
    due = bool(recall and recall.due <= now)
    lines = []
    for first, last, label in _phrases(tune, len(order)):
        row = rows.get((first, last))
        notes = _notes(melody, chart, order, first, last)
        lines.append(Line(first, last, label, _span(times, first, last), notes, row, due and bool(row and row.taken)))
    return MelodyPage(tuple(lines), recording, recall, due)


def _phrases(tune: Tune, bars: int) -> list[tuple[int, int, str]]:
    """The mapped phrases, or groups of eight bars where none are; what lies beyond the form is cut."""
    mapped = [(p.first, min(p.last, bars), p.label) for p in Phrase.objects.filter(tune=tune) if p.first <= bars]
    return mapped or [(first, min(first + GROUP - 1, bars), "") for first in range(1, bars + 1, GROUP)]


def _times(recording: Recording | None, bars: int) -> list[float]:
    """Where the bars of the first chorus begin, and where it ends; empty without a map."""
    if recording is None:
        return []
    sound = getattr(recording, "sound", None)
    try:
        choruses = bar_times(moments_of(recording), bars, sound.duration if sound else None)
    except FormMapProblem:
        return []
    if not choruses:
        return []
    flat = [moment for chorus in choruses[:2] for moment in chorus]
    return flat[: bars + 1] if len(flat) > bars else [*flat, 2 * flat[-1] - flat[-2]] if len(flat) > 1 else flat


def _span(times: Sequence[float], first: int, last: int) -> tuple[float, float] | None:
    return (times[first - 1], times[last]) if last < len(times) else None


def _notes(melody: Melody, chart: Chart, order: Sequence[int], first: int, last: int) -> tuple[NoteName, ...]:
    """The notes that begin in the phrase, concert pitch, ties not begun again; a pickup belongs to the phrase of bar 1."""
    bars = [order[bar - 1] for bar in range(first, last + 1)]
    if first == 1:
        bars = [index for index, bar in enumerate(chart.bars[: order[0]]) if bar.is_pickup] + bars
    return tuple(note.pitch.name for bar in bars for note in melody.notes if note.bar == bar and not note.tied)
