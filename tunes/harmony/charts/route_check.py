"""Whether players find their way through a chart: repeats that close, endings that belong to one, jumps that arrive.

Common practice, no single source. `unfold` plays every chart all the same; what is told here is what a band would ask.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from tunes.harmony.charts.bars import Bar, Section
from tunes.harmony.charts.tokens import Token
from tunes.harmony.charts.unfold import coda_bar
from tunes.harmony.problems import Problem


@dataclass(frozen=True, slots=True)
class Place:
    """A stretch of the text; `value` is where what matters of it begins."""

    start: int
    value: int
    end: int
    line: int = 0


def route_problems(
    bars: Sequence[Bar],
    sections: Sequence[Section],
    closings: Sequence[Place],
    signs: Sequence[tuple[Token, int]],
    names: Callable[[int], str],
) -> list[Problem]:
    """Problems of repeats, endings and jumps; closings: the closing barline of every bar; signs: with their bars;
    names: what the bar at an index is called."""
    found = [*_open_repeats(bars, closings, names), *_open_endings(bars, sections, closings, signs)]
    found += _lost_jumps(bars, coda_bar(bars, sections), closings, signs)
    return sorted(found, key=lambda problem: problem.start)


def _closes(bars: Sequence[Bar], closings: Sequence[Place], index: int, message: str) -> Problem:
    """A problem at the closing barline of a bar, which should end a repeat."""
    place = closings[index]
    following = index + 1 < len(bars) and bars[index + 1].start_repeat
    advice = ":|:" if following and place.end - place.start > 1 else " :|" if place.start == place.end else ":|"
    return Problem(message, advice, place.start, place.end, place.line, bars[index].number)


def _open_repeats(bars: Sequence[Bar], closings: Sequence[Place], names: Callable[[int], str]) -> Iterator[Problem]:
    starts = [index for index, bar in enumerate(bars) if bar.start_repeat]
    for start, end in pairwise([*starts, len(bars)]):
        inside = range(start, end)
        if any(bars[index].end_repeat for index in inside):
            continue
        ending = next((index for index in inside if index > start and bars[index].endings), None)
        if ending is None:
            yield _closes(bars, closings, end - 1, f"The repeat that begins in {names(start)} is not closed.")


def _open_endings(
    bars: Sequence[Bar], sections: Sequence[Section], closings: Sequence[Place], signs: Sequence[tuple[Token, int]]
) -> Iterator[Problem]:
    """Every ending but the last of its passage closes with a repeat; one that follows no repeat is no ending."""
    tokens = {index: token for token, index in signs if token.kind == "ending"}
    numbered = [index for index, bar in enumerate(bars) if bar.endings]
    for ending in numbered:
        end = _ending_end(bars, sections, ending)
        another = end + 1 < len(bars) and bool(bars[end + 1].endings) and not bars[end + 1].start_repeat
        if bars[end].end_repeat:
            continue
        if another:
            yield _closes(bars, closings, end, f"Ending {bars[ending].endings[0]} goes back: its last barline is :|.")
        elif not _follows_repeat(bars, ending):
            token = tokens.get(ending)
            if token is not None:
                message = f"Ending {token.text.rstrip('.')} belongs to no repeat."
                yield Problem(
                    message, "", token.start, token.end, closings[ending].line, bars[ending].number, removes=True
                )


def _ending_end(bars: Sequence[Bar], sections: Sequence[Section], ending: int) -> int:
    """The last bar of an ending: where a repeat, a double bar or its section ends, or before the next ending."""
    tops = {section.first_bar for section in sections}
    index = ending
    while index + 1 < len(bars):
        after = bars[index + 1]
        if bars[index].end_repeat or bars[index].double_end or after.endings or after.start_repeat or index + 1 in tops:
            return index
        index += 1
    return index


def _follows_repeat(bars: Sequence[Bar], ending: int) -> bool:
    """Whether an ending before this one of the same passage, or the passage itself, has a repeat sign to go back by."""
    index = ending - 1
    while index >= 0:
        if bars[index].end_repeat or bars[index].endings:
            return True
        if bars[index].start_repeat:
            return False
        index -= 1
    return False


def _lost_jumps(
    bars: Sequence[Bar], coda: int | None, closings: Sequence[Place], signs: Sequence[tuple[Token, int]]
) -> Iterator[Problem]:
    """Jumps and "to coda" that lead nowhere."""
    segno, fine = any(bar.segno for bar in bars), any(bar.fine for bar in bars)
    leaves = any(bar.to_coda for bar in bars)
    for token, index in signs:
        inside = " ".join(token.text.strip("<>").lower().split())
        message, advice = "", ""
        if bars[index].jump and inside.startswith("d"):
            message, advice = _lost_jump(bars[index], inside, segno, fine, coda is not None, leaves)
        elif bars[index].to_coda and inside == "to coda" and coda is None:
            message = "There is no coda to go to: mark its first bar coda, or write Coda: above it."
        if message:
            yield Problem(
                message, advice, token.start, token.end, closings[index].line, bars[index].number, removes=not advice
            )


def _lost_jump(bar: Bar, inside: str, segno: bool, fine: bool, coda: bool, leaves: bool) -> tuple[str, str]:
    """What a jump misses, and the jump that would arrive."""
    back = "D.S." if segno and bar.jump == "D.S." else "D.C."
    arrives = {"coda": coda and leaves, "fine": fine, "": True}[bar.jump_to]
    advice = f"{back}{' al ' + bar.jump_to if bar.jump_to and arrives else ''}"
    if bar.jump != back and re.match(r"d\.?\s?s", inside):
        return "There is no segno to go back to.", advice
    if arrives:
        return "", ""
    if bar.jump_to == "fine":
        return "Nothing says where to end: write Fine in that bar.", advice
    if coda:
        return "Nothing says where to leave for the coda: write to coda in that bar.", advice
    return "There is no coda: mark its first bar coda, or write Coda: above it.", advice
