"""Kind "form": the section letters, the bars of each section, the length of a chorus, where the bridge starts.

Sections are counted as they are played (a repeated section counts each time); introductions, codas and tags are
left out, because they are not part of the form that goes round.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from drills.questions.base import KeyJson, Options, Question
from drills.questions.places import sections_of
from tunes.harmony.chart_model import Chart

KIND = "form"
OUTSIDE = ("intro", "introduction", "coda", "tag", "outro", "ending", "vamp", "interlude", "pickup", "verse")


@dataclass(frozen=True, slots=True)
class FormFacts:
    """Letters, bars and first printed bar of each section as played, and the common name, "" if none."""

    letters: tuple[str, ...]
    lengths: tuple[int, ...]
    starts: tuple[int, ...]
    name: str = ""

    @property
    def bars(self) -> int:
        return sum(self.lengths)

    @property
    def bridge(self) -> int | None:
        """Printed bar where the first B begins, when the form returns to A after it."""
        if "B" not in self.letters or "A" not in self.letters[self.letters.index("B") :]:
            return None
        return self.starts[self.letters.index("B")]


def form_facts(chart: Chart) -> FormFacts:
    """The form of one chorus of a chart."""
    chorus = chart.unfold()
    letters: list[str] = []
    lengths: list[int] = []
    starts: list[int] = []
    seen: dict[tuple[str, ...], str] = {}
    for label, first, bars in sections_of(chart):
        if label.strip().lower().rstrip(" 0123456789.") in OUTSIDE:
            continue
        content = tuple(_bar_text(chart, chorus[i].bar) for i in range(first, first + bars))
        letter = _letter(label) or seen.get(content) or _next_letter(letters)
        seen.setdefault(content, letter)
        letters.append(letter)
        lengths.append(bars)
        starts.append(chart.bars[chorus[first].bar].number)
    return FormFacts(tuple(letters), tuple(lengths), tuple(starts), _name(tuple(letters), tuple(lengths)))


def _bar_text(chart: Chart, bar: int) -> str:
    return " ".join(slot.text for slot in chart.bars[bar].slots)


def _letter(label: str) -> str:
    plain = label.strip().rstrip("'’′0123456789 ")
    return plain.upper() if len(plain) == 1 and plain.isalpha() else ""


def _next_letter(used: list[str]) -> str:
    return next((letter for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" if letter not in used), "Z")


def _name(letters: tuple[str, ...], lengths: tuple[int, ...]) -> str:
    joined, bars = "".join(letters), sum(lengths)
    if len(letters) == 1:
        return f"{bars}-bar form"
    return f"{bars}-bar {joined}"


def build_form(study: Any, options: Options, seed: int) -> tuple[Question, ...]:
    """Up to four questions; a form of one section is asked for its length alone."""
    facts = form_facts(study.chart)
    if not facts.letters:
        return ()
    asked = [("bars", "How many bars is one chorus?")]
    if len(facts.letters) > 1:
        asked = [
            ("letters", "Write the form in section letters, one letter for each section as it is played."),
            ("lengths", "How many bars has each section?"),
            *asked,
        ]
    if facts.bridge is not None:
        asked.append(("bridge", "In which bar does the bridge start?"))
    return tuple(_question(part, prompt, facts) for part, prompt in asked)


def _question(part: str, prompt: str, facts: FormFacts) -> Question:
    key: KeyJson = {
        "kind": KIND, "part": part, "letters": list(facts.letters), "lengths": list(facts.lengths),
        "starts": list(facts.starts), "bars": facts.bars, "bridge": facts.bridge, "name": facts.name,
    }  # fmt: skip
    return Question(id=f"{KIND}:{part}", kind=KIND, prompt=prompt, event=None, bar=None, key=key, context={"part": part})
