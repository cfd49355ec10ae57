"""The sentence behind a role: the only place of the package with English in it, beside the table of rules."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tunes.harmony.chords import ChordSymbol

from .notes import Change, Grid, Note
from .reading import NoteReading
from .rules import RULES

_SIGNS = str.maketrans({"b": "♭", "#": "♯"})
_PLAIN = {
    "1": "root",
    "2": "2nd",
    "3": "3rd",
    "4": "4th",
    "5": "5th",
    "6": "6th",
    "7": "7th",
    "9": "9th",
    "11": "11th",
    "13": "13th",
}
_STEPS = {1: "a half step", 2: "a whole step"}


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a note has its role: the sentence, the rule's id and where the rule is from."""

    sentence: str
    rule: str
    source: str


def degree_words(degree: str) -> str:
    """ "b9" → "♭9", "3" → "3rd", "1" → "root".

    >>> degree_words("b9"), degree_words("3"), degree_words("1"), degree_words("b3"), degree_words("bb7")
    ('♭9', '3rd', 'root', '♭3rd', '♭♭7th')
    """
    number = degree.lstrip("b#")
    signs = degree[: len(degree) - len(number)].translate(_SIGNS)
    if not signs:
        return _PLAIN.get(number, number)
    return signs + (_PLAIN[number] if int(number) <= 7 and number in _PLAIN and number != "1" else number)


def reason(
    readings: Sequence[NoteReading], index: int, notes: Sequence[Note], changes: Sequence[Change], grid: Grid
) -> Reason:
    """The sentence for one note of a reading, with the degrees, chords and beats that it speaks of."""
    one = readings[index]
    rule = RULES[one.rule]
    if one.change is None or one.degree is None:
        return Reason(rule.sentence, rule.id, rule.source)
    target = readings[one.target] if one.target is not None else None
    before = _chord_before(changes, one.change)
    parts = {
        "degree": degree_words(one.degree),
        "chord": _text(changes[one.change].symbol),
        "before": _text(before),
        "target": _of(target, one, changes) if target else "",
        "degree_target": degree_words(target.degree or "1") if target else "",
        "origin": _origin(readings, index, changes),
        "step": _step(notes, index, one.target),
        "where": _where(notes, one, grid),
    }
    if one.rule == "held-into" and target is None:
        parts["target"] = (
            f"the {degree_words(one.other)} of the chord to come" if one.other else "a note of the chord to come"
        )
    return Reason(rule.sentence.format(**parts) + _border(one, changes), rule.id, rule.source)


def _text(symbol: ChordSymbol | None) -> str:
    return symbol.display if symbol is not None else "no chord"


def _chord_before(changes: Sequence[Change], at: int) -> ChordSymbol | None:
    return changes[at - 1].symbol if at > 0 else None


def _of(target: NoteReading, one: NoteReading, changes: Sequence[Change]) -> str:
    """ "the 3rd", and of which chord where that is another."""
    words = f"the {degree_words(target.degree or '1')}"
    if target.change is None or target.change == one.change:
        return words
    return f"{words} of {_text(changes[target.change].symbol)}"


def _origin(readings: Sequence[NoteReading], index: int, changes: Sequence[Change]) -> str:
    """The last chord tone, or the note before, that a passing note comes from."""
    place = index - 1
    while place > 0 and readings[place].role == "passing":
        place -= 1
    if place < 0 or readings[place].degree is None:
        return "the note before"
    return _of(readings[place], readings[index], changes)


def _step(notes: Sequence[Note], index: int, target: int | None) -> str:
    if target is None:
        return "a step"
    distance = notes[index].midi - notes[target].midi
    size = _STEPS.get(abs(distance), "a step")
    return f"{size} above" if distance > 0 else f"{size} below"


def _where(notes: Sequence[Note], one: NoteReading, grid: Grid) -> str:
    """ " on beat 3" where the target stands on a beat."""
    if one.target is None:
        return ""
    place = grid.place(notes[one.target].onset)
    return f" on beat {place.beat}" if place.tick < 1e-4 else ""


def _border(one: NoteReading, changes: Sequence[Change]) -> str:
    if not one.border or not one.other or one.change is None:
        return ""
    if one.border == "late":
        return f"; late: the {degree_words(one.other)} of {_text(_chord_before(changes, one.change))}"
    if one.border == "ahead":
        return f"; played ahead of the beat, over {_text(_chord_before(changes, one.change))}"
    follows = changes[one.change + 1].symbol if one.change + 1 < len(changes) else None
    return f"; early: the {degree_words(one.other)} of {_text(follows)}"
