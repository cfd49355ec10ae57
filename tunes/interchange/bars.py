"""Measures as printed to bars as counted: split bars joined, the pickup found, repeats paired.

A printed measure is not always a bar. A tune that begins before the beat ends its sections short, and the
missing beats stand before the next section: the two pieces are one bar. All times are quarter notes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from tunes.interchange.errors import Loss
from tunes.interchange.sheet import SheetBar, SheetChord, SheetNote


@dataclass(frozen=True)
class Counted:
    """Bars in order, whether the first one is a pickup (bar 0), and what was lost in counting them."""

    bars: tuple[SheetBar, ...]
    pickup: bool
    losses: tuple[Loss, ...]

    def number(self, index: int) -> int:
        """The bar number a reader sees for an index."""
        return index if self.pickup else index + 1


def count_bars(bars: tuple[SheetBar, ...]) -> Counted:
    """Join split bars, mend short ones, pair repeats."""
    bars = _without_empty_tail(bars)
    pickup = _is_pickup(bars)
    if pickup and bars[0].forward:  # the notes before the beat are not played again: the bars are
        bars = (replace(bars[0], forward=False), replace(bars[1], forward=True), *bars[2:])
    joined = _joined(bars, pickup)
    losses: list[Loss] = []
    mended = tuple(_mended(bar, index, len(joined), joined, pickup, losses) for index, bar in enumerate(joined))
    paired = _paired(mended, pickup, losses)
    return Counted(paired, pickup, tuple(losses))


def _without_empty_tail(bars: tuple[SheetBar, ...]) -> tuple[SheetBar, ...]:
    """Without bars of no length at the end, which some programs write as layout."""
    end = len(bars)
    while end > 1 and bars[end - 1].length == 0 and not bars[end - 1].chords and not bars[end - 1].backward:
        end -= 1
    return bars[:end]


def _is_pickup(bars: tuple[SheetBar, ...]) -> bool:
    first = bars[0]
    return len(bars) > 1 and 0 < first.length < first.nominal and not first.backward


def _joined(bars: tuple[SheetBar, ...], pickup: bool) -> tuple[SheetBar, ...]:
    out: list[SheetBar] = []
    for index, bar in enumerate(bars):
        last = out[-1] if out else None
        if last is not None and not (pickup and index == 1) and _makes_one_bar(last, bar):
            out[-1] = _join(last, bar)
            if bar.forward and index + 1 < len(bars):
                bars = (*bars[: index + 1], replace(bars[index + 1], forward=True), *bars[index + 2 :])
            continue
        out.append(bar)
    return tuple(out)


def _makes_one_bar(a: SheetBar, b: SheetBar) -> bool:
    return 0 < a.length < a.nominal and b.length > 0 and a.length + b.length == a.nominal and a.nominal == b.nominal


def _join(a: SheetBar, b: SheetBar) -> SheetBar:
    """`b` moved behind `a`. A repeat that began in `b` begins at the next whole bar."""
    moved = tuple(SheetChord(chord.onset + a.length, chord.text) for chord in b.chords)
    notes = tuple(SheetNote(n.pitch, n.onset + a.length, n.duration, n.tied) for n in b.notes)
    return replace(
        a,
        length=a.nominal,
        chords=a.chords + moved,
        notes=a.notes + notes,
        backward=a.backward or b.backward,
        ending_stops=a.ending_stops or b.ending_stops,
        double=a.double or b.double,
        to_coda=a.to_coda or b.to_coda,
        dal_segno=a.dal_segno or b.dal_segno,
        da_capo=a.da_capo or b.da_capo,
        fine=a.fine or b.fine,
    )


def _mended(
    bar: SheetBar, index: int, count: int, bars: tuple[SheetBar, ...], pickup: bool, losses: list[Loss]
) -> SheetBar:
    """A bar whose notes do not fill its metre, or spill over it, made a bar of some metre."""
    if bar.length in (0, bar.nominal) or (pickup and index == 0):
        return bar
    completes = pickup and bar.length + bars[0].length == bar.nominal
    ends = index == count - 1 or bar.backward or bar.double or bar.da_capo or bar.dal_segno or bar.ending_stops
    if completes and ends:
        return bar
    beats = bar.length * bar.unit / 4
    if beats.denominator == 1 and 1 <= beats <= 32 and (bar.implicit or bar.length < bar.nominal):
        return replace(bar, beats=int(beats))
    number = index if pickup else index + 1
    losses.append(Loss("short-bar", number, f"{_quarters(bar.length)} in a bar of {bar.beats}/{bar.unit}"))
    inside = tuple(chord for chord in bar.chords if chord.onset < bar.nominal)
    return replace(bar, length=bar.nominal, chords=inside)


def _quarters(length: Fraction) -> str:
    return f"{float(length):g} quarter notes"


def _paired(bars: tuple[SheetBar, ...], pickup: bool, losses: list[Loss]) -> tuple[SheetBar, ...]:
    """Repeats that have both ends, and endings that belong to a repeat."""
    out = list(bars)
    opened: int | None = None
    for index, bar in enumerate(out):
        if bar.forward:
            if opened is not None:
                losses.append(Loss("repeat", opened if pickup else opened + 1, "a repeat that opens and never closes"))
                out[opened] = replace(out[opened], forward=False)
            opened = index
        if (bar.backward and _last_ending(out, index)) or (
            bar.backward and not bar.endings and not _inside_ending(out, index)
        ):
            opened = None
    if opened is not None and not any(bar.backward for bar in out[opened:]):
        losses.append(Loss("repeat", opened if pickup else opened + 1, "a repeat that opens and never closes"))
        out[opened] = replace(out[opened], forward=False)
    return tuple(out)


def _inside_ending(bars: list[SheetBar], index: int) -> bool:
    for at in range(index, -1, -1):
        if bars[at].endings:
            return True
        if at < index and bars[at].ending_stops:
            return False
    return False


def _last_ending(bars: list[SheetBar], index: int) -> bool:
    """Whether the ending that closes at `index` has no further ending behind it."""
    return _inside_ending(bars, index) and not (index + 1 < len(bars) and bars[index + 1].endings)
