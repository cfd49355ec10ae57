"""Slips of typing between barlines, and what was most likely meant: chords run together, a kind of chord spelled out in
words, a sign that is no chord, a bracket left open."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from fractions import Fraction

from tunes.harmony.charts.bars import BLANK
from tunes.harmony.charts.sharing import shared
from tunes.harmony.charts.tokens import Token
from tunes.harmony.chords.reader import parse_symbol
from tunes.harmony.problems import Problem

MOST_WORDS = 8
MOST_TOGETHER = 4
_KINDS = {
    "major": "maj", "maj": "maj", "minor": "m", "min": "m", "dominant": "", "dom": "", "diminished": "dim", "dim": "dim",
    "augmented": "aug", "aug": "aug", "suspended": "sus", "sus": "sus", "half-diminished": "m7b5", "alt": "alt",
    "altered": "alt", "add": "add", "added": "add", "sus4": "sus4", "sus2": "sus2", "maj7": "maj7", "m7": "m7",
    "min7": "m7", "dim7": "dim7", "m7b5": "m7b5", "add9": "add9",
}  # fmt: skip
_COUNTED = {"six": "6", "sixth": "6", "seven": "7", "seventh": "7", "nine": "9", "ninth": "9", "eleventh": "11",
            "thirteen": "13", "thirteenth": "13"}  # fmt: skip
_ACCIDENTALS = {"flat": "b", "sharp": "#"}
_NUMBER = re.compile(r"(2|4|5|6|7|9|11|13|69|6/9)(?:th)?")
_ALTERATION = re.compile(r"\(?([b#♭♯+](?:5|9|11|13)(?:,[b#♭♯+](?:5|9|11|13))*)\)?")
_BETWEEN = "-\N{HYPHEN}\N{NON-BREAKING HYPHEN}\N{EN DASH}\N{EM DASH}\N{MINUS SIGN},;.&+>"
_OPEN = re.compile(r"[(\[]([A-Z][0-9']{0,2})")


def slip(text: str, *, room: Fraction | None = None) -> Problem | None:
    """What is wrong with one word that is no chord, when it is a known slip; offsets count within the word.

    `room`: the beats of the bar when nothing else stands in it, so that deleting the word would leave it empty.

    >>> slip("Dm7-G7").suggestion, slip("[A").suggestion, slip(":").message
    ('Dm7 G7', '[A]', '“:” is no chord.')
    """
    opened = _OPEN.fullmatch(text)
    if opened:
        return Problem("A bracket is opened here and not closed.", f"[{opened[1]}]", 0, len(text))
    parts = run_together(text)
    if parts:
        words = " ".join(parts) if room is None else shared(parts, room)
        return Problem("Chords stand apart by a space.", words, 0, len(text))
    if not any(char.isalnum() for char in text):
        return Problem(
            f"“{shown(text)}” is no chord.", "" if room is None else BLANK, 0, len(text), removes=room is None
        )
    return None


def shown(text: str) -> str:
    """A word as a sentence can quote it: control characters by their number."""
    return "".join(f"U+{ord(char):04X}" if unicodedata.category(char)[0] == "C" else char for char in text)


def run_together(text: str) -> list[str]:
    """The chords of a word that holds several, the fewest that read; [] when it does not.

    >>> run_together("Dm7G7"), run_together("Dm7-G7-C"), run_together("Cfoo")
    (['Dm7', 'G7'], ['Dm7', 'G7', 'C'], [])
    """
    capitals = [at for at, char in enumerate(text) if char in "ABCDEFG" and at]
    return _split(text, 0, capitals, MOST_TOGETHER) if capitals else []


def _split(text: str, start: int, cuts: Sequence[int], most: int) -> list[str]:
    last = text[start:].strip(_BETWEEN)
    if start and parse_symbol(last).symbol:
        return [last]
    if most < 2:
        return []
    for cut in cuts:
        first = text[start:cut].strip(_BETWEEN)
        if cut <= start or not parse_symbol(first).symbol:
            continue
        rest = _split(text, cut, cuts, most - 1)
        if rest:
            return [first, *rest]
    return []


def in_words(tokens: Sequence[Token], at: int) -> tuple[int, str] | None:
    """How many words from `at` on name one chord in words ("A flat major 7"), and the chord as it is typed here.

    None when the words do not, or when what they would make is no chord.
    """
    words: list[str] = []
    for token in tokens[at : at + MOST_WORDS]:
        if token.kind not in ("chord", "metre"):
            break
        words.append(token.text)
    for count in range(len(words), 1, -1):
        made = _named(words[:count])
        if made and parse_symbol(made).symbol:
            return count, made
    return None


def _named(words: Sequence[str]) -> str:
    """The chord that all these words make together; "" when one of them is no word of a chord's name."""
    root, rest = words[0], [word.lower() for word in words[1:]]
    if not re.fullmatch(r"[A-Ga-g]\S*", root):
        return ""
    if len(root) == 1 and rest and rest[0] in _ACCIDENTALS:
        root, rest = root + _ACCIDENTALS[rest[0]], rest[1:]
    kind, altered, turned = "", [], ""
    for word in rest:
        number = _COUNTED.get(word) or (m[1] if (m := _NUMBER.fullmatch(word)) else "")
        alteration = _ALTERATION.fullmatch(word)
        if word in _ACCIDENTALS and not turned:
            turned = _ACCIDENTALS[word]
        elif number and turned:
            altered.append(turned + number)
            turned = ""
        elif alteration:
            altered.append(alteration[1])
        elif number or word == "half" or word in _KINDS:
            kind = _joined(kind, number or ("half" if word == "half" else _KINDS[word]))
        else:
            return ""
    kind = "" if kind == "maj" else kind
    return "" if turned or "half" in kind else root[0].upper() + root[1:] + kind + _altered(altered, root + kind)


def _joined(kind: str, word: str) -> str:
    """One more word of a kind: "half" and "dim" are m7b5, "m" and "maj" with a number m(maj7)."""
    if (kind, word) == ("half", "dim"):
        return "m7b5"
    if kind == "m7b5" and word == "7":
        return kind
    if kind == "mmaj" and word.isdigit():
        return f"m(maj{word})"
    return kind + word


def _altered(degrees: Sequence[str], before: str) -> str:
    if not degrees:
        return ""
    return degrees[0] if len(degrees) == 1 and before[-1].isdigit() else f"({','.join(degrees)})"
