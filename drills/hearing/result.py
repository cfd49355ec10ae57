"""What the machine has to say about a take: plain data that is stored, with the number of its shape.

Units: seconds from the start of the sound file, cents of an equal semitone, MIDI numbers of the sounding pitch.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

VERSION = 1
"""Raised when the shape of what is stored changes; `Advice.of_json` reads every older one."""

AS_WRITTEN, ANOTHER, NOT_HEARD, EARLY, LATE = "as-written", "another", "not-heard", "early", "late"
FLAT, SHARP = "flat", "sharp"
ON_THE_TOP = 0.5
"""Beats within which the first note of a solo begins at the top of the form."""


@dataclass(frozen=True, slots=True)
class NoteAdvice:
    """One note of the line.

    index     its place in `Line.notes`, and the chorus it was played in, from 1.
    bar       index of its bar in the line.
    verdict   "as-written", "another" or "not-heard".
    heard     the note heard instead, spelled as printed on the player's page ("" unless another).
    midi      its sounding MIDI number, None unless another.
    timing    "early" or "late" against the take's own median, else "".
    off_ms    how far, in milliseconds; None when its beginning could not be heard (a slurred repeat).
    cents     off the take's own tuning in its stable middle; None for a note under 250 ms.
    second    where to hear it in the file.
    """

    index: int
    chorus: int
    bar: int
    verdict: str
    heard: str = ""
    midi: int | None = None
    timing: str = ""
    off_ms: int | None = None
    cents: int | None = None
    second: float = 0.0


@dataclass(frozen=True, slots=True)
class BarAdvice:
    """One bar: how many notes were written and heard as written; `ahead` in beats against the take's own pulse
    (negative: behind), None without a note to tell by; `drifted`, `lost`: worth a word."""

    bar: int
    chorus: int
    written: int
    right: int
    ahead: float | None
    drifted: bool = False
    lost: bool = False


@dataclass(frozen=True, slots=True)
class ChorusAdvice:
    """One chorus: its own tempo (crotchets a minute; None with too few notes) and the bars where the form was lost."""

    chorus: int
    written: int
    right: int
    tempo: float | None
    lost: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Advice:
    """state      "heard" or "declined"; `reason` says why, and what to do.
    latency    seconds by which the whole take lies after what was to be played.
    tempo      crotchets a minute, as played; `tuning` cents of the take against A 440; `swing` long to short quaver.
    shift      semitones by which everything sounds above what is written (an octave, another key), 0 as a rule.
    """

    state: str
    reason: str = ""
    latency: float = 0.0
    tempo: float = 0.0
    tuning: float = 0.0
    swing: float | None = None
    shift: int = 0
    leak_db: float | None = None
    notes: tuple[NoteAdvice, ...] = ()
    bars: tuple[BarAdvice, ...] = ()
    choruses: tuple[ChorusAdvice, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Plain data, with the number of the shape."""
        return {"version": VERSION, **asdict(self)}

    @classmethod
    def of_json(cls, data: Mapping[str, Any]) -> Advice:
        """What was stored. Raises ValueError for a shape that is newer than this program."""
        version = data.get("version")
        if not isinstance(version, int) or not 1 <= version <= VERSION:
            raise ValueError(f"advice of shape {version!r}; this program reads up to {VERSION}")
        choruses = tuple(
            ChorusAdvice(**{**_known(ChorusAdvice, row), "lost": tuple(row["lost"])}) for row in data["choruses"]
        )
        return cls(
            **{
                **_known(cls, data),
                "notes": tuple(NoteAdvice(**_known(NoteAdvice, row)) for row in data["notes"]),
                "bars": tuple(BarAdvice(**_known(BarAdvice, row)) for row in data["bars"]),
                "choruses": choruses,
            }
        )


def _known(kind: Any, row: Mapping[str, Any]) -> dict[str, Any]:
    return {field.name: row[field.name] for field in fields(kind) if field.name in row}
