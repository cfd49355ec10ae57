"""Template tags that set chord symbols, keys and functions as text with names for screen readers."""

from __future__ import annotations

import re
from typing import Any

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from studio.instruments import in_sentence
from tunes import chord_width
from tunes.engine import pattern_words
from tunes.harmony.charts.bar_count import BarCount
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.explain.sentences import told as in_words
from tunes.harmony.pitch.spelling import Key, SpellingError
from tunes.harmony.readings.reason import Reason

register = template.Library()
_ACCIDENTAL = re.compile(r"(?<![a-z])[b#]+(?=[IViv\d])|#")
NO_CHORD = mark_safe(
    '<span class="chord chord--none"><span aria-hidden="true">N.C.</span>'
    '<span class="visually-hidden">no chord</span></span>'
)

_SPECIAL = {
    "?": mark_safe(
        '<span class="chord chord--blank"><span aria-hidden="true">?</span>'
        '<span class="visually-hidden">not yet known</span></span>'
    ),
    "/": mark_safe(
        '<span class="chord chord--held"><span aria-hidden="true">∕</span>'
        '<span class="visually-hidden">held</span></span>'
    ),
}


@register.filter
def bar_named(count: BarCount, index: int) -> str:
    """What the bar at an index of the chart is called: "bar 17 (written 9)", "bar 3, and 11 the second time"."""
    return count.drawn_name(index)


@register.filter
def bar_number(count: BarCount, index: int) -> int:
    """The number that the bar at an index goes by."""
    return count.first(index)


@register.filter
def bar_besides(count: BarCount, index: int) -> str:
    """What stands beside that number: "written 9", or ""."""
    return count.besides(index)


@register.filter
def drawn_bar(count: BarCount, written: int) -> str:
    """What the bar that is printed under a number is called."""
    return count.drawn_at(written)


@register.simple_tag
def chord(symbol: ChordSymbol | None, fit: str = "") -> SafeString:
    """One chord symbol as text; N.C. for None. `fit`: a class that says how wide it is."""
    if symbol is None:
        return NO_CHORD
    parts = symbol.display_parts
    spans = [
        ("chord__root", parts.root),
        ("chord__accidental", parts.accidental),
        ("chord__body", parts.body),
        ("chord__raised", parts.superscript),
        ("chord__bass", parts.bass),
    ]
    shown = format_html_join("", '<span class="{}">{}</span>', (span for span in spans if span[1]))
    return format_html(
        '<span class="chord{}"><span aria-hidden="true">{}</span><span class="visually-hidden">{}</span></span>',
        f" {fit}" if fit else "",
        shown,
        symbol.spoken,
    )


@register.simple_tag
def slot_chord(slot: Any) -> SafeString:
    """What stands in a slot: a chord, N.C., a blank to be filled, a chord held over the bar line, unread text."""
    if slot.symbol is not None:
        return chord(slot.symbol, chord_width.symbol_class(slot.symbol))
    if slot.text in ("", "N.C."):
        return NO_CHORD
    if slot.text in _SPECIAL:
        return _SPECIAL[slot.text]
    return format_html(
        '<span class="chord chord--unread {}">{}<span class="visually-hidden"> (not read)</span></span>',
        chord_width.text_class(slot.text),
        slot.text,
    )


register.filter(in_sentence)


@register.filter
def key_display(value: Any) -> str:
    """A key, or its text, with real signs: "Eb major" → "E♭ major". Text that is no key stays as it is."""
    if isinstance(value, Key):
        return value.display
    try:
        return Key.parse(value).display if value else ""
    except SpellingError:
        return str(value)


@register.filter
def signs(text: str) -> str:
    """Accidentals of a numeral or degree with real signs: "bVII7" → "♭VII7", "subV/b3" → "subV/♭3"."""
    return _ACCIDENTAL.sub(lambda found: found[0].replace("b", "♭").replace("#", "♯"), text)


@register.filter
def told(reason: Reason) -> str:
    """A reason in words, its keys with real signs: "E♭ major rests here.\""""
    return in_words(reason, signs=True)


@register.filter
def function_text(function: Any, words: str = "numeral") -> str:
    """A function in the form asked for: "numeral" (♭VII7) or "spoken" (flat 7)."""
    return function.spoken if words == "spoken" else signs(function.numeral)


@register.filter
def strength(margin: float) -> str:
    """How much weaker another reading is, in words (0 means as good, about 10 means hardly)."""
    for most, words in ((0.5, "as good"), (2.0, "nearly as good"), (5.0, "weaker")):
        if margin <= most:
            return words
    return "much weaker"


@register.simple_tag
def tempo_range(tune: Any) -> str:
    """ "120–180", "about 120", or nothing."""
    low, high = tune.tempo_low, tune.tempo_high
    if low and high and low != high:
        return f"{low}–{high}"
    return f"about {low or high}" if low or high else ""


@register.filter
def progressions(patterns: tuple[str, ...]) -> str:
    """The progressions that a reading belongs to, in words, each once."""
    return "; ".join(dict.fromkeys(pattern_words(pattern) for pattern in patterns))
