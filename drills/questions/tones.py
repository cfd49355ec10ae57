"""Kinds "chord-tones" (spell the chord), "guide-tones" (its 3rd and 7th) and "nearest" (nearest note of the next).

A chord that comes back is asked once unless every section is wanted.  Natural 9ths, 11ths and 13ths of a symbol
may be left out of its spelling; altered ones are asked.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from typing import Any

from drills.questions.base import KeyJson, Options, Question
from drills.questions.places import Place, places
from tunes.harmony.charts.bars import Event
from tunes.harmony.charts.model import Chart
from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.pitch.spelling import NoteName

Made = tuple[KeyJson, str] | None
_OPTIONAL = ("9", "11", "13")
ALTERED_FREE = ("b9", "#9", "#11", "b13", "b5", "#5")
"""Of a chord written "7alt" root, 3rd and 7th are asked; which alterations are played is the player's choice."""


def build_chord_tones(study: Any, options: Options, seed: int) -> tuple[Question, ...]:
    """Spell the tones of each chord."""
    return _per_chord("chord-tones", study, options, seed, lambda event, following, rng: _chord_tones(event))


def build_guide_tones(study: Any, options: Options, seed: int) -> tuple[Question, ...]:
    """Give the 3rd and 7th of each chord, or what stands for them."""
    return _per_chord("guide-tones", study, options, seed, lambda event, following, rng: _guide_tones(event))


def build_nearest(study: Any, options: Options, seed: int) -> tuple[Question, ...]:
    """From the 3rd or 7th of each chord (the seed decides which) to the nearest note of the next."""
    return _per_chord("nearest", study, options, seed, _nearest)


def _per_chord(
    kind: str,
    study: Any,
    options: Options,
    seed: int,
    make: Callable[[Event, Event | None, random.Random], Made],
) -> tuple[Question, ...]:
    chart: Chart = study.chart
    events, where, rng = chart.events(), places(chart), random.Random(seed)
    home = study.analysis.home.text
    asked: dict[object, int] = {}
    also: dict[int, list[int]] = {}
    made: list[Question] = []
    for event in events:
        following = _next_chord(events, event)
        mark = (event.symbol, following.symbol if kind == "nearest" and following else None)
        if event.symbol is None or (options.bars and where[event.index].bar not in options.bars):
            continue
        if mark in asked and not options.every_section:
            also.setdefault(asked[mark], []).append(event.index)
            continue
        found = make(event, following, rng)
        if found is not None:
            asked[mark] = event.index
            made.append(_question(kind, event, where[event.index], home, *found))
    return _drawn([_with_also(question, also) for question in made], options.count, rng)


def _with_also(question: Question, also: dict[int, list[int]]) -> Question:
    found = also.get(int(question.key["event"]), ())
    return Question(
        question.id, question.kind, question.prompt, question.event, question.bar, question.key, question.context,
        tuple(found), question.answer_form,
    )  # fmt: skip


def _drawn(questions: Sequence[Question], count: int, rng: random.Random) -> tuple[Question, ...]:
    """``count`` of the questions, in the order of the form; all of them when it is 0."""
    if not count or count >= len(questions):
        return tuple(questions)
    kept = sorted(rng.sample(range(len(questions)), count))
    return tuple(questions[place] for place in kept)


def _question(kind: str, event: Event, place: Place, home: str, key: KeyJson, prompt: str) -> Question:
    assert event.symbol is not None
    full = {
        "kind": kind, "event": event.index, "bar": place.bar, "played": place.played, "beat": place.beat, "pass": place.pass_no,
        "chord": event.symbol.text, "home": home, **key,
    }  # fmt: skip
    context = {"chord": event.symbol.text, "section": place.section, "beat": place.beat, "home": home}
    context |= {name: key[name] for name in ("from", "degree", "next") if name in key}
    return Question(
        f"{kind}:{event.index}",
        kind,
        f"{place.text}: {prompt}",
        None if kind == "nearest" else event.index,
        place.bar,
        full,
        context,
        answer_form="notes",
    )


def _next_chord(events: Sequence[Event], event: Event) -> Event | None:
    """The next event with another chord, none after the last: the form may go anywhere from there."""
    for other in events[event.index + 1 :]:
        if other.symbol is None:
            return None
        if other.symbol != event.symbol:
            return other
    return None


def _pairs(symbol: ChordSymbol) -> list[tuple[str, NoteName]]:
    return list(zip(symbol.degrees, symbol.tones, strict=True))


def _chord_tones(event: Event) -> Made:
    symbol = event.symbol
    assert symbol is not None
    pairs = _pairs(symbol)
    free = ALTERED_FREE if symbol.is_altered else _OPTIONAL
    asked = [[degree, note.text] for degree, note in pairs if degree not in free]
    optional = [note.text for degree, note in pairs if degree in free]
    if symbol.bass is not None and symbol.bass.pc not in symbol.pcs:
        optional.append(symbol.bass.text)
    return {"asked": asked, "optional": optional}, "spell the tones of {chord}."


def guide_pairs(symbol: ChordSymbol) -> list[tuple[str, NoteName]]:
    """3rd (4th of a suspended chord) and 7th (6th of a sixth chord), as far as the chord has them."""
    wanted = [("3", "b3", "4", "2"), ("7", "b7", "bb7", "6")]
    pairs = dict(_pairs(symbol))
    found = [next(((degree, pairs[degree]) for degree in group if degree in pairs), None) for group in wanted]
    return [pair for pair in found if pair is not None]


def _guide_tones(event: Event) -> Made:
    symbol = event.symbol
    assert symbol is not None
    pairs = guide_pairs(symbol)
    if not pairs:
        return None
    key: KeyJson = {"asked": [[degree, note.text] for degree, note in pairs], "optional": []}
    if len(pairs) == 1:
        key["optional"] = [symbol.root.text]
        key["remark"] = "The chord has no 7th or 6th: the root stands in for it."
    elif pairs[1][0] == "6":
        key["remark"] = "In a sixth chord the 6th stands for the 7th."
    if pairs[0][0] in ("4", "2"):
        key["remark"] = (
            f"In a suspended chord the {pairs[0][0]}{'th' if pairs[0][0] == '4' else 'nd'} stands for the 3rd."
        )
    return key, "give the 3rd and 7th of {chord}."


def half_steps(one: NoteName, other: NoteName) -> int:
    """The shorter way between two note names, 0 to 6 half steps."""
    up = (other.pc - one.pc) % 12
    return min(up, 12 - up)


def _nearest(event: Event, following: Event | None, rng: random.Random) -> Made:
    assert event.symbol is not None
    if following is None or following.symbol is None:
        return None
    pairs = guide_pairs(event.symbol)
    tones = list(following.symbol.tones)
    if not pairs or not tones:
        return None
    degree, origin = rng.choice(pairs)
    distance = min(half_steps(origin, tone) for tone in tones)
    nearest = [tone.text for tone in tones if half_steps(origin, tone) == distance]
    key: KeyJson = {
        "from": origin.text, "degree": degree, "next": following.symbol.text, "nearest": nearest,
        "tones": [tone.text for tone in tones], "distance": distance,
    }  # fmt: skip
    return key, "from {from}, the {degree} of {chord}, which note of {next} is nearest?"
