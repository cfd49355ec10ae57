"""Slips of typing between barlines, and what was most likely meant: a dash for a space, a kind of chord spelled out in
words, a sign that is no chord, a bracket left open."""

from __future__ import annotations

import re
from collections.abc import Sequence

from .chart_tokens import Token
from .problems import Problem
from .symbol_text import parse_symbol

_KINDS = {
    "major": "maj", "maj": "maj", "minor": "m", "min": "m", "dominant": "", "dom": "", "diminished": "dim", "dim": "dim",
    "augmented": "aug", "aug": "aug", "suspended": "sus", "sus": "sus",
}  # fmt: skip
_NUMBER = re.compile(r"(?:6|7|9|11|13)(?:th)?")
_DASH = re.compile(r"[-\N{HYPHEN}\N{NON-BREAKING HYPHEN}\N{EN DASH}\N{EM DASH}\N{MINUS SIGN}]")
_OPEN = re.compile(r"[(\[]([A-Z][0-9']{0,2})")


def slip(text: str) -> Problem | None:
    """What is wrong with one word that is no chord, when it is a known slip; offsets count within the word.

    >>> slip("Dm7-G7").suggestion, slip("[A").suggestion, slip(":").message
    ('Dm7 G7', '[A]', '“:” is no chord: delete it.')
    """
    parts = _DASH.split(text)
    if len(parts) > 1 and all(part and parse_symbol(part).ok for part in parts):
        return Problem("Chords stand apart by a space, not by a dash.", " ".join(parts), 0, len(text))
    opened = _OPEN.fullmatch(text)
    if opened:
        return Problem("A bracket is opened here and not closed.", f"[{opened[1]}]", 0, len(text))
    if not any(char.isalnum() for char in text):
        return Problem(f"“{text}” is no chord: delete it.", "", 0, len(text))
    return None


def in_words(tokens: Sequence[Token], at: int) -> tuple[int, str] | None:
    """How many words from `at` on name one chord in words ("Ab major 7"), and the chord as it is typed here.

    None when the words do not, or when what they would make is no chord.
    """
    words = [token.text for token in tokens[at : at + 3] if token.kind == "chord"]
    if len(words) < 2 or words[1].lower() not in _KINDS:
        return None
    number = words[2] if len(words) > 2 and _NUMBER.fullmatch(words[2]) else ""
    kind = _KINDS[words[1].lower()]
    made = words[0] + ("" if kind == "maj" and not number else kind) + number.removesuffix("th")
    return (3 if number else 2, made) if parse_symbol(made).ok else None
