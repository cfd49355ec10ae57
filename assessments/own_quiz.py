"""What a player may ask of themselves: kinds, how long a question takes, and which of many are asked. Pure.

How long a question takes is common practice, no source: it only decides how many stand on a short sheet.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from drills.kinds import question_kinds
from drills.question_kind import Alone

from .kinds import BY_HEART, KINDS

ANY = "any"
MIX, TUNE, MISSED, PROGRESSION = "mix", "tune", "missed", "progression"
NUMBERS = "by-heart-numbers"
BY_NUMBERS = Alone(place=10, seconds=10, mixed=False, at_a_chord=False)  # the other half of what is known by heart
MOST_PARTS = 4
LONGEST = 120  # questions on one sheet
GROUP = 4  # bars that stand together: a short sheet begins where such a group begins


@dataclass(frozen=True)
class Wish:
    """What is to be asked. `source` is one of the four above; `minutes` 0 asks everything; `bars` are printed numbers, both
    included; `key` is the concert key that is called, "" for one that the site calls."""

    source: str = MIX
    kind: str = ANY
    minutes: int = 2
    tune: int = 0
    first: int = 0
    last: int = 0
    progression: int = 0
    key: str = ""
    section: str = ""

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Wish:
        """The wish that `to_json` wrote; what is missing takes the default."""
        return cls(**{name: data[name] for name in cls.__dataclass_fields__ if name in data})


def choices() -> dict[str, Alone]:
    """What may be chosen by itself → how it is asked, in the order of the choices."""
    offered = {kind.id: kind.alone for kind in question_kinds().values() if kind.alone} | {NUMBERS: BY_NUMBERS}
    return dict(sorted(offered.items(), key=lambda row: row[1].place))


def mixed() -> tuple[str, ...]:
    """The kinds that a mix draws from."""
    return tuple(kind for kind, row in choices().items() if row.mixed)


def at_a_chord() -> tuple[str, ...]:
    """The kinds that one place of a chart can be asked."""
    return tuple(kind for kind, row in choices().items() if row.at_a_chord)


def names() -> list[tuple[str, str]]:
    """The kinds to choose from, with the words of the step table."""
    named = [(kind, "By numbers alone, by heart" if kind == NUMBERS else KINDS[kind].name) for kind in choices()]
    return [(ANY, "A mix of kinds"), *named]


def kind_and_options(kind: str, section: str = "") -> tuple[str, dict[str, Any]]:
    """The kind of question and its options behind a choice."""
    if kind in (BY_HEART, NUMBERS):
        return BY_HEART, {"part": "numbers" if kind == NUMBERS else "", "section": section}
    return kind, {}


def how_many(minutes: int, kind: str) -> int:
    """How many questions fit.

    >>> how_many(2, "function"), how_many(2, "guide-line"), how_many(0, "scale")
    (15, 1, 120)
    """
    if minutes <= 0:
        return LONGEST
    seconds = {name: row.seconds for name, row in choices().items()}
    takes = seconds[kind] if kind in seconds else round(sum(seconds[k] for k in mixed()) / len(mixed()))
    return max(1, min(LONGEST, minutes * 60 // takes))


def some(questions: Sequence[Mapping[str, Any]], count: int, seed: int) -> list[Mapping[str, Any]]:
    """A run of neighbouring questions that begins with a group of four bars: phrases stay whole, the seed says which.

    >>> some([{"bar": bar} for bar in range(1, 13)], 4, 2)[0]["bar"] % 4
    1
    """
    if count >= len(questions):
        return list(questions)
    starts = [
        place
        for place, question in enumerate(questions)
        if place + count <= len(questions) and (place == 0 or _group(questions[place - 1]) != _group(question))
    ]
    start = random.Random(seed).choice(starts or [0])
    return list(questions[start : start + count])


def _group(question: Mapping[str, Any]) -> int:
    return (int(question.get("bar") or 1) - 1) // GROUP


def shares(count: int, parts: int) -> list[int]:
    """So many questions over so many tunes, the first ones with one more.

    >>> shares(10, 3)
    [4, 3, 3]
    """
    each, more = divmod(count, max(1, parts))
    return [each + (place < more) for place in range(parts)]


def drawn(tunes: Sequence[int], count: int, seed: int) -> list[int]:
    """Which tunes stand on a mixed sheet: drawn, at least three questions each."""
    most = max(1, min(MOST_PARTS, count // 3, len(tunes)))
    return random.Random(seed).sample(list(tunes), most) if tunes else []
