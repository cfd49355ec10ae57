"""The words and signs in which musicians name a chord by number, and the cutting of a text into them.

Data first: ``TOKENS`` lists, in order, what is looked for at each place of the text.  Everything is common
practice, no source: numerals in either case, figures, ordinal words, accidentals as signs or words.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

LONGEST = 120
"""An answer longer than this is not read: no chord has a name that long."""

SIGNS: dict[str, str] = {
    "♭": "b",
    "♯": "#",
    "♮": "",
    "𝄫": "bb",
    "𝄪": "##",
    "△": "Δ",
    "∆": "Δ",
    "Ø": "ø",
    "∅": "ø",
    "º": "°",
    "˚": "°",
    "−": "-",
    "–": "-",
    "—": "-",
    "‑": "-",
    "⁄": "/",
    "∕": "/",
    "÷": "/",
    "：": ":",
    "→": ">",
    "⟶": ">",
    "’": "'",
    "\u00a0": " ",
    "\u200b": "",
    "ˢ": "s",
}

NUMBER_WORDS: dict[str, str] = {
    "one": "1",
    "two": "2",
    "three": "3",
    "four": "4",
    "five": "5",
    "six": "6",
    "seven": "7",
    "first": "1",
    "second": "2",
    "third": "3",
    "fourth": "4",
    "fifth": "5",
    "sixth": "6",
    "seventh": "7",
    "1st": "1",
    "2nd": "2",
    "3rd": "3",
    "4th": "4",
    "5th": "5",
    "6th": "6",
    "7th": "7",
    "nine": "9",
    "ninth": "9",
    "9th": "9",
    "thirteen": "13",
    "thirteenth": "13",
    "13th": "13",
    "tonic": "1",
    "home": "1",
    "supertonic": "2",
    "mediant": "3",
    "subdominant": "4",
    "submediant": "6",
    "leading tone": "7",
}

ROMAN: dict[str, str] = {"i": "1", "ii": "2", "iii": "3", "iv": "4", "v": "5", "vi": "6", "vii": "7"}

_END = r"(?![a-z])"
_NUMBERS = "|".join(sorted(NUMBER_WORDS, key=len, reverse=True))

TOKENS: tuple[tuple[str, str], ...] = (
    ("none", rf"(?i:n\.?\s?c\.?{_END}|no\s+chord|no\s+harmony|tacet{_END}|silence{_END}|none{_END})"),
    ("backdoor", r"(?i:back[\s-]*door)"),
    ("number", rf"(?i:{_NUMBERS}){_END}"),
    (
        "sub",
        r"(?i:tri-?tone(?:\s+sub(?:stitut(?:e|ion))?)?|tt\s*sub|sub(?:stitut(?:e|ion))?)[.\s-]*(?=$|[^a-z]|(?i:[iv]|b[iv\d]|for|of))",
    ),
    ("double", rf"(?i:double[\s-]+dominant){_END}"),
    ("neapolitan", rf"(?i:neapolitan(?:\s+(?:sixth|6th|6))?){_END}|N6(?!\d)"),
    ("common", r"(?i:common[\s-]*tone|c\.?t\.?(?=\s*(?:°|o\s?7|o$|dim)))"),
    ("of", rf"/|\\|>|->|(?i:of|for|to|over|on){_END}"),
    ("related", rf"(?i:related|rel\.?){_END}"),
    (
        "skip",
        rf"(?i:the|an|a|its|chord|chords|secondary|applied|extended|passing|borrowed|auxiliary|degree|function|number|natural){_END}|[()\[\]{{}},.'\"|]|=$|\?",
    ),
    ("add", r"(?i:add|omit|no)(?=\s*\d)"),
    ("halfdim", rf"ø|(?i:half[\s-]*dim(?:inished)?|hdim){_END}"),
    ("dim", rf"°|(?i:dim(?:inished)?){_END}|[oO](?![a-zA-Z])"),
    ("dom", rf"(?i:dominant|dom){_END}"),
    ("aug", rf"\+|(?i:augmented|aug){_END}"),
    ("sus", r"(?i:suspended|sus)\s?[24]?(?![a-z\d])"),
    ("alt", rf"(?i:altered|alt){_END}"),
    ("maj", rf"(?i:major|maj|ma){_END}|M(?![a-zA-Z])|Δ"),
    ("min", rf"(?i:minor|min|mi){_END}|m(?=maj|ma|M)|m(?![a-zA-Z])|-"),
    ("acc", r"(?i:flat|sharp)(?![a-z])|b{1,2}(?=\s?\(?[#b]?[ivIV\d])|B(?=[IViv\d])|#{1,2}"),
    (
        "roman",
        r"(?:VII|VI|V|IV|III|II|I)(?![IViv])|(?:vii|vi|v|iv|iii|ii|i)(?![IViv])|(?i:vii|vi|v|iv|iii|ii|i)(?![IViv])",
    ),
    ("digits", r"\d+"),
)

_MASTER = re.compile("|".join(f"(?P<{name}>{pattern})" for name, pattern in TOKENS), re.ASCII)


@dataclass(frozen=True, slots=True)
class Token:
    """One word or sign: its kind (a name in ``TOKENS``, or "unknown"), its text, and where it stands in
    the text as typed (end exclusive)."""

    kind: str
    text: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Plain:
    """A text with its signs made plain, and for every character the place it comes from."""

    text: str
    origin: tuple[int, ...]

    def where(self, start: int, end: int) -> tuple[int, int]:
        """Offsets in the text as typed."""
        if not self.origin or start >= len(self.text):
            return (self.origin[-1] + 1,) * 2 if self.origin else (0, 0)
        return self.origin[start], self.origin[max(start, min(end, len(self.text)) - 1)] + 1

    def cut(self, start: int, end: int) -> Plain:
        """A part of it, with the same origins."""
        return Plain(self.text[start:end], self.origin[start:end])


def plain(text: str) -> Plain:
    """Unicode signs and forms to ASCII, keeping track of the places.

    >>> plain("♭Ⅶ7").text, plain("iiø").text
    ('bVII7', 'iiø')
    """
    out: list[str] = []
    origin: list[int] = []
    for place, sign in enumerate(text):
        folded = SIGNS[sign] if sign in SIGNS else unicodedata.normalize("NFKC", sign)
        for one in folded:
            out.append(SIGNS.get(one, one) if len(SIGNS.get(one, one)) == 1 else one)
            origin.append(place)
    return Plain("".join(out), tuple(origin))


def tokens(source: Plain) -> tuple[Token, ...]:
    """The text cut into words and signs, blanks and filler words left out.

    >>> [t.kind for t in tokens(plain("subV7 of the flat 3"))]
    ['sub', 'roman', 'digits', 'of', 'acc', 'digits']
    """
    found: list[Token] = []
    place, text = 0, source.text
    while place < len(text):
        if text[place].isspace():
            place += 1
            continue
        match = _MASTER.match(text, place)
        if match is not None and match.end() > place:
            kind, end = str(match.lastgroup), match.end()
        else:
            kind, end = "unknown", _word_end(text, place)
        if kind != "skip":
            found.append(Token(kind, text[place:end].strip(), *source.where(place, end)))
        place = end
    return tuple(found)


def _word_end(text: str, place: int) -> int:
    end = place + 1
    if text[place].isalpha():
        while end < len(text) and text[end].isalpha():
            end += 1
    return end
