"""The small notation for idioms: patterns over functions. Described for its users in docs/idioms.md.

A pattern is a row of terms, each a degree counted from the tonic it leads to, with or without a quality:
`2min 5dom 1maj`. A term may have alternatives (`5dom|b2dom`), be optional (`(4min)`) or stand for any chord (`*`).
`5/2` is the dominant of 2 and `sub5` its tritone substitute. `home:` in front keeps to the key of the passage;
without it a pattern is also found on the way to any other chord, as in "2 5 of 4"; `away:` keeps to those other chords.
`open:` asks that nothing takes the tonic's place: it follows neither next nor later, nor does another chord instead of it.
`sound:` asks for the distances of the chords alone, whatever they do. `1maj_5` is 1 over 5, `_b7` any chord over flat 7.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from tunes.harmony.pitch.spelling import SpellingError, degree_interval
from tunes.harmony.problems import Problem

MOST_TERMS = 16
MOST_OPTIONAL = 4
MOST_CHARACTERS = 200

# Exact qualities are those of functions.Function.quality; a class holds several.
CLASS_OF_QUALITY: dict[str, str] = {
    "": "maj", "6": "maj", "maj7": "maj", "m": "min", "m6": "min", "m7": "min", "mmaj7": "min", "7": "dom",
    "7sus": "sus", "sus": "sus", "m7b5": "half", "dim": "dim", "dim7": "dim", "aug": "aug", "5": "open",
}  # fmt: skip
CLASSES = ("maj", "min", "dom", "half", "dim", "aug", "sus", "open")

_QUALITY_WORDS: dict[str, tuple[str, str]] = {
    "": ("any", ""), "maj": ("class", "maj"), "M": ("class", "maj"), "min": ("class", "min"), "m": ("class", "min"),
    "dom": ("class", "dom"), "7": ("class", "dom"), "half": ("class", "half"), "ø": ("class", "half"),
    "m7b5": ("class", "half"), "dim": ("class", "dim"), "°": ("class", "dim"), "o": ("class", "dim"),
    "dim7": ("exact", "dim7"), "aug": ("class", "aug"), "+": ("class", "aug"), "sus": ("class", "sus"),
    "7sus": ("exact", "7sus"), "6": ("exact", "6"), "maj7": ("exact", "maj7"), "m7": ("exact", "m7"),
    "m6": ("exact", "m6"), "mmaj7": ("exact", "mmaj7"), "triad": ("exact", ""), "mtriad": ("exact", "m"),
}  # fmt: skip
_HEAD = re.compile(r"\s*(?:(?:home|open|away|sound)\s*:\s*)*", re.IGNORECASE)
_TERM = re.compile(
    r"(?P<sub>sub)?(?P<degree>[b#]{0,2}[1-7])(?:/(?P<of>[b#]{0,2}[1-7]))?"
    r"(?P<quality>mmaj7|maj7|m7b5|mtriad|triad|min|maj|dom|half|dim7|dim|7sus|sus|aug|m7|m6|[Mm76øo°+])?"
    r"(?:_(?P<bass>[b#]{0,2}[1-7]))?"
)
_OVER_BASS = re.compile(r"_(?P<bass>[b#]{0,2}[1-7])")


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to fill a term: semitones above the tonic, class of quality, exact quality, semitones of the bass above the
    tonic; None: any."""

    degree: int | None
    quality_class: str | None = None
    quality: str | None = None
    bass: int | None = None

    def fits(self, degree: int, quality_class: str, quality: str, bass: int | None = None) -> bool:
        """bass is the degree of the bass; None: the root."""
        return (
            (self.degree is None or self.degree == degree)
            and (self.quality_class is None or self.quality_class == quality_class)
            and (self.quality is None or self.quality == quality)
            and (self.bass is None or self.bass == (degree if bass is None else bass))
        )


Term = tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class Pattern:
    """A pattern as it was typed and as it is searched: every reading of its optional terms, the longest first."""

    text: str
    readings: tuple[tuple[Term, ...], ...]
    home_only: bool
    left_open: bool = False
    away_only: bool = False
    by_sound: bool = False


@dataclass(frozen=True, slots=True)
class PatternReading:
    pattern: Pattern | None
    problem: Problem | None = None


