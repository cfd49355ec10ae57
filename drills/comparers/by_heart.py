"""Marks one bar written from memory: its chords as changes by ear are marked, or the numbers of its chords alone.

With ``key["part"]`` "numbers" every word of the answer is a number ("2 5", "5 of 2", "Ab: 2 5"), spread over the bar
evenly or with a slash for each further beat, and each chord is marked as its function is where the number is enough.
The bar earns the shares of its chords weighed by their beats.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from drills.comparers.changes import added, echo_changes, foreign_to, mark_changes
from drills.comparers.function import echo_function, mark_function
from drills.comparers.heard_bar import metre_of, read_heard
from drills.comparers.types import Context, Echo, Mark, StoredKey, Strictness
from drills.comparers.wording import capital, key_text, place_name, reading_interval
from tunes.harmony.answers.reader import read_answer
from tunes.harmony.charts.bars import Metre
from tunes.harmony.readings.function import Function

NUMBERS = "numbers"
LONGEST = 120
NO_CHORD = re.compile(r"n\.?\s?c\.?|-", re.IGNORECASE)
EXTRA_COST = 0.5
"""What a number too many costs, as a share of one asked chord."""
_KINDS = (
    "maj7|m7b5|m7|dim7|dom7|m|6th|ø|aug|dominant|dom|half|diminished|dim|minor|min|major|maj|suspended|sus|augmented"
)
# What belongs to one name though blanks stand in it: "5 of 2", "sub 5", "flat 6", "Ab: 2", "Bb minor: 2", "2 m7", "4 dominant".
_JOINED = (
    (re.compile(r"\bhalf[\s-]+(?=dim)", re.IGNORECASE), "half\x00"),
    (re.compile(r"\b(flat|sharp)\s+(?=[\divx])", re.IGNORECASE), "\\1\x00"),
    (re.compile(r"\s+of\s+", re.IGNORECASE), "\x00of\x00"),
    (re.compile(r"\b(sub|substitute|related)\s+(?=\S)", re.IGNORECASE), "\\1\x00"),
    (re.compile(r"\s+(minor|major|dorian|mixolydian|phrygian|lydian):", re.IGNORECASE), "\x00\\1:"),
    (re.compile(r"\s*:\s*"), ":\x00"),
    (re.compile(rf"(?<=[\divx])\s+(?=(?:{_KINDS})\b)", re.IGNORECASE), "\x00"),
)


@dataclass(frozen=True, slots=True)
class Said:
    """One number of a bar, with where it begins and how long it holds, in beats of the metre from 0."""

    text: str
    start: Fraction
    duration: Fraction


def numbers_of(text: str, metre: Metre) -> tuple[Said, ...]:
    """The numbers of one bar, evenly spread, or a beat each where slashes say so.

    >>> [(said.text, str(said.start)) for said in numbers_of("2 5 of 2", metre_of("4/4"))]
    [('2', '0'), ('5 of 2', '2')]
    >>> [(said.text, str(said.duration)) for said in numbers_of("1 / / 4", metre_of("4/4"))]
    [('1', '3'), ('4', '1')]
    >>> [said.text for said in numbers_of("4 dominant #4 half diminished flat 6", metre_of("4/4"))]
    ['4 dominant', '#4 half diminished', 'flat 6']
    """
    for pattern, joined in _JOINED:
        text = pattern.sub(joined, text)
    words = re.split(r"[\s,;|]+", text.strip(" ,;|\t\n"))
    share = Fraction(metre.beats, max(1, len(words)))
    found: list[Said] = []
    for place, word in enumerate(words):
        if word == "/" and found:
            last = found.pop()
            found.append(Said(last.text, last.start, last.duration + share))
        elif word:
            found.append(Said(word.replace("\x00", " "), place * share, share))
    return tuple(found)


def echo_by_heart(text: str, context: Context) -> Echo:
    """The chords of a bar as read, or each number as it is understood in the key in force."""
    if context.part != NUMBERS:
        return echo_changes(text, context)
    if len(text) > LONGEST:
        return Echo("This is too long for one bar. Type numbers such as 2 5.", False, 0, len(text))
    shown = []
    for said in numbers_of(text, metre_of(context.metre)):
        if NO_CHORD.fullmatch(said.text):
            shown.append("no chord")
            continue
        one = echo_function(said.text, Context(context.key, context.written, quality=False))
        if not one.ok:
            return Echo(one.text, False, 0, len(text))
        shown.append(one.text)
    return Echo(" · ".join(shown), True)


def mark_by_heart(key: StoredKey, text: str, strictness: Strictness, context: Context) -> Mark:
    """The mark of one bar from memory."""
    if key.get("part") != NUMBERS:
        return _without_strangers(key, text, mark_changes(key, text, strictness, context), context)
    truth = _truth(key, context)
    if not text.strip():
        return Mark(0.0, "blank", truth, "")
    said = numbers_of(text[:LONGEST], metre_of(str(key.get("metre") or "")))
    marks = [_one(chord, said, context) for chord in key["chords"]]
    weights = [Fraction(chord["beats"]) for chord in key["chords"]]
    earned = sum(float(weight) * mark.points for weight, mark in zip(weights, marks, strict=True))
    extra = _extra(key["chords"], said, context)
    points = max(0.0, round(earned / float(sum(weights)) - EXTRA_COST * len(extra) / len(marks), 4))
    least = min(marks, key=lambda mark: mark.points)
    if extra and least.points == 1:
        least = replace(least, rule="other")
    words = [truth] if points == 1 else [*_missed(key, marks), truth, *_too_many(extra)]
    understood = " · ".join(mark.understood for mark in marks if mark.understood)
    return Mark(points, least.rule, " ".join(words), understood)


def _without_strangers(key: StoredKey, text: str, found: Mark, context: Context) -> Mark:
    """From memory a chord too many that has nothing of the one that goes on there costs as a number too many does."""
    read = read_heard(text, metre_of(str(key.get("metre") or "")), "")
    if not found.points or read.problem:
        return found
    strangers = foreign_to(key["chords"], added(key["chords"], read), reading_interval(key, context))
    points = max(0.0, round(found.points - EXTRA_COST * strangers / len(key["chords"]), 4))
    return replace(found, points=points, rule="changes-fits-key" if strangers else found.rule)


def _one(chord: Mapping[str, Any], said: tuple[Said, ...], context: Context) -> Mark:
    """The mark of one chord by what stands at its beat."""
    at = Fraction(chord["onset"])
    found = next((one for one in said if one.start <= at < one.start + one.duration), None)
    if found is None:
        return Mark(0.0, "blank", "", "")
    if chord["chord"] == "N.C." or NO_CHORD.fullmatch(found.text):
        same = chord["chord"] == "N.C." and bool(NO_CHORD.fullmatch(found.text))
        return Mark(float(same), "exact" if same else "other", "", "no chord" if same else "")
    return mark_function(chord["number"], _in_key(found, said), Strictness(False, "full"), context)


def _extra(chords: Sequence[Mapping[str, Any]], said: tuple[Said, ...], context: Context) -> list[str]:
    """The numbers that answer no chord, where they say something else than the chord that goes on there."""
    onsets = [Fraction(chord["onset"]) for chord in chords]
    found = []
    for one in said:
        if any(one.start <= at < one.start + one.duration for at in onsets):
            continue
        sounding = chords[max((place for place, at in enumerate(onsets) if at <= one.start), default=0)]
        at_it = {**sounding, "onset": str(one.start)}
        if _one(at_it, said, context).points < 1:
            found.append(one.text)
    return found


def _too_many(extra: Sequence[str]) -> list[str]:
    if not extra:
        return []
    names = " and ".join(f"“{text}”" for text in dict.fromkeys(extra))
    return [f"{names} {'are' if len(set(extra)) > 1 else 'is'} too many: the chord before goes on."]


def _in_key(found: Said, said: tuple[Said, ...]) -> str:
    """The number with the key that was typed before it in the same bar, where it has none of its own."""
    if ":" in found.text:
        return found.text
    before = [one.text for one in said if one.start < found.start and ":" in one.text]
    named = read_answer(before[-1]).key if before else None
    return f"{before[-1].partition(':')[0]}: {found.text}" if named else found.text


def _missed(key: StoredKey, marks: list[Mark]) -> list[str]:
    """What is said of the chords that earned less than all: of a bar with several, each named by its beat."""
    several = len(key["chords"]) > 1
    return [
        f"Beat {chord['beat']}: {mark.feedback}" if several else mark.feedback
        for chord, mark in zip(key["chords"], marks, strict=True)
        if mark.points < 1 and mark.feedback
    ]


def _truth(key: StoredKey, context: Context) -> str:
    move = reading_interval(key, context)
    names, last = [], str(key.get("home") or "")
    for chord in key["chords"]:
        if chord["chord"] == "N.C.":
            names.append("no chord")
            continue
        prefix = f"in {key_text(chord['key'], move)} " if chord["key"] != last else ""
        last = chord["key"]
        names.append(prefix + Function.from_json(chord["expected"]).numeral.replace("b", "♭").replace("#", "♯"))
    return f"{capital(place_name(key))} is {', '.join(names)}."
