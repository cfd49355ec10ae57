"""Numbers in words ("thirty-two", "nine", "seventeenth") as figures, for answers that count bars."""

from __future__ import annotations

import re

_UNITS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_TEENS = ("ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen")
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_ORDINALS = {
    "first": 1,
    "second": 2,
    "third": 3,
    "fifth": 5,
    "eighth": 8,
    "ninth": 9,
    "twelfth": 12,
    "twentieth": 20,
    "thirtieth": 30,
}
_VALUES = {
    **{word: number for number, word in enumerate((*_UNITS, *_TEENS), start=1)},
    **{word: 10 * number for number, word in enumerate(_TENS, start=2)},
    **_ORDINALS,
    **{
        f"{word}th": number
        for number, word in enumerate((*_UNITS, *_TEENS), start=1)
        if word not in ("one", "two", "three")
    },
}
_SMALL = "|".join(sorted(_VALUES, key=len, reverse=True))
_NUMBER = re.compile(
    rf"(?i)(?<![A-Za-z])(?:(?P<tens>{'|'.join(_TENS)})[\s-]+(?P<unit>{'|'.join(_VALUES)})|(?P<word>{_SMALL}))(?P<many>s)?(?![A-Za-z])"
)


def in_figures(text: str) -> str:
    """A text with its numbers in figures; "four eights" are four times eight.

    >>> in_figures("thirty-two bars, the bridge in bar seventeen"), in_figures("four eights"), in_figures("A A B A")
    ('32 bars, the bridge in bar 17', '4 x 8', 'A A B A')
    """
    figures = _NUMBER.sub(lambda match: f"{_value(match)}{'s' if match['many'] else ''}", text)
    figures = re.sub(r"(?<!\d)(\d{1,2})\s+(\d{1,3})s(?![A-Za-z])", r"\1 x \2", figures)
    return re.sub(r"(?<=\d)s(?![A-Za-z])", "", figures)


def _value(match: re.Match[str]) -> int:
    if match["word"]:
        return _VALUES[match["word"].lower()]
    tens, unit = _VALUES[match["tens"].lower()], _VALUES[match["unit"].lower()]
    return tens + unit if unit < 10 else tens
