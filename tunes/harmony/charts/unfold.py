"""One chorus of a chart in playing order.

Rules, as players follow them (common practice, no single source): a repeat sign goes back to the nearest
`|:` before it, or to the top; an ending is played on the passes it names; after D.C. or D.S. repeats are not
taken again and the last ending is played; "to coda" is obeyed only after a jump "al coda", `fine` only after a
jump. A chart that says "to coda" and never jumps keeps its coda for the last chorus of all, so a chorus stops
before the coda.
"""

from __future__ import annotations

from collections.abc import Sequence

from tunes.harmony.charts.bars import Bar, Section

MOST_PLAYED_BARS = 4096
MOST_PASSES = 16


def unfold_bars(bars: Sequence[Bar], sections: Sequence[Section] = ()) -> list[tuple[int, int]]:
    """(index of bar, pass) in playing order; always ends, and is never empty, whatever the signs say."""
    return _Walk(bars, sections).run() or [(index, 1) for index in range(len(bars))]


class _Walk:
    def __init__(self, bars: Sequence[Bar], sections: Sequence[Section]) -> None:
        self.bars = bars
        self.coda = coda_bar(bars, sections)
        self.jumps = any(bar.jump for bar in bars)
        self.stop = self._stop()
        self.order: list[tuple[int, int]] = []
        self.at = 0
        self.repeat_start = 0
        self.pass_no = 1
        self.jumped = False
        self.until = ""

    def _stop(self) -> int:
        """Where a chorus ends: before the coda when only the last chorus of all goes there."""
        leaves = next((index for index, bar in enumerate(self.bars) if bar.to_coda), None)
        if leaves is None or self.jumps or self.coda is None or self.coda <= leaves:
            return len(self.bars)
        return self.coda

    def run(self) -> list[tuple[int, int]]:
        while 0 <= self.at < self.stop and len(self.order) < MOST_PLAYED_BARS:
            bar = self.bars[self.at]
            if bar.start_repeat and self.repeat_start != self.at:
                self.repeat_start, self.pass_no = self.at, 1
            if bar.endings and self._current_pass(bar) not in bar.endings:
                self.at = self._after_ending(self.at)
                continue
            self.order.append((self.at, self.pass_no))
            if bar.fine and self.jumped and self.until != "coda":
                break
            self._move_on(bar)
        return self.order

    def _current_pass(self, bar: Bar) -> int:
        """After a jump the last ending of the passage is the one that is played."""
        return self._passes(self.at) if self.jumped else self.pass_no

    def _move_on(self, bar: Bar) -> None:
        if bar.to_coda and self.jumped and self.until == "coda" and self.coda is not None:
            self.at, self.until = self.coda, ""
            self.repeat_start, self.pass_no = self.coda, 1
        elif bar.end_repeat and not self.jumped and self.pass_no < max(bar.end_repeat, self._passes(self.at)):
            self.pass_no += 1
            self.at = self.repeat_start
        elif bar.jump and not self.jumped:
            self._jump(bar)
        else:
            self.at += 1
            if bar.end_repeat and not self._ending_follows(self.at):
                self.repeat_start, self.pass_no = self.at, 1

    def _jump(self, bar: Bar) -> None:
        self.jumped, self.until = True, bar.jump_to
        segno = next((index for index, other in enumerate(self.bars) if other.segno), 0)
        self.at = segno if bar.jump == "D.S." else _first_full_bar(self.bars)
        self.repeat_start, self.pass_no = self.at, 1

    def _ending_follows(self, index: int) -> bool:
        return index < len(self.bars) and bool(self.bars[index].endings) and not self.bars[index].start_repeat

    def _passage_end(self, start: int) -> int:
        """The bar after the last ending of the passage that begins at `start`."""
        index = start
        while index < len(self.bars):
            if index > start and self.bars[index].start_repeat:
                return index
            if self.bars[index].end_repeat and not self._ending_follows(index + 1):
                return index + 1
            index += 1
        return index

    def _passes(self, index: int) -> int:
        """How often the passage around a bar is played, by the numbers of its endings."""
        begin = index
        while begin > 0 and not self.bars[begin].start_repeat and not self._passage_closed_before(begin):
            begin -= 1
        numbers = [n for bar in self.bars[begin : self._passage_end(index)] for n in bar.endings]
        return min(max(numbers, default=1), MOST_PASSES)

    def _passage_closed_before(self, index: int) -> bool:
        return bool(self.bars[index - 1].end_repeat) and not self.bars[index].endings

    def _after_ending(self, index: int) -> int:
        """The first bar after the ending that begins here."""
        follow = index
        while follow < len(self.bars):
            if follow > index and (self.bars[follow].endings or self.bars[follow].start_repeat):
                return follow
            if self.bars[follow].end_repeat:
                return follow + 1
            follow += 1
        return follow


def coda_bar(bars: Sequence[Bar], sections: Sequence[Section]) -> int | None:
    """The bar with the coda sign, or the top of a section that is called Coda."""
    marked = next((index for index, bar in enumerate(bars) if bar.coda), None)
    if marked is not None:
        return marked
    return next((section.first_bar for section in sections if section.label.strip().lower() == "coda"), None)


def _first_full_bar(bars: Sequence[Bar]) -> int:
    return next((index for index, bar in enumerate(bars) if not bar.is_pickup), 0)
