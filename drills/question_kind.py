"""What a kind of question is: everything the site has to know of it, in one record.

No field has a default where leaving it out would pass unseen: a kind that forgets one does not load.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum, StrEnum
from typing import TYPE_CHECKING

from drills.comparers.types import Context, Echo, Mark, StoredKey, Strictness

if TYPE_CHECKING:  # the doors of `drills.questions` ask the registry, and so this module
    from drills.questions.base import KeyJson, Question
    from tunes.harmony.charts.model import Chart

LONGEST_ID = 16  # letters; as the columns hold them


class Needs(Enum):
    """What questions are made from besides the chart."""

    NOTHING = "nothing"
    MELODY = "melody"  # `build` takes a fourth argument, which gives the notes of the melody against an event
    RECORDING = "recording"  # stands beside the questions while they are answered
    SOLO = "solo"  # its notes are among the options


class AnsweredBy(Enum):
    """What the site shows of a tune that would answer the questions: it is held back while they are open."""

    NOTHING = "nothing"
    CHORDS = "chords"  # the charts stay closed until the answers are handed in
    ANALYSIS = "analysis"  # or the reading of a solo
    FORM = "form"  # the name of it
    CHART = "chart"  # what is asked is to know it by heart: it stays open


class Keypad(StrEnum):
    """The rows of keys for a thumb, as `static/js/quiz-pad.js` draws them."""

    FUNCTION = "function"
    CHANGES = "changes"
    NOTES = "notes"
    SCALE = "scale"
    FORM = "form"
    KEY_AREAS = "key-areas"
    SOLO_NOTES = "solo-notes"


@dataclass(frozen=True, kw_only=True, slots=True)
class Notes:
    """Answers that are names of notes: how many are asked (0: as many as there are), and whether they are one chord."""

    count: int
    stacked: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Parts:
    """Where a part of what is asked can be asked by itself.

    label  of the choice, for who assigns
    whole  what is asked otherwise, in words
    alone  what stands in `Options.part` → what is asked then, in words
    """

    label: str
    whole: str
    alone: Mapping[str, str]


@dataclass(frozen=True, kw_only=True, slots=True)
class Alone:
    """How a kind is asked by players of themselves.

    place       where it stands among the choices; a mix draws in this order
    seconds     that one question takes: common practice, no source
    mixed       whether a mix of kinds draws from it
    at_a_chord  whether the chords of one progression can be asked by themselves
    """

    place: int
    seconds: int
    mixed: bool
    at_a_chord: bool


@dataclass(frozen=True, slots=True)
class MarkingRule:
    """One row of the marking table: identifier, name, one sentence, points and an example. `kinds` is filled in by
    `drills.marking_rules`."""

    id: str
    name: str
    sentence: str
    points: float
    strict_points: float
    example: str
    kinds: tuple[str, ...] = ()
    source: str = "common practice, no source"


@dataclass(frozen=True, slots=True)
class RuleTable:
    """The rows that answers of a kind can meet, besides those of any question. `place` orders the tables as instructors
    read them; kinds with the same heading stand under it together."""

    place: int
    heading: str
    rules: tuple[MarkingRule, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class QuestionKind:
    """One kind of question.

    id                     as it is stored, at most 16 letters
    place                  where it stands in every list of kinds, those of `assessments.kinds` included; no two share one
    name                   in full; `short` heads a column
    asks                   the sentence a player reads; `examples` are answers that a player may type
    keypad                 what a thumb answers with
    notes                  where a keyboard and a staff help to answer; None: it is not answered with notes
    needs                  what it is made from besides the chart
    parts                  what of it can be asked by itself; None: it is asked whole
    answered_by            what has to be held back while it is open
    hides_chart            whether the chart beside the questions would give the answers away
    tells_chords           whether its page shows chords of the chart, before or after, and so waits for a closed one
    key_in_words           what a stored key says is right, for who decides on marking again after an overrule of the analysis;
                           None: no overrule changes a key of this kind
    minutes                that a step takes: common practice, no source
    alone                  how players ask it of themselves; None: it is not offered to them
    table                  the rules by which it is marked
    names_keys             whether a key typed in front of an answer ("Ab: 2") holds for the answers after it
    upgrade                a stored key of any age and its chart → the key as it is built today; None: they never changed
    build                  study, options, seed → questions with their keys (`drills.questions.build`)
    mark                   stored key, answer, strictness, context → mark (`drills.marking.mark`)
    echo                   answer, context → how it is understood, never whether it is right
    """

    id: str
    place: int
    name: str
    short: str
    asks: str
    examples: tuple[str, ...]
    keypad: Keypad
    notes: Notes | None
    needs: Needs
    parts: Parts | None
    answered_by: AnsweredBy
    hides_chart: bool
    tells_chords: bool
    key_in_words: Callable[[StoredKey], str] | None
    minutes: int
    alone: Alone | None
    table: RuleTable
    names_keys: bool
    upgrade: Callable[[KeyJson, Chart], KeyJson] | None
    build: Callable[..., tuple[Question, ...]]
    mark: Callable[[StoredKey, str, Strictness, Context], Mark]
    echo: Callable[[str, Context], Echo]

    def __post_init__(self) -> None:
        if not self.id or len(self.id) > LONGEST_ID:
            raise ValueError(f"The id of a kind of question has 1 to {LONGEST_ID} letters: {self.id!r}.")
