"""What can be recorded: a drill, a line, the melody or a solo over a chart, each with the bars and notes that were asked.

The page that records and the server that keeps a take ask here, with the same query, so nothing of what was to be
played is taken from the browser.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from drills import kept_lines, sheets
from drills.lines.build import Recipe, chosen
from drills.lines.line import LineBar
from drills.lines.passage import EmptyPassage
from drills.models import KeptLine, Take
from drills.sheets import Material, in_sound
from drills.takes.melody import TITLE, semitones, sounding
from drills.wishes import Wish
from studio.instruments import CONCERT, INSTRUMENTS
from tunes.harmony.pitch.spelling import Key
from tunes.pitch import Sight
from tunes.solos.selectors import reader_of

VERSION = 1
LINE_TEMPO = 100


class NothingToRecord(ValueError):
    """There is nothing to play there any more; the message says what to choose instead."""


@dataclass(frozen=True)
class Plan:
    """One thing to play. `sound` is as `drills.sheets.in_sound` gives it, `query` makes the same plan again; `subject` is the
    revision or the line that it is made from; `material` and `wish`, `carried`: to engrave it."""

    kind: str
    title: str
    query: str
    instrument: str
    tempo: int
    sound: dict[str, Any]
    revision: int | None = None
    line: int | None = None
    heard_with: tuple[str, ...] = ("click", "nothing")
    band_key: str = ""
    extra: dict[str, Any] = field(default_factory=dict)

    @property
    def played(self) -> dict[str, Any]:
        """As `Take.played` keeps it."""
        return {"version": VERSION, "bars": self.sound["bars"], "notes": self.sound["notes"]}


def drill_plan(material: Material, wish: Wish, *, open_analysis: bool) -> Plan:
    """The drill in the key that the page shows. Raises `EmptyPassage`."""
    line, _ = sheets.line_shown(material.study, wish, open_analysis=open_analysis, melody=material.melody)
    return Plan(
        kind=Take.Kind.DRILL,
        title=f"{line.title}, {line.key.display}"[:200],
        query=wish.query(),
        instrument=wish.player.key,
        tempo=wish.recipe.tempo,
        sound=in_sound(line, wish.recipe.tempo),
        revision=material.revision.pk,
        heard_with=("changes", "click", "nothing"),
    )


def form_plan(material: Material, kind: str, sight: Sight, *, tempo: int) -> Plan:
    """A chorus over the whole form, in the key that the page shows: the melody, or a solo. Raises `EmptyPassage`."""
    study = material.study.transposed(sight.key) if sight.key else material.study
    bars = chosen(study, Recipe()).bars
    notes = _melody(material, sight.key) if kind == Take.Kind.MELODY else []
    if kind == Take.Kind.MELODY and not notes:
        raise NothingToRecord("No melody is kept for this chart. Record a solo, or hand in the recording as a file.")
    return Plan(
        kind=kind,
        title=TITLE if kind == Take.Kind.MELODY else "Solo",
        query=sight.query(),
        instrument=sight.instrument.key,
        tempo=tempo,
        sound={
            "tempo": tempo,
            "bars": [
                [number, float(bar.start), float(bar.length), bar.metre.beats, bar.metre.unit]
                for number, bar in zip(as_played(bars), bars, strict=True)
            ],
            "notes": notes,
            "chords": [],
        },
        revision=material.revision.pk,
        heard_with=("band", "click", "nothing"),
        band_key=sight.key.tonic.text if sight.key else "",
    )


def as_played(bars: Sequence[LineBar]) -> list[int]:
    """Numbers of the bars of a chorus as players count them: every bar that is played, a pickup 0."""
    numbers, count = [], 0
    for bar in bars:
        count += bool(bar.number)
        numbers.append(count if bar.number else 0)
    return numbers


def _melody(material: Material, key: Key | None) -> list[list[float]]:
    """The kept melody along one chorus: [start, duration, sounding MIDI number] in crotchets, tied notes joined."""
    if material.melody is None:
        return []
    move = semitones(material.study.key, key)
    return [
        [float(at), float(length), pitch.midi + move] for at, length, pitch in sounding(material.study, material.melody)
    ]


def line_plan(row: KeptLine, at: int, reader: Any) -> Plan:
    """A line of the class's vocabulary in one of the twelve keys."""
    keys = kept_lines.twelve(kept_lines.line_of(row), reader)
    key, found = keys[min(at, len(keys) - 1)]
    if found.line is None:
        raise NothingToRecord(f"The line does not fit in {key.display}: {found.why_not}. Choose another key.")
    return Plan(
        kind=Take.Kind.LINE,
        title=f"{row}, {key.display}"[:200],
        query=f"key={at}&for={reader.key}",
        instrument=reader.key,
        tempo=LINE_TEMPO,
        sound=in_sound(found.line, LINE_TEMPO),
        line=row.pk,
        heard_with=("changes", "click", "nothing"),
        extra={"music": found.line},
    )


def line_plan_of(user: Any, row: KeptLine, query: Mapping[str, str]) -> Plan:
    at = query.get("key", "0")
    return line_plan(row, int(at) if at.isdigit() and len(at) < 3 else 0, reader_of(user, query.get("for", "")))


def sight_of(query: Mapping[str, str], instrument: str) -> Sight:
    """The key and the instrument of a form's query."""
    try:
        key = Key.parse(query["key"]) if query.get("key") else None
    except ValueError:
        key = None
    return Sight(key=key, instrument=INSTRUMENTS.get(query.get("for", instrument), CONCERT), analysed=False)


__all__ = [
    "EmptyPassage",
    "NothingToRecord",
    "Plan",
    "drill_plan",
    "form_plan",
    "line_plan",
    "line_plan_of",
    "sight_of",
]