@lru_cache(maxsize=1024)
def parse_pattern(text: str) -> PatternReading:
    """Never raises.

    >>> parse_pattern("2min 5dom 1maj").pattern.readings[0][1]
    (Choice(degree=7, quality_class='dom', quality=None, bass=None),)
    >>> parse_pattern("2min 9dom").problem.message
    '“9dom” is not a degree from 1 to 7 with a quality.'
    """
    try:
        return PatternReading(_pattern(text))
    except _Unreadable as stop:
        return PatternReading(None, stop.problem)


class _Unreadable(Exception):
    def __init__(self, message: str, suggestion: str, start: int, end: int) -> None:
        super().__init__(message)
        self.problem = Problem(message, suggestion, start, end)


def _pattern(text: str) -> Pattern:
    if len(text) > MOST_CHARACTERS:
        raise _Unreadable(f"A pattern has at most {MOST_CHARACTERS} characters.", "", MOST_CHARACTERS, len(text))
    head = _HEAD.match(text)
    body_start = head.end() if head else 0
    asked = head[0].lower() if head else ""
    words = list(re.finditer(r"\S+", text[body_start:]))
    if not words:
        raise _Unreadable("A pattern needs at least two chords.", "2min 5dom 1maj", 0, len(text))
    terms: list[tuple[Term, bool]] = []
    for word in words:
        terms.append(_term(word[0], body_start + word.start()))
    _check(terms, text)
    _check_head(asked, head.end() if head else 0)
    return Pattern(
        " ".join(text.split()), _readings(terms), "home" in asked, "open" in asked, "away" in asked, "sound" in asked
    )


def _check_head(asked: str, end: int) -> None:
    if "home" in asked and "away" in asked:
        raise _Unreadable("A pattern is either at home or away from it.", "home: 2min 5dom 1maj", 0, end)
    if "sound" in asked and asked.replace("sound", "").strip(" :"):
        raise _Unreadable(
            "A pattern by sound has no tonic: “sound:” stands alone.", "sound: 2min 5dom b2min b5dom", 0, end
        )


def _check(terms: list[tuple[Term, bool]], text: str) -> None:
    if len(terms) > MOST_TERMS:
        raise _Unreadable(f"A pattern has at most {MOST_TERMS} chords.", "", 0, len(text))
    if sum(optional for _, optional in terms) > MOST_OPTIONAL:
        raise _Unreadable(f"At most {MOST_OPTIONAL} chords of a pattern can be optional.", "", 0, len(text))
    fixed = [term for term, optional in terms if not optional]
    if len(fixed) < 2 or sum(term != _ANY for term in fixed) < 2:
        raise _Unreadable("A pattern needs at least two chords that are named.", "2min 5dom 1maj", 0, len(text))


_ANY: Term = (Choice(None),)


def _term(word: str, start: int) -> tuple[Term, bool]:
    optional = word.startswith("(") and word.endswith(")")
    inside = word[1:-1] if optional else word
    if inside == "*":
        return _ANY, optional
    over = _OVER_BASS.fullmatch(inside)
    if over is not None:
        return (Choice(None, bass=_semitones(over["bass"], start, len(word))),), optional
    choices = tuple(_choice(part, start, len(word)) for part in inside.split("|"))
    return choices, optional


def _choice(part: str, start: int, length: int) -> Choice:
    match = _TERM.fullmatch(part)
    if match is None:
        raise _Unreadable(f"“{part}” is not a degree from 1 to 7 with a quality.", "5dom", start, start + length)
    degree = _semitones(match["degree"], start, length)
    of = _semitones(match["of"], start, length) if match["of"] else 0
    bass = _semitones(match["bass"], start, length) if match["bass"] else None
    sub = 6 if match["sub"] else 0
    kind, value = _QUALITY_WORDS[match["quality"] or ""]
    if kind == "any" and (match["sub"] or (match["of"] and match["degree"] == "5")):
        kind, value = "class", "dom"
    return Choice(
        (degree + of + sub) % 12,
        value if kind == "class" else (CLASS_OF_QUALITY[value] if kind == "exact" else None),
        value if kind == "exact" else None,
        bass,
    )


def _semitones(degree: str, start: int, length: int) -> int:
    try:
        return degree_interval(degree).semitones % 12
    except SpellingError as error:
        raise _Unreadable(str(error), "5dom", start, start + length) from None


def _readings(terms: list[tuple[Term, bool]]) -> tuple[tuple[Term, ...], ...]:
    options = [((term,), ()) if optional else ((term,),) for term, optional in terms]
    found: dict[tuple[Term, ...], None] = {}
    for picked in product(*options):
        found.setdefault(tuple(term for part in picked for term in part))
    return tuple(sorted(found, key=len, reverse=True))
