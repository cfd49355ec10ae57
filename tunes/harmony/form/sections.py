"""The form of a chart, named by comparing its sections with each other, never by its title.

Sections come from the labels and repeats of the chart; without labels the bars are cut into equal stretches of
eight (sixteen in a form of 64; four in one of 16 where that shows AABA or ABAC); what is left over is a tail of the last.
Two sections have one letter when at most a quarter of their bars differ, which lets first and second endings and
turnarounds differ; a longer one is the same section with a tail when it begins alike. Forms: common practice; the 12-bar templates follow
the tables in Jacobs, *The Changes* (2011) and Baerman, *Intermediate Jazz Keyboard* (1998); Salley and Shanahan
(J. Jazz Studies 11/1, 2016) report that units of four and eight bars are ubiquitous.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from tunes.harmony.charts.bars import ChorusBar
from tunes.harmony.charts.model import Chart
from tunes.harmony.form.templates import blues_variant, has_cycle_bridge, opens_like_rhythm_changes
from tunes.harmony.pitch.spelling import NoteName

OUTSIDE_FORM = frozenset({"intro", "introduction", "coda", "ending", "outro", "tag", "verse", "interlude", "vamp"})
_LETTERED = re.compile(r"(?:\d(?:st|nd|rd|th) )?([A-Za-z])(?:[ .]?\d|['′’*]+)?")
MOST_DIFFERENT = 0.25
_SECTION = 8
LOOSE = 0.49
"""Sections that share more than half of their bars are versions of one another (our choice)."""
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"

BarContent = tuple[tuple[int, str, int], ...]
"""A bar as it sounds: (root pitch class, family, start in quarter-beats) per chord; root −1 for no chord."""


@dataclass(frozen=True, slots=True)
class FormSection:
    """A stretch of one chorus.

    letter     by comparison: sections that are nearly the same share it.
    label      as typed ("" when not).
    first, bars  place in `chart.unfold()`.
    same_as    index of the earlier section that it repeats exactly, or None.
    changed    bars, counted from 0 inside the section, that differ from the first section with its letter.
    """

    letter: str
    label: str
    first: int
    bars: int
    same_as: int | None = None
    changed: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class FormReading:
    """A form with its evidence. name is what musicians say ("AABA", "12-bar blues"); variant says which kind."""

    name: str
    letters: tuple[str, ...]
    lengths: tuple[int, ...]
    reason: str
    variant: str = ""
    sections: tuple[FormSection, ...] = ()

    @property
    def bars(self) -> int:
        """Bars of one chorus, introduction and ending left out."""
        return sum(self.lengths)


def name_form(chart: Chart) -> FormReading:
    """
    >>> from tunes.harmony.charts import parse_chart
    >>> name_form(parse_chart("key: F\\n" + "| F7 | Bb7 | F7 | F7 | Bb7 | Bb7 | F7 | D7 | Gm7 | C7 | F7 | C7 |").chart).name
    '12-bar blues'
    """
    contents = _contents(chart)
    sections = same_sections(chart)
    inside = [section for section in sections if not is_outside(section.label)]
    letters = _close_letters(tuple(section.letter for section in inside))
    lengths = tuple(section.bars for section in inside)
    bars = [contents[i] for section in inside for i in range(section.first, section.first + section.bars)]
    blues = _blues(chart, bars)
    if blues is not None:
        return replace(blues, sections=sections)
    name, variant, reason = _by_letters(letters, lengths, inside, contents, _tonic(chart))
    return FormReading(name, letters, lengths, reason, variant, sections)


def same_sections(chart: Chart) -> tuple[FormSection, ...]:
    """The sections of one chorus with their letters, and which repeat which."""
    contents = _contents(chart)
    runs = _runs(chart)
    if len(runs) == 1:
        return _cut(runs[0], contents)
    stretches = [(run[0].section_label, run[0].index, len(run)) for run in runs]
    strict = _lettered(stretches, contents, typed=True)
    inside = [section.letter for section in strict if not is_outside(section.label)]
    if len(inside) > 2 and len(set(inside)) == len(
        inside
    ):  # before nothing is said to come back, looser likeness counts
        return _lettered(stretches, contents, typed=True, most=LOOSE)
    return strict


def is_outside(label: str) -> bool:
    """Whether a section of this name stands outside the form: an introduction, an ending.

    >>> is_outside("Intro"), is_outside("intro 2"), is_outside("A"), is_outside("")
    (True, True, False, False)
    """
    words = label.strip().lower().split()
    return bool(words) and words[0] in OUTSIDE_FORM


def _typed(label: str) -> str:
    """The letter that somebody has typed for a section, without what tells its versions apart: A, A1, A', 2nd A are A.

    >>> [_typed(label) for label in ("A", "a2", "B'", "Bridge", "")]
    ['A', 'A', 'B', '', '']
    """
    found = _LETTERED.fullmatch(label.strip())
    return found[1].upper() if found else ""


def _cut(run: list[ChorusBar], contents: list[BarContent]) -> tuple[FormSection, ...]:
    """A run without sections of its own, cut into equal stretches where that shows a form."""
    total = len(run)
    sections = _lettered(_equal_units(run, 16 if total == 64 else 8), contents)
    if total == 16:
        fours = _lettered(_equal_units(run, 4), contents)
        return fours if _word(fours) in _IN_FOURS else sections
    if total % 8 and _word(sections) not in _WITH_TAIL:
        return _lettered([(run[0].section_label, run[0].index, total)], contents)
    return sections


_IN_FOURS = ("AABA", "ABAC")
_WITH_TAIL = ("AABA", "ABAC", "ABAB", "AAB", "AABC")


def _word(sections: Sequence[FormSection]) -> str:
    return "".join(section.letter for section in sections)


def _lettered(
    stretches: list[tuple[str, int, int]], contents: list[BarContent], *, typed: bool = False, most: float | None = None
) -> tuple[FormSection, ...]:
    """The stretches with their letters. `typed`: letters that somebody typed decide before bars are compared; `most` is the share
    of bars in which two sections may differ."""
    found: list[FormSection] = []
    for label, first, bars in stretches:
        section = FormSection("", label, first, bars)
        letter = _typed(label) if typed else ""
        others = [
            (index, other) for index, other in enumerate(found) if not letter or _typed(other.label) in ("", letter)
        ]
        same = _as_typed(section, letter, others, contents)
        found.append(same or _compared(section, others, found, contents, MOST_DIFFERENT if most is None else most))
    return tuple(found)


def _as_typed(
    section: FormSection, letter: str, others: Sequence[tuple[int, FormSection]], contents: list[BarContent]
) -> FormSection | None:
    """The section as a version of the one that has the same typed letter, whatever differs."""
    index, other = next(
        ((index, other) for index, other in others if letter and _typed(other.label) == letter), (0, None)
    )
    if other is None:
        return None
    shorter = min(section.bars, other.bars)
    changed = (*_changed(replace(section, bars=shorter), other, contents), *range(shorter, section.bars))
    if not changed and section.bars == other.bars:
        return replace(section, letter=other.letter, same_as=index)
    return replace(section, letter=other.letter, changed=changed)


def _contents(chart: Chart) -> list[BarContent]:
    return [_bar_content(chart, place) for place in chart.unfold()]


def _bar_content(chart: Chart, place: ChorusBar) -> BarContent:
    content: list[tuple[int, str, int]] = []
    for slot in chart.bars[place.bar].slots:
        root, family = (slot.symbol.root.pc, slot.symbol.family) if slot.symbol else (-1, "")
        if not content or content[-1][:2] != (root, family):
            content.append((root, family, int(slot.start * 4)))
    return tuple(content)


def _runs(chart: Chart) -> list[list[ChorusBar]]:
    """The bars of a chorus, a new run where a typed section or a repeat begins."""
    runs: list[list[ChorusBar]] = []
    for place in chart.unfold():
        if chart.bars[place.bar].is_pickup:
            continue
        if runs and _continues(chart, runs[-1][-1], place):
            runs[-1].append(place)
        else:
            runs.append([place])
    return runs


def _continues(chart: Chart, before: ChorusBar, place: ChorusBar) -> bool:
    return chart.bars[before.bar].section == chart.bars[place.bar].section and place.bar > before.bar


def _equal_units(run: list[ChorusBar], unit: int) -> list[tuple[str, int, int]]:
    """Equal stretches; what is left over makes the last one longer."""
    total, first, label = len(run), run[0].index, run[0].section_label
    if total <= unit:
        return [(label, first, total)] if total else []
    starts = range(0, total - unit + 1, unit)
    return [(label, first + at, unit if at != starts[-1] else total - at) for at in starts]


def _compared(
    section: FormSection, others: Sequence[tuple[int, FormSection]], earlier: Sequence[FormSection],
    contents: list[BarContent], most: float,
) -> FormSection:  # fmt: skip
    outside = is_outside(section.label)
    best: tuple[int, FormSection] | None = None
    for index, other in others:
        if is_outside(other.label) != outside:
            continue
        if other.bars < section.bars < 2 * other.bars and not outside and best is None:
            best = _with_tail(section, index, other, contents)
        if other.bars != section.bars:
            continue
        changed = _changed(section, other, contents)
        if not changed:
            return replace(section, letter=other.letter, same_as=index)
        if best is None and _is_version(section, changed, most, opens_second_half=len(earlier) == 2 and index == 0):
            best = (index, replace(section, letter=other.letter, changed=changed))
    if best is not None:
        return best[1]
    return replace(section, letter="" if outside else _next_letter(earlier))


def _is_version(section: FormSection, changed: Sequence[int], most: float, *, opens_second_half: bool) -> bool:
    """Whether a section is an earlier one again: few bars differ, not the first two of eight (what only comes back late is a common
    ending); or it opens the second half of the form with the first half of A."""
    if section.bars >= _SECTION and {0, 1} <= {*changed}:
        return False
    begins_alike = opens_second_half and section.bars >= _SECTION and min(changed) >= section.bars / 2
    return begins_alike or len(changed) <= most * section.bars


def _with_tail(
    section: FormSection, index: int, other: FormSection, contents: list[BarContent]
) -> tuple[int, FormSection] | None:
    """The section as an earlier one with a tail: the first half of that one comes back unchanged, then it goes on longer."""
    changed = _changed(replace(section, bars=other.bars), other, contents)
    if any(bar < other.bars / 2 for bar in changed):
        return None
    return index, replace(section, letter=other.letter, changed=(*changed, *range(other.bars, section.bars)))


def _changed(section: FormSection, other: FormSection, contents: list[BarContent]) -> tuple[int, ...]:
    return tuple(i for i in range(section.bars) if contents[section.first + i] != contents[other.first + i])


def _next_letter(earlier: Sequence[FormSection]) -> str:
    used = {section.letter for section in earlier}
    return next((letter for letter in _LETTERS if letter not in used), "Z")


def _close_letters(letters: tuple[str, ...]) -> tuple[str, ...]:
    """Letters in order of appearance, starting from A."""
    names: dict[str, str] = {}
    for letter in letters:
        names.setdefault(letter, _LETTERS[min(len(names), 25)])
    return tuple(names[letter] for letter in letters)


def _tonic(chart: Chart) -> NoteName | None:
    if chart.key is not None:
        return chart.key.tonic
    first = next((event.symbol for event in chart.events() if event.symbol is not None), None)
    return first.root if first else None


# --- names ---

_NAMED = {
    "AABA": ("AABA", "Three A sections around a bridge."),
    "ABAC": ("ABAC", "Two halves that begin alike and end differently."),
    "ABAB": ("ABAB", "Two sections, played twice."),
    "AB": ("AB", "Two different sections."),
    "AAB": ("AAB", "A section, its repeat, and another."),
    "ABA": ("ABA", "A section comes back after another."),
    "AABC": ("AABC", "A repeated section, then two others."),
    "AA": ("AA", "One section, played twice."),
    "AAAA": ("AAAA", "One section, again and again."),
}


def _by_letters(
    letters: tuple[str, ...],
    lengths: tuple[int, ...],
    inside: list[FormSection],
    contents: list[BarContent],
    tonic: NoteName | None,
) -> tuple[str, str, str]:
    word = "".join(letters)
    total = sum(lengths)
    if word == "AABA" and tonic is not None:
        special = _special_aaba(lengths, inside, contents, tonic)
        if special is not None:
            return special
    if word in _NAMED:
        name, reason = _NAMED[word]
        return name, f"{total} bars{_tail_in_words(letters, lengths)}", f"{reason} {_lengths_in_words(lengths)}"
    if word == "AABAC" and lengths[-1] <= lengths[0]:
        tail = f"{total} bars, with a tail of {lengths[-1]}"
        return "AABA", tail, f"{_NAMED['AABA'][1]} A tail follows the last A. {_lengths_in_words(lengths)}"
    if len(set(letters)) == len(letters) and len(letters) > 2:
        return "through-composed", f"{total} bars", f"No section comes back. {_lengths_in_words(lengths)}"
    if len(letters) == 1:
        return f"{total}-bar form", "", f"One section of {total} bars."
    return word or "empty", f"{total} bars", f"Sections compared bar by bar. {_lengths_in_words(lengths)}"


def _tail_in_words(letters: tuple[str, ...], lengths: tuple[int, ...]) -> str:
    """What to say when the last section is an earlier one made longer."""
    more = lengths[-1] - lengths[letters.index(letters[-1])]
    return f", the last {letters[-1]} {more} longer" if more > 0 else ""


def _lengths_in_words(lengths: tuple[int, ...]) -> str:
    return f"{' + '.join(map(str, lengths))} bars."


def _special_aaba(
    lengths: tuple[int, ...], inside: list[FormSection], contents: list[BarContent], tonic: NoteName
) -> tuple[str, str, str] | None:
    bridge = contents[inside[2].first : inside[2].first + inside[2].bars]
    first = contents[inside[0].first : inside[0].first + inside[0].bars]
    opens = opens_like_rhythm_changes(first, tonic.pc)
    if not has_cycle_bridge(bridge, tonic.pc):
        reason = "A begins I VI ii V and goes to IV in bar 5, as in rhythm changes; the bridge is another."
        return ("AABA", "rhythm-changes A", reason) if opens else None
    if opens:
        reason = "A begins I VI ii V and goes to IV in bar 5; the bridge is III7 VI7 II7 V7, two bars each."
        return "rhythm changes", f"AABA, {sum(lengths)} bars", reason
    return "AABA", "rhythm-changes bridge", "The bridge is III7 VI7 II7 V7, two bars each."


def _blues(chart: Chart, bars: list[BarContent]) -> FormReading | None:
    tonic = _tonic(chart)
    if tonic is None or len(bars) not in (12, 24):
        return None
    halves = [bars[:12], bars[12:]] if len(bars) == 24 else [bars]
    variant = blues_variant(halves[0], tonic.pc)
    twice = len(halves) == 2 and variant is not None and blues_variant(halves[1], tonic.pc) is not None
    if len(halves) == 2 and not twice:
        variant = blues_variant([bars[i] for i in range(0, 24, 2)], tonic.pc)
        if variant is None:
            return None
        return FormReading("24-bar blues", ("A",), (24,), "A 12-bar blues with every bar doubled.", variant.name)
    if variant is None:
        return None
    letters, lengths = (("A", "A"), (12, 12)) if twice else (("A",), (12,))
    name = "minor blues" if variant.minor else "12-bar blues"
    return FormReading(name, letters, lengths, variant.reason, variant.name)
