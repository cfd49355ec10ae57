"""Filters of the work pages: points, names of rules and kinds."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any

from django import template

from tunes.harmony.chords import ChordSymbol, parse_symbol
from tunes.harmony.readings.function import Function
from tunes.templatetags.tunes import chord, key_display, signs

from ..kinds import KINDS, QUIZ

register = template.Library()


@register.filter
def points(value: float) -> str:
    """Points in the one form they have everywhere: 1, 0.5, 0.75, 18.4."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


TIMES = {2: "second time", 3: "third time", 4: "fourth time"}


@register.filter
def time_name(number: int) -> str:
    """Which time through a repeat a chord is met: "second time"."""
    return TIMES.get(number, f"time {number}")


@register.filter
def in_table(table: Mapping[Any, Any], key: Any) -> Any:
    """What a table holds under a key, nothing where it holds none."""
    return (table or {}).get(key)


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
def key_in_words(key: Mapping[str, Any]) -> str:
    """What a stored key says is right: a function in its key, the scales, or the keys bar by bar (as played)."""
    if key.get("expected"):
        return f"{numeral_of(key['expected'])} in {key_display(key['key'])}"
    if key.get("scales"):
        return signs(", or ".join(f"{key['root']} {scale['name']}" for scale in key["scales"]))
    rows = key.get("as_played") or key.get("areas") or ()
    return ", ".join(f"{row['bar']} {key_display(row['key'])}" for row in rows)


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
