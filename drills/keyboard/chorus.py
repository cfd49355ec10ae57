"""A chorus to be played at the keyboard: its chords in concert pitch with what counts as right over each, and a whole answer judged."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from drills.chord_scales import scales_of
from drills.lines.build import Recipe, chosen
from drills.lines.line import LineChord
from drills.lines.passage import Passage
from drills.lines.scales import ScaleOf
from drills.sheets import Material
from tunes.harmony.pitch.spelling import Key
from tunes.respelling import readable_study
from tunes.study import StudyChart

from .judge import RIGHT_FROM, Heard, judge

LOWEST, HIGHEST, MOST_NOTES = 21, 108, 20  # the keys of a piano (A0 to C8), and more than two hands hold


class NotPlayable(ValueError):
    """What was sent is no chord of this chorus, or no keys; the message says what to do."""


@dataclass(frozen=True)
class Chorus:
    """The chart in a concert key, one chorus of it."""

    material: Material
    key: Key | None = None

    @cached_property
    def study(self) -> StudyChart:
        study = self.material.study
        return readable_study(study.transposed(self.key) if self.key else study)

    @cached_property
    def passage(self) -> Passage:
        """Raises `EmptyPassage` for a chart without chords."""
        return chosen(self.study, Recipe())

    @cached_property
    def chords(self) -> dict[int, LineChord]:
        """The chords that are asked, by event; a chord that is only written again is asked again."""
        return {chord.event: chord for chord in self.passage.chords if chord.symbol is not None}

    def judged(self, event: int, notes: Sequence[int]) -> Heard:
        chord = self.chords.get(event)
        if chord is None or chord.symbol is None:
            raise NotPlayable("There is no such chord in this chart any more. Load the page again.")
        reading = self.study.reading(event)
        return judge(chord.symbol, notes, self._scales(chord), reading.key, reading.function)

    @cached_property
    def _scales(self) -> ScaleOf:
        own = self.study.key == self.material.study.key
        return scales_of(self.study, self.material.melody if own else None)

    def as_data(self) -> list[dict[str, Any]]:
        """The chords for the page: event, bar as played, its name, start and length in crotchets."""
        return [
            {
                "event": event, "bar": self.passage.bar_number(chord.start), "text": chord.symbol.display,
                "spoken": chord.symbol.spoken, "start": float(chord.start), "length": float(chord.duration),
            }
            for event, chord in self.chords.items() if chord.symbol
        ]  # fmt: skip


@dataclass(frozen=True)
class Row:
    """One chord of a chorus that was played, with its verdict."""

    chord: LineChord
    bar: int
    heard: Heard

    @property
    def right(self) -> bool:
        return self.heard.credit >= RIGHT_FROM


def judged_chorus(chorus: Chorus, played: Mapping[int, Sequence[int]], *, in_time: bool) -> tuple[list[Row], float]:
    """Chords with their verdicts, and the whole, weighed by the length of the chords. In time with the band every chord of the
    chorus counts; played freely, those from the first that was played to the last."""
    for event in played:
        if event not in chorus.chords:
            raise NotPlayable("There is no such chord in this chart any more. Load the page again.")
    if not played:
        raise NotPlayable("Nothing was played yet. Play some chords first.")
    order = list(chorus.chords)
    places = sorted(order.index(event) for event in played)
    asked = order if in_time else order[places[0] : places[-1] + 1]
    rows = [
        Row(chord, chorus.passage.bar_number(chord.start), chorus.judged(event, played.get(event, ())))
        for event, chord in ((event, chorus.chords[event]) for event in asked)
    ]
    weight = sum(float(row.chord.duration) for row in rows)
    return rows, sum(row.heard.credit * float(row.chord.duration) for row in rows) / weight


def read_notes(text: str) -> list[int]:
    """MIDI numbers "48,52,58". Raises `NotPlayable`."""
    return _keys(part for part in text.split(",") if part.strip())


def read_played(text: str) -> dict[int, list[int]]:
    """[[event, [MIDI numbers]], …] as JSON. Raises `NotPlayable`."""
    try:
        rows = json.loads(text)
        pairs = [(int(event), list(notes)) for event, notes in rows]
    except (ValueError, TypeError, RecursionError, OverflowError) as error:
        raise NotPlayable("What was played could not be read. Play it again.") from error
    return {event: _keys(notes) for event, notes in pairs}


def _keys(values: Any) -> list[int]:
    try:
        notes = sorted({int(value) for value in values})
    except (ValueError, TypeError, OverflowError) as error:
        raise NotPlayable("These are no keys of a piano.") from error
    if len(notes) > MOST_NOTES or any(not LOWEST <= note <= HIGHEST for note in notes):
        raise NotPlayable("These are no keys of a piano.")
    return notes
