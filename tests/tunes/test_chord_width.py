"""How wide a chord is set: the advance widths of the bundled faces, against the font files themselves."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.conf import settings
from fontTools.ttLib import TTFont

from tunes import chord_width
from tunes.harmony.chords import parse_symbol

FONTS = Path(settings.BASE_DIR) / "static" / "vendor" / "fonts"
SIGNS = "♭♯♮°øØ△Δ→←"


def advance(font: TTFont, sign: str) -> int:
    return int(font["hmtx"][font.getBestCmap()[ord(sign)]][0])


def test_widths_are_those_of_the_faces() -> None:
    regular, semibold = TTFont(FONTS / "serif.woff2"), TTFont(FONTS / "serif-semibold.woff2")
    assert {sign: advance(semibold, sign) for sign in chord_width._ROOTS} == chord_width._ROOTS
    assert {sign: advance(regular, sign) for sign in chord_width._WIDTHS} == chord_width._WIDTHS


@pytest.mark.parametrize("name", ["sans", "sans-italic", "serif", "serif-italic", "serif-semibold"])
def test_every_face_has_the_signs_of_harmony(name: str) -> None:
    have = TTFont(FONTS / f"{name}.woff2").getBestCmap()
    assert [sign for sign in SIGNS if ord(sign) not in have] == []


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("C", "em4"),  # narrower than an em: set as if it were one
        ("Dm7", "em8"),  # 718 + 790 + 0.72 x 465 thousandths
        ("Gb7(b9,#11)/Db", "em22"),  # 727 + 500, 0.72 x 3616 for 7(♭9,♯11), 120 + 1524 for /D♭
    ],
)
def test_class(text: str, expected: str) -> None:
    symbol = parse_symbol(text).symbol
    assert symbol is not None
    assert chord_width.symbol_class(symbol) == expected
