"""Marks key areas: each expected area earns its share, by how near the bar and the key are."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from drills.comparers.number_words import in_figures
from drills.comparers.types import Context, Echo, Mark, StoredKey, Strictness
from drills.comparers.wording import key_text, reading_interval
from drills.marking_rules import marking_rules, points_for
from tunes.harmony.answers.words import plain
from tunes.harmony.charts.bar_count import bar_name
from tunes.harmony.pitch.spelling import CHURCH_MODES, Interval, Key, NoteName

_PIECE = re.compile(
    r"(?P<number>\d{1,4})(?:(?:\s*,?\s*\(?beat\s*|\.)(?P<beat>\d)(?P<half>\s?1/2)?(?![\d/])\)?)?(?:\s*[-–—]\s*\d{1,4})?"
    r"|(?<![A-Za-z])(?P<note>[A-Ga-g](?:bb|##|b|#)?)(?:\s?(?P<sign>flat|sharp))?"
    r"\s*(?P<mode>(?i:major|minor|maj|min|mi|ma|" + "|".join(CHURCH_MODES) + r")|m|M|-(?!\s*\d))?(?![A-Za-z])"
)
_BEAT_OF = re.compile(r"(?i)\b(beat\s*\d(?:\s?1/2)?)\s*(?:of|in)\s*(?:bar\s*)?(\d{1,4})")
_NOISE = re.compile(r"(?i)\b(?:and|bars?|beat(?!\s*\d))\b|\b(?:m|mm)\.")
_MOST = 64
WRITTEN, PLAYED = "as written", "as played"


@dataclass(frozen=True, slots=True)
class Area:
    """A key from a bar onwards; ``beat`` as it was given ("3", "2½"), "" when only the bar was."""

    bar: int
    key: Key
    beat: str = ""


def read_areas(text: str) -> tuple[Area, ...] | str:
    """Areas from "1 F, 9 Ab", "F 1-8; Ab 9-16", "7 beat 3 Bb" or one on a line; otherwise a sentence that says what is
    missing.

    >>> [(a.bar, a.key.text) for a in read_areas("bars 1-8 F, 9 Ab minor")]
    [(1, 'F major'), (9, 'Ab minor')]
    >>> [(a.bar, a.beat) for a in read_areas("1 F, 7 beat 3 Bb, 9.2 F, beat 4 of bar 12 C")]
    [(1, ''), (7, '3'), (9, '2'), (12, '4')]
    >>> read_areas("F and then Ab")
    'Give the bar where each key begins, for example: 1 F, 9 Ab.'
    """
    bars: list[tuple[int, str]] = []
    keys: list[Key] = []
    for match in _PIECE.finditer(_NOISE.sub(" ", _BEAT_OF.sub(r"\2 \1", in_figures(plain(text).text)))):
        if match["number"]:
            bars.append((int(match["number"]), (match["beat"] or "") + ("½" if match["half"] else "")))
        else:
            keys.append(_key(match))
        if abs(len(bars) - len(keys)) > 1:
            break
    if not keys:
        return "Write a bar and a key for every area, for example: 1 F, 9 Ab."
    if len(bars) != len(keys):
        return "Give the bar where each key begins, for example: 1 F, 9 Ab."
    return tuple(Area(bar, key, beat) for (bar, beat), key in zip(bars, keys, strict=True))[:_MOST]


def _key(match: re.Match[str]) -> Key:
    sign = {"flat": "b", "sharp": "#"}.get((match["sign"] or "").lower(), "")
    mode = match["mode"] or ""
    note = match["note"]
    if mode.lower() in CHURCH_MODES:
        return Key.parse(f"{note[0].upper()}{note[1:]}{sign} {mode}")
    minor = mode in ("m", "-") or mode.lower().startswith("mi")
    return Key(NoteName.parse(note[0].upper() + note[1:] + sign), "minor" if minor else "major")


def echo_key_areas(text: str, context: Context) -> Echo:
    """The areas as understood: "from bar 1 F, from bar 9 A♭ minor"."""
    areas = read_areas(text)
    if isinstance(areas, str):
        return Echo(areas, False, 0, len(text))
    return Echo(
        ", ".join(f"from bar {a.bar}{_beat_text(a.beat)} {key_text(a.key.text, Interval(0, 0))}" for a in areas), True
    )


def _beat_text(beat: str) -> str:
    return f", beat {beat}," if beat else ""


@dataclass(frozen=True, slots=True)
class _Match:
    """How one expected area fared: a rule id, its points, and what was given for it."""

    rule: str
    points: float
    given: Area | None = None


def mark_key_areas(key: StoredKey, text: str, strictness: Strictness, context: Context) -> Mark:
    """The mark of the whole list."""
    move = reading_interval(key, context)
    if not text.strip():
        return Mark(0.0, "blank", _truth(key, move), "")
    areas = read_areas(text)
    understood = echo_key_areas(text, context).text
    if isinstance(areas, str):
        return Mark(0.0, "unreadable", f"{areas} {_truth(key, move)}", "")
    given = _tidy(tuple(Area(area.bar, area.key.transposed(-move), area.beat) for area in areas))
    found = max((_against(count, given) for count in _counts(key)), key=lambda one: one.points)
    rule = _rule(found.matches, found.extra)
    return Mark(round(found.points, 2), rule, _feedback(found, rule, move), understood)


@dataclass(frozen=True, slots=True)
class _Count:
    """The expected areas by one count of bars; ``named`` gives each its number by the other count."""

    name: str
    areas: tuple[Area, ...]
    others: tuple[int, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """What the bar of each area is called: as played, the written number second."""
        pairs = zip(self.areas, self.others, strict=True)
        return tuple(
            bar_name(*((area.bar, other) if self.name == PLAYED else (other, area.bar))) for area, other in pairs
        )


def _counts(key: StoredKey) -> tuple[_Count, ...]:
    """The same areas as an answer may count them: bars as written, as played, and as played with repeats left out."""
    rows, played = key["areas"], key.get("as_played") or ()
    written = _Count(WRITTEN, _expected(rows, "bar"), tuple(one.get("played", one["bar"]) for one in rows))
    if not played:
        return (written,)
    return (
        written,
        _Count(PLAYED, _expected(played, "bar"), tuple(one["written"] for one in played)),
        _Count(PLAYED, _expected(rows, "played"), tuple(one["bar"] for one in rows)),
    )


def _expected(rows: Sequence[StoredKey], count: str) -> tuple[Area, ...]:
    return tuple(Area(int(one[count]), Key.parse(one["key"]), str(one.get("beat", "1"))) for one in rows)


@dataclass(frozen=True, slots=True)
class _Found:
    """How an answer fares by one count."""

    count: _Count
    matches: tuple[_Match, ...]
    extra: int

    @property
    def points(self) -> float:
        return max(0.0, (sum(match.points for match in self.matches) - EXTRA_COST * self.extra) / len(self.matches))


def _against(count: _Count, given: tuple[Area, ...]) -> _Found:
    return _Found(count, *align(given, count.areas))


EXTRA_COST = 0.5
"""What an area too many costs, as a share of one area."""


def _tidy(areas: tuple[Area, ...]) -> tuple[Area, ...]:
    """In the order of the bars; the same key twice running is one area."""
    kept: list[Area] = []
    for area in sorted(areas, key=lambda one: one.bar):
        if not kept or _distance(kept[-1].key, area.key) != "areas-exact":
            kept.append(area)
    return tuple(kept)


def _distance(given: Key, expected: Key) -> str | None:
    """Rule for how near two keys are: the same (by sound), relative or parallel, else None."""
    if (given.tonic.pc, given.mode) == (expected.tonic.pc, expected.mode):
        return "areas-exact"
    relative = expected.relative
    if (given.tonic.pc, given.mode) == (relative.tonic.pc, relative.mode):
        return "areas-relative"
    return "areas-parallel" if given.tonic.pc == expected.tonic.pc else None


def score(given: Area, expected: Area) -> _Match | None:
    """What one given area earns for one expected area, None when they have nothing in common."""
    near = _distance(given.key, expected.key)
    off = abs(given.bar - expected.bar)
    if near is None or off > 2:
        return None
    points = points_for(near, False)
    if off == 0 and given.beat and expected.beat and given.beat != expected.beat:
        share = points_for("areas-other-beat", False)
        return _Match(near if points < share else "areas-other-beat", points * share, given)
    if off == 0:
        return _Match(near, points, given)
    bar_rule = "areas-near-bar" if off == 1 else "areas-two-bars"
    share = points_for(bar_rule, False)
    return _Match(near if points < share else bar_rule, points * share, given)


def align(given: Sequence[Area], expected: Sequence[Area]) -> tuple[tuple[_Match, ...], int]:
    """The best matching in order: what each expected area earns, and how many given areas match none.

    Dynamic programming over both lists; a given area left over costs ``EXTRA_COST``.
    """

    @cache
    def best(i: int, j: int) -> tuple[float, tuple[_Match, ...], int]:
        if j == len(expected):
            return -EXTRA_COST * (len(given) - i), (), len(given) - i
        options = [_with(_Match("areas-missing", 0.0), best(i, j + 1))]
        if i < len(given):
            value, matches, extra = best(i + 1, j)
            options.append((value - EXTRA_COST, matches, extra + 1))
            found = score(given[i], expected[j])
            if found is not None:
                options.append(_with(found, best(i + 1, j + 1)))
        return max(options, key=lambda one: one[0])

    _, matches, extra = best(0, 0)
    return matches, extra


def _with(match: _Match, rest: tuple[float, tuple[_Match, ...], int]) -> tuple[float, tuple[_Match, ...], int]:
    return rest[0] + match.points, (match, *rest[1]), rest[2]


def _rule(matches: Sequence[_Match], extra: int) -> str:
    """The rule that cost most."""
    lost: dict[str, float] = {"areas-extra": EXTRA_COST * extra}
    for match in matches:
        lost[match.rule] = lost.get(match.rule, 0.0) + 1 - match.points
    worst = max(lost, key=lambda rule: lost[rule])
    return worst if lost[worst] > 0 else "areas-exact"


_SAID = {
    "areas-exact": "right",
    "areas-near-bar": "right key, one bar off",
    "areas-two-bars": "right key, two bars off",
    "areas-other-beat": "right bar, another beat",
    "areas-relative": "the relative key was written",
    "areas-parallel": "the parallel key was written",
    "areas-missing": "not written",
}


def _feedback(found: _Found, rule: str, move: Interval) -> str:
    parts = ["That is the whole map." if rule == "areas-exact" else marking_rules()[rule].sentence]
    if any(area.bar != other for area, other in zip(found.count.areas, found.count.others, strict=True)):
        parts.append(f"Your bars were read {found.count.name}.")
    for area, name, match in zip(found.count.areas, found.count.names, found.matches, strict=True):
        parts.append(f"{_area_text(area, name, move)}: {_said(area, name, match)}.")
    if found.extra:
        parts.append(
            f"{found.extra} more {'was' if found.extra == 1 else 'were'} written where the key does not change."
        )
    return " ".join(parts)


def _said(area: Area, name: str, match: _Match) -> str:
    """What is said of one area; a beat that was not asked for, or a bar line just missed, is told."""
    said = _SAID[match.rule]
    given = match.given
    if given is None or area.beat == "1" or given.beat == area.beat:
        return said
    if given.bar == area.bar and not given.beat:
        return f"{said}; it begins inside the bar, on beat {area.beat}"
    return f"{said}; it begins in {name} on beat {area.beat}"


def _truth(key: StoredKey, move: Interval) -> str:
    counts = _counts(key)
    count = counts[1] if len(counts) > 1 else counts[0]
    return " ".join(f"{_area_text(area, name, move)}." for area, name in zip(count.areas, count.names, strict=True))


def _area_text(area: Area, name: str, move: Interval) -> str:
    beat = "" if area.beat == "1" else f", beat {area.beat},"
    return f"From {name}{beat} {key_text(area.key.text, move)}"
