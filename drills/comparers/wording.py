"""Words that feedback and prompts share: chords, notes and keys in the pitch the player reads."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drills.comparers.types import Context, StoredKey
from tunes.harmony.analysis.key_areas.names import readable_key
from tunes.harmony.charts.bar_count import PICKUP, bar_name
from tunes.harmony.chords import parse_symbol
from tunes.harmony.explain.sentences import told
from tunes.harmony.pitch.spelling import UNISON, Interval, Key, NoteName, SpellingError, sensible
from tunes.harmony.readings.reason import Reason


def reading_interval(key: StoredKey, context: Context) -> Interval:
    """From concert to the pitch on the player's page: the instrument's interval, respelled where the home key
    would have more than six signs (an alto part in concert B is in A flat, not in G sharp)."""
    try:
        home = Key.parse(str(key.get("home") or ""))
    except SpellingError:
        return context.interval
    moved = home.transposed(context.interval)
    change = sensible(moved).tonic.fifths - moved.tonic.fifths
    return respelled(context.interval, change)


def respelled(interval: Interval, fifths: int) -> Interval:
    """The same sounding interval moved by enharmonic turns of twelve fifths (a diminished second each)."""
    return Interval(interval.steps - fifths // 12, interval.semitones)


def chord_text(text: str, interval: Interval) -> str:
    """A chord symbol for the page, transposed; N.C. and unreadable texts as they are."""
    symbol = parse_symbol(text).symbol if text else None
    return symbol.transposed(interval).display if symbol else (text or "N.C.")


def note_text(text: str, interval: Interval) -> str:
    """A note name for the page, transposed."""
    return (NoteName.parse(text) + interval).display


def key_text(text: str, interval: Interval) -> str:
    """A key for the page, transposed: "A♭" for a major key, "A♭ minor" for a minor one, "A♭ dorian"."""
    stored = Key.parse(text)
    key = readable_key(stored.transposed(interval)) if interval != UNISON else stored
    return key.tonic.display + ("" if key.word == "major" else f" {key.word}")


def reason_text(stored: Any, interval: Interval) -> str:
    """The reason of a stored key in words, in the pitch the player reads. A key from before reasons were data has a sentence: it
    is shown as it stands, and names concert keys."""
    if isinstance(stored, Mapping):
        moved = Reason.from_json(stored).transposed(interval)
        return told(moved.with_keys(readable_key) if interval != UNISON else moved, signs=True)
    text = str(stored or "")
    return f"{text.rstrip('.')} (in concert pitch)." if text and interval != UNISON else text


def place_name(key: Mapping[str, Any]) -> str:
    """The bar of a stored key or goal: "bar 17 (written 9)", "the pickup". Keys from before both counts were kept get theirs
    where they are marked (`assessments.bars`); one without is named as written."""
    written = key.get("bar")
    if written is None:
        return "this chord"
    name = bar_name(int(key.get("played", written)), int(written))
    return f"the {name}" if name == PICKUP else name


def capital(text: str) -> str:
    """The first letter as a capital, the rest untouched."""
    return text[:1].upper() + text[1:]


def joined(items: list[str], last: str = "and") -> str:
    """ "A, B and C"."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


_DEGREE_WORDS = {
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


def degree_name(degree: str) -> str:
    """ "b7" → "♭7th", "3" and "b3" → "3rd" (the chord's own third needs no sign)."""
    plain = degree.lstrip("#b")
    word = _DEGREE_WORDS.get(plain, plain)
    if plain in ("3", "7") and not degree.startswith("#"):
        return word
    return degree[: len(degree) - len(plain)].replace("b", "♭").replace("#", "♯") + word
