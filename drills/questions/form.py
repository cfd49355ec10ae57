"""Kind "form": the section letters, the bars of each section, the length of a chorus, where the bridge starts.

Sections are counted as they are played (a repeated section counts each time); introductions, codas and tags are
left out, because they are not part of the form that goes round.  The bar of the bridge is counted in the same way.  Letters are the ones typed in the chart; where
none were typed, those that `tunes.harmony.form.sections` finds by comparing the sections.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from drills.questions.base import KeyJson, Options, Question
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.charts.model import Chart
from tunes.harmony.form.sections import OUTSIDE_FORM, FormSection, name_form

KIND = "form"
BRIDGE_PROMPT = "In which bar of the chorus does the bridge start? Count as it is played: a section that is repeated counts each time."


@dataclass(frozen=True, slots=True)
class FormFacts:
    """Letters, bars and first printed bar of each section as played; other letters that are as right; the form's
    name and the reason for it; the bar as played, counted from the top of the chart, where each section begins."""

    letters: tuple[str, ...]
    lengths: tuple[int, ...]
    starts: tuple[int, ...]
    also: tuple[str, ...] = ()
    name: str = ""
    reason: str = ""
    played: tuple[int, ...] = ()

    @property
    def bars(self) -> int:
        return sum(self.lengths)

    @property
    def bridge(self) -> int | None:
        """Bar of the chorus as it is played where the first B begins, when the form returns to A after it."""
        if "B" not in self.letters or "A" not in self.letters[self.letters.index("B") :]:
            return None
        return sum(self.lengths[: self.letters.index("B")]) + 1


def form_facts(chart: Chart) -> FormFacts:
    """The form of one chorus of a chart."""
    reading, chorus, played = name_form(chart), chart.unfold(), bar_count(chart).chorus
    inside = [section for section in reading.sections if section.label.strip().lower() not in OUTSIDE_FORM]
    typed = tuple(_letter(section) for section in inside)
    letters = typed if all(typed) and len(typed) == len(reading.letters) else reading.letters
    return FormFacts(
        letters,
        tuple(section.bars for section in inside) or reading.lengths,
        tuple(chart.bars[chorus[section.first].bar].number for section in inside),
        () if letters == reading.letters else reading.letters,
        reading.name,
        reading.reason,
        tuple(played[section.first] for section in inside),
    )


def _letter(section: FormSection) -> str:
    plain = section.label.strip().rstrip("'’′0123456789 ")
    return plain.upper() if len(plain) == 1 and plain.isalpha() else ""


def build_form(study: Any, options: Options, seed: int) -> tuple[Question, ...]:
    """Up to five questions; a form of one section is asked for its length, and a blues for its name."""
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
    if "blues" in facts.name:
        asked.append(("name", "What is this form called?"))
    if facts.bridge is not None:
        asked.append(("bridge", BRIDGE_PROMPT))
    return tuple(_question(part, prompt, facts) for part, prompt in asked)


def _question(part: str, prompt: str, facts: FormFacts) -> Question:
    key: KeyJson = {
        "kind": KIND, "part": part, "letters": list(facts.letters), "lengths": list(facts.lengths),
        "starts": list(facts.starts), "bars": facts.bars, "bridge": facts.bridge, "name": facts.name, "also": list(facts.also), "reason": facts.reason,
        "played": list(facts.played),
    }  # fmt: skip
    return Question(
        id=f"{KIND}:{part}", kind=KIND, prompt=prompt, event=None, bar=None, key=key, context={"part": part}
    )
