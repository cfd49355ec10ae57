"""The marks of chart text: how a line is cut into barlines, chords, signs and comments.

The notation is described for its users in docs/chart-text.md.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction

from tunes.harmony.charts.bars import Metre

_SIGN = r"D\.?\s?[SC]\.?(?:\s+al\s+(?:coda|fine))?|to\s+coda|fine|segno|coda"
_TOKEN = re.compile(
    r"""(?P<comment>"[^"]*"|"[^"|]*)
    |(?P<angle><[^<>|"]*>?)
    |(?P<barline>:\s?\|{1,2}\s?:|\|{1,2}:|:\|{1,2}(?:\s*x\s*\d{1,2}(?![\d.])|\s*\d{1,2}\s*x(?!\w))?|\|\]|\|{1,2})
    |(?P<ending>\d{1,2}(?:\s*[,\-–]\s*\d{1,2})*\.(?![\d/]))
    |(?P<metre>\(?\d{1,2}/\d{1,2}\)?(?=[\s|:]|$))
    |(?P<sign>(?:"""
    + _SIGN.replace(" ", r"\ ")
    + r""")(?=[\s|"<:]|$))
    |(?P<none>(?:n\.\s?c\.?|nc)(?:@[\d./]*)?(?=[\s|:/"<]|$))
    |(?P<beats>/+(?=[\s|"<:]|$))
    |(?P<copy>%+(?:\d{1,2})?(?=[\s|:"<]|$))
    |(?P<label>\[[^\W_][\w'.’\-]{0,40}\](?=[\s|:"<]|$))
    |(?P<chord>(?:[^\s|"<:()]|:(?!\|)|\([^()|"]*\)|[()])+)
    |(?P<stray>.)""",
    re.IGNORECASE | re.VERBOSE,
)
_ALIKE = str.maketrans({"｜": "|", "│": "|", "┃": "|", "¦": "|", "𝄀": "|", "𝄁": "|", "“": '"', "”": '"', "„": '"',
                        "𝄎": "%", "‰": "%", "\t": " ", "\u00a0": " "})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Token:
    """A mark of one line; start and end are offsets in the whole text (width: as typed, when text was mended)."""

    kind: str
    text: str
    start: int
    width: int = -1

    @property
    def end(self) -> int:
        return self.start + (len(self.text) if self.width < 0 else self.width)


def line_tokens(line: str, offset: int) -> list[Token]:
    """Every mark of a line, spaces left out. Signs that look alike count as the same, one for one."""
    plain = line.translate(_ALIKE)
    tokens: list[Token] = []
    for match in _TOKEN.finditer(plain):
        kind = match.lastgroup or "stray"
        if kind == "stray" and match[0].isspace():
            continue
        tokens.append(Token(kind, match[0], offset + match.start()))
    return tokens


def closed_brackets(text: str) -> str:
    """Every bracket with its partner, so that a word in the text stays one word.

    >>> closed_brackets("C7(b9"), closed_brackets("b9)"), closed_brackets("C7(b9)")
    ('C7(b9)', '(b9)', 'C7(b9)')
    """
    open_now = missing = 0
    for char in text:
        if char == "(":
            open_now += 1
        elif char == ")" and open_now:
            open_now -= 1
        elif char == ")":
            missing += 1
    return "(" * missing + text + ")" * open_now


def settled(token: Token) -> Token:
    """A word as it would be read standing alone, so that writing it down again changes nothing.

    A word that would fall apart is treated as an unknown sign, which is kept as a comment.
    """
    again = line_tokens(closed_brackets(token.text), token.start)
    if len(again) == 1:
        kind = "chord" if again[0].kind == "label" else again[0].kind
        return replace(again[0], kind=kind, width=len(token.text))
    return Token("angle", token.text.replace('"', "'"), token.start)


@dataclass(frozen=True, slots=True)
class Barline:
    """What a barline ends and begins."""

    end_repeat: int
    start_repeat: bool
    double: bool


def read_barline(text: str) -> Barline:
    """
    >>> read_barline(":|x3"), read_barline("|:").start_repeat, read_barline("||").double
    (Barline(end_repeat=3, start_repeat=False, double=False), True, True)
    """
    squeezed = text.replace(" ", "")
    ends = squeezed.startswith(":|")
    times = re.search(r"\d+", squeezed)
    count = min(max(int(times[0]), 1), 16) if times else 2
    starts = squeezed.endswith(":") and len(squeezed) > 1
    double = squeezed == "|]" or (squeezed.count("|") == 2 and not starts)
    return Barline(count if ends else 0, starts, double)


def read_endings(text: str) -> tuple[int, ...]:
    """
    >>> read_endings("1."), read_endings("1, 2."), read_endings("1-3.")
    ((1,), (1, 2), (1, 2, 3))
    """
    numbers: list[int] = []
    for part in text.rstrip(".").split(","):
        low, _, high = re.sub(r"[\s]", "", part).replace("–", "-").partition("-")
        first, last = int(low), int(high or low)
        numbers.extend(range(max(first, 1), min(last, 16) + 1))
    return tuple(dict.fromkeys(numbers))


@dataclass(frozen=True, slots=True)
class Sign:
    """A direction: segno, coda, to coda, fine, or a jump with where it goes until."""

    name: str
    until: str = ""


def read_sign(text: str) -> Sign | None:
    """
    >>> read_sign("D.S. al Coda"), read_sign("to coda"), read_sign("hello")
    (Sign(name='D.S.', until='coda'), Sign(name='to coda', until=''), None)
    """
    plain = " ".join(text.lower().split())
    if plain in ("segno", "coda", "to coda", "fine", "𝄋", "𝄌"):
        return Sign({"𝄋": "segno", "𝄌": "coda"}.get(plain, plain))
    jump = re.fullmatch(r"d\.?\s?([sc])\.?(?: al (coda|fine))?", plain)
    return Sign("D.S." if jump[1] == "s" else "D.C.", jump[2] or "") if jump else None


def read_metre(text: str) -> Metre | None:
    """ "3/4" → Metre(3, 4); "common" and "cut" time too; None when it is no metre.

    >>> read_metre("6/8"), read_metre("4/5"), read_metre("cut")
    (Metre(beats=6, unit=8), None, Metre(beats=2, unit=2))
    """
    plain = text.strip().strip("()").strip().lower()
    if plain in ("common", "common time", "c"):
        return Metre(4, 4)
    if plain in ("cut", "cut time", "alla breve"):
        return Metre(2, 2)
    match = re.fullmatch(r"(\d{1,2})\s*/\s*(\d{1,2})", plain)
    if match is None or not 1 <= int(match[1]) <= 24 or match[2] not in ("1", "2", "4", "8", "16"):
        return None
    return Metre(int(match[1]), int(match[2]))


def read_pickup(text: str) -> tuple[bool, Fraction | None]:
    """Whether an angle text marks a pickup bar, and its beats when it says so.

    >>> read_pickup("pickup 1.5"), read_pickup("pickup"), read_pickup("segno")
    ((True, Fraction(3, 2)), (True, None), (False, None))
    """
    match = re.fullmatch(r"(?:pick-?up|upbeat)(?:\s+(\d{1,2}(?:\.\d{1,3}|/\d{1,2})?))?", " ".join(text.lower().split()))
    if match is None:
        return False, None
    return True, read_fraction(match[1]) if match[1] else None


def read_fraction(text: str) -> Fraction | None:
    """ "2.5", "10/3" → Fraction; None for a zero denominator or anything else."""
    try:
        return Fraction(text)
    except (ValueError, ZeroDivisionError):
        return None
