"""What reads melodies."""

from __future__ import annotations

from tunes.harmony.charts import Event
from tunes.harmony.pitch.spelling import Pitch
from tunes.interchange import Melody as NotedMelody
from tunes.models import ChartRevision, Melody
from tunes.study import chart_of


def melody_of(revision: ChartRevision) -> NotedMelody | None:
    """The melody kept for a revision's version, in concert pitch. One query."""
    row = Melody.objects.filter(version=revision.version_id).first()
    if row is None:
        return None
    bars = len(chart_of(revision.text).bars)
    melody = NotedMelody.from_json(row.notes)
    return NotedMelody(tuple(note for note in melody.notes if note.bar < bars))


def melody_by_event(revision: ChartRevision) -> dict[int, tuple[Pitch, ...]]:
    """Event index → the melody's concert pitches while that chord sounds: what overrides a scale. One query."""
    melody = melody_of(revision)
    if melody is None:
        return {}
    found: dict[int, tuple[Pitch, ...]] = {}
    for event in chart_of(revision.text).events():
        pitches = _during(melody, event)
        if pitches:
            found[event.index] = pitches
    return found


def _during(melody: NotedMelody, event: Event) -> tuple[Pitch, ...]:
    return tuple(note.pitch for note in melody.during(event.bar, event.onset, event.duration))
