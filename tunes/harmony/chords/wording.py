"""How a set of degrees is worded: canonical ASCII, with signs for the page, and as it is spoken."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from tunes.harmony.chords.vocabulary import (
    ALTERED,
    FIFTHS,
    IMPLY_SEVENTH,
    SEVENTHS,
    SUSPENSIONS,
    THIRDS,
    degree_parts,
    in_order,
)
from tunes.harmony.pitch.spelling import spoken_sign


@dataclass(frozen=True, slots=True)
class Wording:
    text: str
    body: str
    superscript: str
    spoken: str


@dataclass(frozen=True, slots=True)
class _Stem:
    """The words of a chord before its alterations, and the degrees that those words already say."""

    text: str
    body: str
    superscript: str
    spoken: str
    said: frozenset[str]


@lru_cache(maxsize=4096)
def wording(degrees: tuple[str, ...]) -> Wording:
    have = frozenset(degrees)
    if have == frozenset(ALTERED):
        return Wording("7alt", "", "7alt", "7 altered")
    stem = _stem(have)
    items = _alterations(have - stem.said, bool(have & SEVENTHS))
    if not have & FIFTHS:
        items.append("no5")
    if not have & (THIRDS | SUSPENSIONS) and have != {"1", "5"}:
        items.append("no3")
    tail = _tail(stem.text, items)
    spoken = " ".join([stem.spoken, *(_spoken_item(item) for item in items)])
    return Wording(stem.text + tail, stem.body, stem.superscript + _signs(tail), spoken.strip())


def _alterations(left: frozenset[str], seventh: bool) -> list[str]:
    """What the stem does not say, in order: altered degrees bare, natural ones "add9" on a triad."""
    items = []
    for degree in in_order(left):
        _, alter = degree_parts(degree)
        bare = seventh or (alter != 0 and degree not in IMPLY_SEVENTH)
        items.append(degree if bare else f"add{degree}")
    return items


def _tail(stem: str, items: list[str]) -> str:
    if not items:
        return ""
    only = items[0]
    if len(items) == 1 and only[0] in "b#" and stem[-1:].isdigit() and "sus" not in stem:
        return only
    if items == ["add9"] and "sus" not in stem:
        return only
    return f"({','.join(items)})"


def _signs(text: str) -> str:
    return text.replace("b", "♭").replace("#", "♯") if text else text


def _spoken_item(item: str) -> str:
    if item.startswith("no"):
        return f"without {item[2:]}"
    if item.startswith("add"):
        return f"add {_spoken_item(item[3:])}"
    number, alter = degree_parts(item)
    turned = spoken_sign(alter, "").strip()
    return f"{turned} {number}".strip()


def _stem(have: frozenset[str]) -> _Stem:
    if have == {"1", "5"}:
        return _Stem("5", "", "5", "5", have)
    third = have & THIRDS
    if "b3" in third and "b5" in have:
        return _diminished_stem(have)
    if "3" in third and "#5" in have and not have & (SEVENTHS | {"6", "9"}):
        return _Stem("aug", "+", "", "augmented", frozenset({"1", "3", "#5"}))
    return _plain_stem(have)


def _diminished_stem(have: frozenset[str]) -> _Stem:
    core = frozenset({"1", "b3", "b5"})
    if "b7" in have:
        number, said = _extension(have, "m")
        spoken = "half diminished" if number == "7" else f"half diminished {number}"
        return _half_diminished(have, number, core | said, spoken)
    if {"bb7", "7"} <= have:
        return _Stem("dim7(maj7)", "°", "7(maj7)", "diminished 7 major 7", core | {"bb7", "7"})
    if "bb7" in have:
        return _Stem("dim7", "°", "7", "diminished 7", core | {"bb7"})
    if "7" in have:
        return _Stem("dim(maj7)", "°", "(maj7)", "diminished major 7", core | {"7"})
    return _Stem("dim", "°", "", "diminished", core)


def _half_diminished(have: frozenset[str], number: str, said: frozenset[str], spoken: str) -> _Stem:
    """ "m7b5" for one alteration; the flat fifth joins the list in brackets when there are more."""
    if have == said:
        return _Stem(f"m{number}b5", "ø", number, spoken, said)
    rest = ",".join(_alterations(have - said, True))
    return _Stem(f"m{number}(b5,{rest})", "ø", f"{number}({_signs(rest)})",
                 " ".join([spoken, *map(_spoken_item, rest.split(","))]), have)  # fmt: skip


def _plain_stem(have: frozenset[str]) -> _Stem:
    minor = "b3" in have
    sus = "sus4" if "4" in have and not have & THIRDS else "sus2" if "2" in have and not have & THIRDS else ""
    quality = "m" if minor else ""
    said = frozenset({"1", "5"} | (have & THIRDS) | (have & SUSPENSIONS if sus else set()))
    said &= have | {"1"}
    spoken_quality = "minor" if minor else ""
    spoken_sus = f"suspended {sus[3:]}" if sus else ""
    if have & {"7", "b7"}:
        number, more = _extension(have, quality)
        major = "7" in have
        word = f"({'maj'}{number})" if major and minor else f"maj{number}" if major else number
        body = quality if minor or not major else "maj"
        superscript = word if minor or not major else number
        spoken = f"{spoken_quality} {'major ' if major else ''}{number} {spoken_sus}"
        return _Stem(quality + word + sus, body, superscript + sus, spoken.strip(), said | more)
    if "6" in have:
        number, spoken_number = ("6/9", "6 9") if "9" in have else ("6", "6")
        more = frozenset({"6", "9"}) & have
        spoken = f"{spoken_quality} {spoken_number} {spoken_sus}"
        return _Stem(quality + number + sus, quality, number + sus, spoken.strip(), said | more)
    spoken = spoken_quality or spoken_sus or "major"
    return _Stem(quality + sus, quality, sus, spoken, said)


def _extension(have: frozenset[str], quality: str) -> tuple[str, frozenset[str]]:
    """The number a seventh chord is called by, and the degrees that the number implies.

    A natural degree that stands beside its own alteration is never implied: it is listed.
    """
    seventh = have & {"7", "b7"}
    plain = {n for n in ("9", "11", "13") if n in have and not have & {f"b{n}", f"#{n}"}}
    if quality != "m" and "13" in plain and have & {"9", "b9", "#9"}:
        return "13", seventh | (plain & {"9", "13"})
    if "9" not in plain:
        return "7", seventh
    if quality == "m" and {"11", "13"} <= plain:
        return "13", seventh | {"9", "11", "13"}
    if (quality == "m" or "7" in have) and "11" in plain:
        return "11", seventh | {"9", "11"}
    return "9", seventh | {"9"}
