"""How wide a chord symbol is, so that a page can set it as large as its place in the bar allows.

Widths are in ems (1 em: the size the symbol is set at) and come from the faces we bundle: the root semibold, the rest
regular, the raised part smaller, as `static/css/base.css` sets them.
"""

from __future__ import annotations

from math import ceil

from tunes.harmony.chords import ChordSymbol

RAISED = 0.72  # size of the raised part, as in base.css
PER_EM = 4  # a class for every quarter of an em
NARROWEST, WIDEST = 4, 48
WIDEST_BAR = 96  # from WIDEST on there is a class for every second quarter

# Advance widths in thousandths of an em (Libertinus Serif 7.051). Others are taken for as wide as a figure.
_ROOTS = {"A": 699, "B": 620, "C": 666, "D": 718, "E": 562, "F": 513, "G": 727}
_OTHER = 500
_WIDTHS = {
    "A": 695, "B": 588, "C": 646, "D": 701, "E": 557, "F": 485, "G": 685, "N": 699,
    "a": 457, "b": 493, "d": 506, "g": 500, "i": 271, "j": 272, "l": 264, "m": 790, "n": 542, "o": 504, "s": 390,
    "t": 316, "u": 531, "♭": 500, "♯": 440, "♮": 440, "°": 267, "ø": 504, "Ø": 702, "△": 541, "Δ": 636, "+": 550,
    "-": 338, "−": 550, "/": 323, "(": 298, ")": 298, ".": 220, ",": 220,
    **dict.fromkeys("0123456789", 465),
}  # fmt: skip


def _run(text: str) -> int:
    return sum(_WIDTHS.get(sign, _OTHER) for sign in text)


def ems(symbol: ChordSymbol) -> float:
    """Width of a symbol."""
    parts = symbol.display_parts
    line = _ROOTS.get(parts.root, _OTHER) + _run(parts.accidental + parts.body)
    slash = _run(f"/{parts.bass}") + 120 if parts.bass else 0  # the stroke has a little room on both sides
    return (line + RAISED * _run(parts.superscript) + slash) / 1000


def fit_class(wide: float) -> str:
    """Class of a symbol so wide ("em9": at most nine quarters of an em); the style sheet knows each."""
    return f"em{min(max(ceil(wide * PER_EM), NARROWEST), WIDEST)}"


def given(symbol: ChordSymbol) -> float:
    """The width that its class stands for: rounded up to a quarter."""
    return max(ceil(ems(symbol) * PER_EM), NARROWEST) / PER_EM


def bar_class(wide: float) -> str:
    """Class of the chords of a bar that are so wide together."""
    quarters = max(ceil(wide * PER_EM), NARROWEST)
    return f"em{quarters if quarters <= WIDEST else min(quarters + quarters % 2, WIDEST_BAR)}"


def symbol_class(symbol: ChordSymbol) -> str:
    """Class of a symbol."""
    return fit_class(ems(symbol))


def text_class(text: str) -> str:
    """Class of a text that could not be read as a symbol."""
    return fit_class(_run(text) / 1000)
