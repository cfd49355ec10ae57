"""Marks what a player says about the form: letters, lengths, length of a chorus, first bar of the bridge."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from difflib import SequenceMatcher

from drills.comparers.number_words import in_figures
from drills.comparers.types import Context, Echo, Mark, StoredKey, Strictness
from drills.comparers.wording import joined
from drills.marking_rules import points_for
from tunes.harmony.charts.bar_count import bar_name

_LETTER = re.compile(r"(?<![A-Za-z])([A-Za-z])['’′]*\d{0,2}['’′]*(?![A-Za-z])")
_RUN = re.compile(r"(?<![A-Za-z])[A-Ha-h](?:['’′\d-]*[A-Ha-h])*['’′\d]*(?![A-Za-z])")
_TIMES = re.compile(r"(\d{1,2})\s*(?:x|×|\*|times)\s*(\d{1,3})", re.IGNORECASE)
_MOST = 999
_LONGEST_NAME = 60


_WORDS = re.compile(
    r"(?i)\b(?:forms?|bars?|sections?|the|is|it|each|all|every|of|in|at|starts?|bridge|chorus|times|x)\b|×"
)


def read_letters(text: str) -> tuple[str, ...]:
    """Section letters however they are set out.

    >>> read_letters("A A B A"), read_letters("a-a'-b-a''"), read_letters("32-bar AABA form"), read_letters("A1 A2 B A3")
    (('A', 'A', 'B', 'A'), ('A', 'A', 'B', 'A'), ('A', 'A', 'B', 'A'), ('A', 'A', 'B', 'A'))
    """
    text = in_figures(text)
    plain = re.sub(r"(?<![A-Za-z])\d+", " ", _WORDS.sub(" ", re.sub(r"\d+\s*[x×]\s*\d+", " ", text)))
    spaced = _LETTER.findall(plain)
    if spaced:
        return tuple(letter.upper() for letter in spaced)
    run = _RUN.search(plain)
    return tuple(letter.upper() for letter in run[0] if letter.isalpha()) if run else ()


def read_numbers(text: str) -> tuple[int, ...]:
    """Numbers of bars: "8 8 8 8", "8+8+8+8", "4 x 8", "A8 A8 B8 A8"; the figures of A1 A2 B A3 are labels.

    >>> read_numbers("4 x 8"), read_numbers("A: 8, B: 16"), read_numbers("A1 A2 B A3")
    ((8, 8, 8, 8), (8, 16), ())
    """
    text = in_figures(text)
    times = _TIMES.search(text)
    if times:
        return (min(int(times[2]), _MOST),) * min(int(times[1]), 26)
    plain = re.sub(r"[A-Za-z]['’]?\d\s*[:=]", " ", text)
    plain = re.sub(r"(?<![A-Za-z])[A-Za-z]['’]?[1-3](?!\d)", " ", plain)
    return tuple(int(number) for number in re.findall(r"(?<!\d)\d{1,3}(?!\d)", plain))


def echo_form(text: str, context: Context) -> Echo:
    """How an answer about the form is understood; only what was asked is shown when the part is known."""
    if context.part == "name" or "blues" in text.lower():
        return Echo(text.strip()[:_LONGEST_NAME], True)
    numbers, letters = read_numbers(text), read_letters(text)
    said = {
        "letters": "sections " + " ".join(letters) if letters else "",
        "numbers": _numbers_text(numbers, context.part),
    }
    shown = [words for name, words in said.items() if words and (name == _ASKS.get(context.part, name))]
    shown = shown or [words for words in said.values() if words]
    if not shown:
        return Echo("Write letters such as AABA, or numbers such as 8 8 8 8.", False, 0, len(text))
    return Echo(", ".join(shown), True)


_ASKS = {"letters": "letters", "lengths": "numbers", "bars": "numbers", "bridge": "numbers"}


def _numbers_text(numbers: Sequence[int], part: str) -> str:
    if not numbers:
        return ""
    text = " + ".join(str(number) for number in numbers)
    return f"bar {numbers[0]}" if part == "bridge" else f"{text} bars"


def mark_form(key: StoredKey, text: str, strictness: Strictness, context: Context) -> Mark:
    """The mark of one answer about the form."""
    if not text.strip():
        return _made("blank", key, "")
    if key["part"] == "name":
        return _made(_name(key, text), key, text.strip()[:_LONGEST_NAME])
    understood = echo_form(text, replace(context, part=key["part"]))
    if not understood.ok:
        return _made("unreadable", key, "", understood.text)
    rule = {"letters": _letters, "lengths": _lengths, "bars": _bars, "bridge": _bridge}[key["part"]](key, text)
    return _made(rule, key, understood.text)


def _letters(key: StoredKey, text: str) -> str:
    given, expected = read_letters(text), tuple(key["letters"])
    if given in (expected, tuple(key.get("also") or "-")):
        return "form-exact"
    if given and _pattern(given) == _pattern(expected):
        return "form-other-letters"
    if not given and read_numbers(text) == (key["bars"],):
        return "form-length-only"
    return "form-one-section" if _one_off(given, expected) else "other"


def _lengths(key: StoredKey, text: str) -> str:
    given, expected = read_numbers(text), tuple(key["lengths"])
    if given == expected or (len(given) == 1 and set(expected) == set(given)):
        return "form-exact"
    if given == (key["bars"],):
        return "form-length-only"
    if len(given) > 1 and sum(given) == key["bars"] and _coarser(given, expected):
        return "form-coarser"
    return "form-one-section" if _one_off(given, expected) else "other"


def _bars(key: StoredKey, text: str) -> str:
    given, expected = read_numbers(text), int(key["bars"])
    if given == (expected,) or (len(given) > 1 and given == tuple(key["lengths"])):
        return "form-exact"
    if len(given) == 1 and given[0] in (expected * 2, expected / 2):
        return "form-half-or-double"
    return "form-near" if len(given) == 1 and abs(given[0] - expected) == 1 else "other"


def _bridge(key: StoredKey, text: str) -> str:
    given, (expected, others) = read_numbers(text), _bridge_bars(key)
    if not given:
        return "form-letter-for-bar" if read_letters(text) == ("B",) else "other"
    if given[0] == expected:
        return "form-exact"
    if given[0] in others:
        return "form-other-count"
    return "form-near" if any(abs(given[0] - bar) == 1 for bar in (expected, *others)) else "other"


def _bridge_bars(key: StoredKey) -> tuple[int, tuple[int, ...]]:
    """The bar of the bridge in the chorus as played, and its numbers by other counts: as printed on the chart, and as
    played from the top of the chart when an introduction stands there."""
    at = list(key["letters"]).index("B")
    bar = sum(key["lengths"][:at]) + 1
    counts = (key[count][at] for count in ("starts", "played") if len(key.get(count) or ()) > at)
    return bar, tuple(dict.fromkeys(count for count in counts if count != bar))


def _bridge_name(key: StoredKey) -> str:
    """ "bar 17 (written 9)"; after an introduction the bar of the form is said too."""
    bar, _others = _bridge_bars(key)
    at = list(key["letters"]).index("B")
    written = key["starts"][at] if len(key.get("starts") or ()) > at else None
    played = key["played"][at] if len(key.get("played") or ()) > at else bar
    after = "" if played == bar else f", bar {bar} of the form after the introduction"
    return bar_name(played, written) + after


def _name(key: StoredKey, text: str) -> str:
    """ "Blues" is the name; the number of bars alone is half of it."""
    if "blues" in text.lower():
        numbers = read_numbers(text)
        return "form-exact" if numbers in ((), (key["bars"],)) else "form-name-other-length"
    return "form-length-only" if read_numbers(text) == (key["bars"],) else "other"


def _pattern(letters: Sequence[str]) -> tuple[int, ...]:
    order = list(dict.fromkeys(letters))
    return tuple(order.index(letter) for letter in letters)


def _one_off(given: Sequence[object], expected: Sequence[object]) -> bool:
    """One section changed, added or left out, in a form of at least three."""
    if len(expected) < 3 or abs(len(given) - len(expected)) > 1:
        return False
    same = sum(
        block.size for block in SequenceMatcher(None, list(given), list(expected), autojunk=False).get_matching_blocks()
    )
    return same >= max(len(given), len(expected)) - 1


def _coarser(given: Sequence[int], expected: Sequence[int]) -> bool:
    """Neighbouring sections counted as one, or one section counted in halves."""
    edges = [sum(given[: i + 1]) for i in range(len(given))]
    truth = [sum(expected[: i + 1]) for i in range(len(expected))]
    return set(edges) <= set(truth) or set(truth) <= set(edges)


_OPENERS = {
    "form-exact": "That is it.",
    "form-other-letters": "The pattern is right, under other letters.",
    "form-length-only": "The length of the whole is right; the sections were asked.",
    "form-one-section": "All but one section is right.",
    "form-coarser": "The whole adds up; the sections divide it otherwise.",
    "form-name-other-length": "The name is right; count the bars once more.",
    "form-half-or-double": "Counted twice as fast or half as fast.",
    "form-near": "One bar off.",
    "form-other-count": "The right place, by the number written on the chart.",
    "form-letter-for-bar": "The bridge is B, as you say; its bar was asked.",
    "other": "Listen once more for where the same music comes back.",
    "blank": "",
    "unreadable": "",
}


def _made(rule: str, key: StoredKey, understood: str, problem: str = "") -> Mark:
    words = " ".join(part for part in (problem, _OPENERS[rule], _truth(key)) if part)
    return Mark(points_for(rule, False), rule, words, understood)


def _truth(key: StoredKey) -> str:
    letters, lengths = "".join(key["letters"]), list(key["lengths"])
    if key["part"] == "name":
        return f"It is a {key['name']}. {key.get('reason') or ''}".strip()
    if key["part"] == "bridge":
        return f"As played, the bridge starts in {_bridge_name(key)}: the first new music after the opening sections."
    if key["part"] == "bars" or len(lengths) == 1:
        return f"One chorus is {key['bars']} bars."
    each = f"{lengths[0]} bars each" if len(set(lengths)) == 1 else joined([str(n) for n in lengths]) + " bars"
    return f"The form is {letters}, {each}, {key['bars']} in all: the same letter is the same music."
