"""Filters of the work pages: points, names of rules and kinds."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any

from django import template
from django.utils import timezone
from django.utils.dateformat import format as date_format

from drills.kinds import question_kind
from tunes.harmony.charts.bar_count import bar_name
from tunes.harmony.chords import ChordSymbol, parse_symbol
from tunes.harmony.readings.function import Function
from tunes.templatetags.tunes import chord, signs

from ..bars import Bars
from ..kinds import KINDS, QUIZ

register = template.Library()


@register.filter
def points(value: float) -> str:
    """Points in the one form they have everywhere: 1, 0.5, 0.75, 18.4."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


@register.filter
def once(drawn: str) -> str:
    """A bar as drawn by its first number alone: the button that plays it plays it once.

    >>> once("bar 3, and 11 the second time")
    'bar 3'
    """
    return drawn.partition(",")[0]


@register.filter
def in_table(table: Mapping[Any, Any], key: Any) -> Any:
    """What a table holds under a key, nothing where it holds none."""
    return (table or {}).get(key)


@register.filter
def drawn(bars: Bars | None, written: int) -> str:
    """What the bar written under a number is called: "bar 3, and 11 the second time"."""
    return bars.drawn(written) if bars else bar_name(written)


@register.filter
def rule_name(rules: Mapping[str, Any], rule: str) -> str:
    """The name of a marking rule; its id if the table no longer has it."""
    found = rules.get(rule)
    return found.name if found else rule


@register.filter
def all_full(rows: Iterable[Any]) -> bool:
    """Whether every row of a bar has its full points."""
    return all(row.points >= 1 for row in rows)


@register.filter
def all_done(states: Iterable[Any]) -> bool:
    """Whether every step of an assignment is done."""
    return all(state.state == "done" for state in states)


@register.filter
def kind_name(kind: str) -> str:
    return KINDS[kind].name if kind in KINDS else kind


@register.filter
def kind_short(kind: str) -> str:
    return KINDS[kind].short if kind in KINDS else kind


@register.filter
def is_quiz(kind: str) -> bool:
    return kind in KINDS and KINDS[kind].how == QUIZ


@register.filter
def numeral_of(function: Mapping[str, Any]) -> str:
    """The written form of a stored function, with real signs."""
    return signs(Function.from_json(function).numeral)


@register.filter
def spoken_of(function: Mapping[str, Any]) -> str:
    """The spoken form of a stored function."""
    return Function.from_json(function).spoken


@register.filter
def key_in_words(key: Mapping[str, Any], kind: str) -> str:
    """What the stored key of a question says is right, with real signs."""
    words = question_kind(kind).key_in_words
    return signs(words(key)) if words else ""


@register.filter
def first_source(rules: Iterable[Any]) -> str:
    """The sources the marking table names, each once."""
    return "; ".join(dict.fromkeys(rule.source for rule in rules))


@lru_cache(maxsize=1024)
def _symbol(text: str) -> ChordSymbol | None:
    return parse_symbol(text).symbol


@register.simple_tag
def chord_text(text: str) -> str:
    """A stored chord, drawn as the chart draws it."""
    return chord(_symbol(text))


@register.simple_tag
def new_token() -> str:
    """A token for a form, so that a double click sends once."""
    return str(uuid.uuid4())


SIGNS = (("none", "not asked"), ("to-do", "to do"), ("begun", "begun"), ("sent", "handed in"), ("done", "done"))
_SIGN_OF = {"to-do": "to-do", "back": "begun", "writing": "begun", "sent": "sent", "done": "done"}


@register.filter
def sign_of(state: Any) -> str:
    """Which of the strokes stands for the state of a step."""
    return "none" if state.excused and state.shows == "to-do" else _SIGN_OF[state.shows]


@register.filter
def done_of(states: Sequence[Any]) -> str:
    """How many of several steps are done: "2 of 6"."""
    return f"{sum(state.state == 'done' for state in states)} of {len(states)}"


@register.filter
def sign_word(state: Any) -> str:
    """A step and how far it is, in words: "Function of every chord: begun, 4 answered, late"."""
    return f"{state.step.name}: {state_words(state)}"


def counted(times: int, asked: int) -> str:
    """How often of how often; more than is asked is no fault: "2 of 3", "6 times, 3 asked"."""
    return f"{times} times, {asked} asked" if times > asked else f"{times} of {asked}"


@register.filter
def state_words(state: Any) -> str:
    """How far a step is: "begun, 4 answered, late"."""
    parts = ["excused" if state.excused else state.word.lower()]
    if state.step.about.how == "log" and state.heard:
        parts.append(f"heard {counted(state.heard, state.step.times)}")
    elif state.state == "writing" and state.last and getattr(state.last, "filled", 0):
        parts.append(f"{state.last.filled} answered")
    elif state.best is not None:
        parts.append(f"{state.best}%")
    if state.closed:
        parts.append("after the changes by ear")
    if state.overdue:
        parts.append("late")
    return ", ".join(parts)


@register.inclusion_tag("assessments/_sign_key.html")
def sign_key() -> dict[str, Any]:
    """What the signs say, for under a grid of them."""
    return {"signs": SIGNS}


@register.filter
def in_days(days: int | None) -> str:
    """How far ahead a day is: "today", "tomorrow", "in 3 days"."""
    return {0: "today", 1: "tomorrow"}.get(days or 0, f"in {days} days")


@register.filter
def days_ago(days: int | None) -> str:
    """How far back a day is, from a negative number: "yesterday", "2 days ago"."""
    past = -(days or 0)
    return {0: "earlier today", 1: "yesterday"}.get(past, f"{past} days ago")


@register.filter
def standing_sign(step: Any) -> str:
    """Which of the signs stands for how far one kind of step is on one tune (a `StepStanding`)."""
    if step.done:
        return "done"
    if step.sent:
        return "sent"
    if step.late:
        return "late"
    if step.begun or step.facts:
        return "begun"
    return "to-do" if step.asked else "none"


_STANDING_WORDS = {**dict(SIGNS), "late": "late"}


@register.filter
def standing_word(step: Any) -> str:
    """One kind of step on one tune in words: "Function of every chord: done 25 Nov 2026, best 84%"."""
    sign = standing_sign(step)
    words = _STANDING_WORDS[sign]
    if sign == "late":
        begun = "begun, " if step.begun or step.facts else ""
        words = f"{begun}was due {date_format(timezone.localtime(step.late), 'j M')}"
    if step.done and step.done_on:
        words = f"done {date_format(timezone.localtime(step.done_on), 'j M Y')}"
    if step.times > 1:
        words += f", {counted(step.count, step.times)}"
    elif step.best is not None and is_quiz(step.kind):
        words += f", best {step.best}%"
    return f"{kind_name(step.kind)}: {words}"
