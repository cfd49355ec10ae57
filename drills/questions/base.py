"""What a question is: the shape that every kind shares.

A question is built once, from one study chart and a seed, and its key is stored with it as plain JSON:
marking and feedback read nothing else, so a later edit of the chart regrades nobody.

Units: bars are the printed numbers of the chart (the pickup is bar 0), beats count from 1 and are text
("1", "3", "5/2"), keys are text in concert pitch ("Eb major").
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from drills.comparers.types import Context
from drills.comparers.wording import chord_text, degree_name, note_text, reading_interval

KeyJson = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Question:
    """One question of a quiz.

    ``id`` is stable for one chart revision and kind ("function:12").  ``event`` is the index of the chord in
    ``chart.events()`` under which the field stands (None: the question stands in a list), ``bar`` its printed bar number, ``also`` the events of the
    repeated sections that this answer stands for.  ``context`` is what may be shown to the player
    before the answer (never the solution); ``key`` is the stored answer key and must not be shown until
    the answers are released.  ``answer_form`` tells the page how to ask: "text", "notes", "lines".
    """

    id: str
    kind: str
    prompt: str
    event: int | None
    bar: int | None
    key: KeyJson
    context: Mapping[str, Any] = field(default_factory=dict)
    also: tuple[int, ...] = ()
    answer_form: str = "text"

    def prompt_in(self, written: str = "P1") -> str:
        """The prompt with its chords and notes in the pitch the player reads (see `prompt_for`)."""
        return prompt_for(self.to_json(), written)

    def to_json(self) -> dict[str, Any]:
        """A plain dictionary, fit for a JSON column."""
        data = asdict(self)
        data["also"] = list(self.also)
        data["context"] = dict(self.context)
        return data

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Question:
        """The question that ``to_json`` wrote."""
        return cls(
            id=str(data["id"]),
            kind=str(data["kind"]),
            prompt=str(data["prompt"]),
            event=data.get("event"),
            bar=data.get("bar"),
            key=dict(data["key"]),
            context=dict(data.get("context") or {}),
            also=tuple(data.get("also") or ()),
            answer_form=str(data.get("answer_form", "text")),
        )


@dataclass(frozen=True, slots=True)
class Options:
    """What the instructor may choose when a quiz is built.

    ``every_section``: ask repeated sections again.  ``written``: name of the interval from concert to the
    player's written pitch ("M6"), used by the kinds that are answered with note names.  ``count``: at
    most so many questions (0: all of them), drawn with the seed.  ``bars``: printed bars to keep (empty: all).
    ``part``: for kinds that can ask for a part ("bass" for the bass note of changes by ear, "numbers" by heart).
    ``section``: the letter of the section that is asked (empty: the whole form), for changes by heart.
    ``notes``: the notes of a passage, for the kind that asks what they are (``solo_notes.NoteFacts`` as plain data).
    """

    every_section: bool = False
    written: str = "P1"
    count: int = 0
    bars: tuple[int, ...] = ()
    part: str = ""
    section: str = ""
    notes: tuple[Mapping[str, Any], ...] = ()

    @classmethod
    def from_json(cls, data: Mapping[str, Any] | None) -> Options:
        """Options from a JSON column; unknown names are ignored, missing ones take the default."""
        data = data or {}
        return cls(
            every_section=bool(data.get("every_section", False)),
            written=str(data.get("written") or "P1"),
            count=int(data.get("count") or 0),
            bars=tuple(int(bar) for bar in data.get("bars") or ()),
            part=str(data.get("part") or ""),
            section=str(data.get("section") or ""),
            notes=tuple(data.get("notes") or ()),
        )


def prompt_for(question: Mapping[str, Any], written: str = "P1") -> str:
    """The prompt of a stored question, its chords and notes written in the pitch the player reads.

    ``written`` is the name of the interval from concert to written pitch.  Prompts hold chords and notes as
    ``{chord}``, ``{chords}``, ``{next}`` and ``{from}``, whose concert values stand in the context.
    """
    context = question.get("context") or {}
    move = reading_interval({"home": context.get("home", "")}, Context(written=written))
    values = {
        "chord": chord_text(str(context.get("chord") or ""), move),
        "next": chord_text(str(context.get("next") or ""), move),
        "chords": " ".join(chord_text(chord, move) for chord in context.get("chords") or ()),
        "from": note_text(context["from"], move) if context.get("from") else "",
        "degree": degree_name(str(context.get("degree") or "")),
    }
    return _PLACE.sub(lambda match: values.get(match[1], match[0]), str(question.get("prompt") or ""))


_PLACE = re.compile(r"\{(chord|chords|next|from|degree)\}")
