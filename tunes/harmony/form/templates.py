"""Templates that a form is recognised by: the blues and its variants, and the cycle bridge.

Sources: basic, jazz and minor blues: common practice, cf. Jacobs, *The Changes* (2011), p. 12; blues with descending
ii–Vs: cf. Baerman, *Intermediate Jazz Keyboard* (1998), p. 63; I7 and IV7 at rest: Mulholland and Hojnacki, *The Berklee
Book of Jazz Harmony* (2013), ch. 6. A and bridge of rhythm changes: common practice.
Degrees here are semitones above the tonic.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

BarContent = tuple[tuple[int, str, int], ...]
_DOMINANT_LIKE = frozenset({"dominant", "suspended"})


@dataclass(frozen=True, slots=True)
class BluesVariant:
    name: str
    minor: bool
    reason: str


def blues_variant(bars: Sequence[BarContent], tonic: int) -> BluesVariant | None:
    """Which kind of 12-bar blues these bars are, or None.

    Bar 1 stands on I and bar 5 on IV; bars 7–8 come home (or go iii VI); bars 9–10 bring the dominant.
    """
    if len(bars) != 12 or any(not bar for bar in bars):
        return None
    roots = [[(root - tonic) % 12 if root >= 0 else -1 for root, _, _ in bar] for bar in bars]
    if roots[0][0] != 0 or roots[4][0] != 5:
        return None
    home = roots[6][0] in (0, 4) or (roots[6][0] == 3 and 0 in roots[10])
    prepared = 7 in roots[9] or 7 in roots[8] or 1 in roots[9]
    lands = roots[10][0] in (0, 4, 9) or roots[11][0] == 0
    if not (home and prepared and lands):
        return None
    return _variant(bars, roots)


def _variant(bars: Sequence[BarContent], roots: list[list[int]]) -> BluesVariant | None:
    family = bars[0][0][1]
    if family in ("minor", "half-diminished"):
        if bars[4][0][1] not in ("minor", "dominant", "half-diminished"):
            return None
        how = _minor_way_home(roots)
        return BluesVariant(how, True, f"i in bar 1, iv in bar 5, {how} in bars 9 and 10.")
    if bars[4][0][1] not in ("dominant", "major", "suspended"):
        return None
    if bars[4][0][1] == "major" and roots[1][0] not in (0, 5, 11, 6, 4):  # a plain 4 is a blues only where bar 2 is one
        return None
    if family == "major" and roots[1][0] in (11, 6, 4):
        return BluesVariant(
            "descending ii–Vs",
            False,
            "I in bar 1, then ii–Vs falling to IV in bar 5, and on down to ii–V in bars 9 and 10.",
        )
    if roots[8][0] == 2:
        return BluesVariant("jazz blues", False, "I in bar 1, IV in bar 5, ii–V in bars 9 and 10.")
    return BluesVariant("basic", False, "I in bar 1, IV in bar 5, V in bar 9 or 10.")


def _minor_way_home(roots: list[list[int]]) -> str:
    """What bars 9 and 10 of a minor blues do, as numerals."""
    dominant = "V7" if 7 in roots[8] + roots[9] else "♭II7"
    before = {8: "♭VI7 ", 2: "ii ", 5: "iv "}.get(roots[8][0], "")
    return before + dominant


def has_cycle_bridge(bars: Sequence[BarContent], tonic: int) -> bool:
    """III7 VI7 II7 V7, two bars each; a related ii or a tritone substitute may stand in the second bar of a pair."""
    if len(bars) != 8 or any(not bar for bar in bars):
        return False
    for pair, degree in enumerate((4, 9, 2, 7)):
        chords = [chord for bar in bars[2 * pair : 2 * pair + 2] for chord in bar]
        wanted = {(tonic + degree) % 12, (tonic + degree + 6) % 12}
        if not any(root in wanted and family in _DOMINANT_LIKE for root, family, _ in chords):
            return False
    return (bars[0][0][0] - tonic) % 12 in (4, 11, 10)


def opens_like_rhythm_changes(bars: Sequence[BarContent], tonic: int) -> bool:
    """I VI ii V in bars 1 and 2 (or ♯i° for VI), I or iii in bar 3, and IV reached in bar 5 or 6."""
    if len(bars) < 7 or any(not bar for bar in bars[:7]):
        return False
    roots = [[(root - tonic) % 12 for root, _, _ in bar] for bar in bars]
    moves = 9 in roots[0] or 1 in roots[0] or 6 in roots[5]
    begins = roots[0][0] == 0 and moves and (2 in roots[1] or 7 in roots[1] or 1 in roots[1])
    again = roots[2][0] in (0, 4)
    return begins and again and (5 in roots[4] or 5 in roots[5])
