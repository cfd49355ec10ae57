"""Marks what a note of a solo is: its degree over the chord, and what it does there.

Degrees are compared by sound (sharp 9 and flat 3 over the same root are one note). About half of all notes in recorded solos
are no chord tones and are not mistakes (Pfleiderer et al. (eds.), *Inside the Jazzomat*, Schott 2017), so an open note takes
any role. Which roles lie near each other is common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from drills.comparers.types import Context, Echo, Mark, StoredKey, Strictness
from drills.comparers.wording import capital, chord_text, note_text, reading_interval
from drills.marking_rules import points_for
from tunes.harmony.answers.words import plain
from tunes.harmony.pitch.spelling import Interval, SpellingError, degree_interval

OPEN = "other"
NEAR = (
    {"approach", "double approach", "enclosure"}, {"passing", "neighbour"}, {"passing", "approach"}, {"neighbour", "approach"},
    {"tension", "passing"}, {"anticipation", "chord tone"}, {"delay", "chord tone"},
)  # fmt: skip
# What players call a role; the longer name first.
ROLES: tuple[tuple[str, str], ...] = (
    ("double approach", r"double\s+(?:chromatic\s+)?approach(?:es)?|two\s+half\s+steps"),
    ("enclosure", r"enclos\w*|surround\w*|from\s+both\s+sides|above\s+and\s+below"),
    ("approach", r"approach\w*|lead(?:s|ing)?\s+(?:tone|note)|lead(?:s|ing)?\s+(?:in)?to|chromatic\s+below"),
    ("passing", r"pass(?:ing|es)?(?:\s+(?:tone|note))?|on\s+the\s+way|in\s+between"),
    ("neighbour", r"neighbou?r(?:ing)?(?:\s+(?:tone|note))?|auxiliary"),
    ("anticipation", r"anticipat\w+|early|next\s+chord"),
    ("delay", r"delay\w*|suspen\w+|held\s+over|late|retard\w*"),
    ("tension", r"tensions?|colou?rs?|extensions?"),
    ("chord tone", r"chord[\s-]*(?:tone|note)|in\s+the\s+chord|inside"),
    (OPEN, r"open|other|outside|free"),
)  # fmt: skip
_ROLE = re.compile(
    "|".join(f"(?P<r{number}>\\b(?:{pattern})\\b)" for number, (_, pattern) in enumerate(ROLES)), re.IGNORECASE
)
_WORDS = {"root": "1", "tonic": "1", "second": "2", "third": "3", "fourth": "4", "fifth": "5", "sixth": "6", "seventh": "7", "ninth": "9",
          "eleventh": "11", "thirteenth": "13", "octave": "1"}  # fmt: skip
_DEGREE = re.compile(
    r"(?P<sign>bb|b|#|flat|sharp|natural|major|minor|maj|min)?\s*-?\s*(?P<number>1[0-3]|[1-9])(?:st|nd|rd|th)?(?![\d/])"
    rf"|(?P<sign2>b|#|flat|sharp|natural|major|minor)?\s*-?\s*(?P<word>{'|'.join(_WORDS)})",
    re.IGNORECASE,
)
_SIGNS = {"flat": "b", "sharp": "#", "natural": "", "major": "", "maj": "", "minor": "b", "min": "b"}


@dataclass(frozen=True, slots=True)
class Said:
    """What was typed: degree ("" when none), role ("" when none), or a problem."""

    degree: str = ""
    role: str = ""
    problem: str = ""


def read_said(text: str) -> Said:
    """Degree and role from what a player types.

    >>> read_said("b9, approach"), read_said("sharp eleven"), read_said("the third, chord tone")
    (Said(degree='b9', role='approach', problem=''), Said(degree='#11', role='', problem=''), Said(degree='3', role='chord tone', problem=''))
    """
    source = _numbers(plain(text[:200]).text)
    role = _ROLE.search(source)
    rest = source[: role.start()] + " " + source[role.end() :] if role else source
    degree = _DEGREE.search(rest)
    if role is None and degree is None:
        return Said(problem="Write the degree over the chord and what the note does, such as: b9, approach.")
    return Said(_degree(degree) if degree else "", ROLES[int(str(role.lastgroup)[1:])][0] if role else "")


_SPOKEN = {
    "one": "1",
    "two": "2",
    "three": "3",
    "four": "4",
    "five": "5",
    "six": "6",
    "seven": "7",
    "nine": "9",
    "eleven": "11",
    "thirteen": "13",
}


def _numbers(text: str) -> str:
    return re.sub(
        r"\b(?:" + "|".join(_SPOKEN) + r")\b", lambda match: _SPOKEN[match[0].lower()], text, flags=re.IGNORECASE
    )


def _degree(match: re.Match[str]) -> str:
    number = match["number"] or _WORDS[match["word"].lower()]
    sign = (match["sign"] or match["sign2"] or "").lower()
    sign = _SIGNS.get(sign, sign)
    if number in ("5", "4") and (match["sign"] or match["sign2"] or "").lower() in ("minor", "min"):
        sign = ""
    return sign + number


def _semitones(degree: str) -> int:
    try:
        return degree_interval(degree).semitones % 12
    except SpellingError:
        return -1


def echo_solo_note(text: str, context: Context) -> Echo:
    """The degree and the role as understood."""
    said = read_said(text)
    if said.problem:
        return Echo(said.problem, False, 0, len(text))
    return Echo(", ".join(part for part in (signed(said.degree), _called(said.role)) if part), True)


def _called(role: str) -> str:
    return "open" if role == OPEN else role


def mark_solo_note(key: StoredKey, text: str, strictness: Strictness, context: Context) -> Mark:
    """The mark of one note; the key is that of `drills.questions.solo_notes`."""
    move = reading_interval(key, context)
    truth = _truth(key, move)
    if not text.strip():
        return Mark(0.0, "blank", truth, "")
    said = read_said(text)
    if said.problem:
        return Mark(0.0, "unreadable", f"{said.problem} {truth}", "")
    right = bool(said.degree) and _semitones(said.degree) == int(key["semitones"])
    rule = _rule(right, said, key)
    points = points_for(rule, False)
    understood = echo_solo_note(text, context).text
    return Mark(round(points, 2), rule, f"{_OPENERS[rule]} {truth}", understood)


def _rule(right: bool, said: Said, key: StoredKey) -> str:
    role = str(key["role"])
    accepted = {role, *key.get("also", ())}
    if key.get("alone"):
        return "solo-exact" if right else "other"
    if right:
        if role == OPEN or said.role in accepted:
            return "solo-exact" if said.role in (role, "") or role == OPEN else "solo-also"
        return "solo-near" if _near(said.role, accepted) else "solo-degree"
    if said.role and said.role in accepted:
        return "solo-role"
    return "other"


def _near(role: str, accepted: set[str]) -> bool:
    return any(role in pair and accepted & (pair - {role}) for pair in NEAR)


_OPENERS = {
    "solo-exact": "That is it.", "solo-also": "It is heard so too.", "solo-near": "The degree is right, and what it does is near.",
    "solo-degree": "The degree is right; look again at where the note goes.", "solo-role": "What it does is right; look again at the degree.",
    "other": "Look again at the chord, and at the note after this one.",
}  # fmt: skip


def _truth(key: StoredKey, move: Interval) -> str:
    note, chord = note_text(str(key["note"]), move), chord_text(str(key["chord"]), move)
    said = f"{capital(str(key['place']))}: {note} is the {signed(str(key['degree']))} of {chord}"
    if key.get("alone"):
        return f"{said}."
    role = str(key["role"])
    said += ", and no rule explains it: it is open" if role == OPEN else f", {_named(role)}"
    if key.get("also"):
        said += f" (also heard as {' or '.join(_called(str(one)) for one in key['also'])})"
    return said + _leads(key.get("leads"), move) + "."


def _leads(leads: Sequence[Any] | None, move: Interval) -> str:
    """ "; half a step below A, the ♭3 of Am7": where the note goes."""
    if not leads:
        return ""
    by, note, degree, chord = leads
    size = {1: "half a step", 2: "a step"}.get(abs(by), "")
    where = f"{size} {'below' if by > 0 else 'above'}" if size else "it leads to"
    over = f", the {signed(degree)} of {chord_text(chord, move)}" if degree and chord else ""
    return f"; {where} {note_text(note, move)}{over}"


def signed(degree: str) -> str:
    """A degree with real signs: "♭9", "♯11"."""
    return degree.replace("b", "♭").replace("#", "♯")


def _named(role: str) -> str:
    """A role with its article: "an approach", "a passing note"."""
    name = f"{role} note" if role == "passing" else role
    return f"{'an' if name[0] in 'aeiou' else 'a'} {name}"
