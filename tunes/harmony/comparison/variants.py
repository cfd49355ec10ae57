"""Two charts of one tune side by side: which bar answers which, and what every difference does.

Both charts are unfolded to one chorus. The second is brought to the key of the first (by the keys that are given or, when
they do not explain the chords, by the roots). Bars are aligned by dynamic programming with affine gaps (Needleman
and Wunsch 1970; Gotoh 1982), so that lengths and forms may differ.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from tunes.harmony.charts.model import Chart
from tunes.harmony.charts.writer import transpose_chart
from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.comparison.align import align_bars
from tunes.harmony.comparison.cost import BarSound, Sounding, bar_distance, bar_sounds, root_histogram
from tunes.harmony.comparison.names import KINDS, Context, name_difference
from tunes.harmony.pitch.spelling import UNISON, Interval, NoteName, transposition


@dataclass(frozen=True, slots=True)
class Difference:
    """One named difference.

    kind     id in `variant_names.KINDS`; sentence says it in words.
    start    fraction of the bar at which it begins.
    old, new chords of the first and the second version, in the first version's key.
    """

    kind: str
    start: Fraction
    old: tuple[ChordSymbol | None, ...]
    new: tuple[ChordSymbol | None, ...]

    @property
    def sentence(self) -> str:
        return KINDS[self.kind]


@dataclass(frozen=True, slots=True)
class Row:
    """A bar of the first chart beside a bar of the second: indices in their choruses, None where one has no bar."""

    a: int | None
    b: int | None
    differences: tuple[Difference, ...] = ()

    @property
    def same(self) -> bool:
        """Nothing differs but perhaps tensions."""
        return self.a is not None and self.b is not None and all(d.kind == "colour" for d in self.differences)


@dataclass(frozen=True, slots=True)
class Alignment:
    """All rows in playing order. `interval` brings the second chart to the key of the first."""

    rows: tuple[Row, ...]
    interval: Interval
    distance: float

    @property
    def transposed(self) -> bool:
        return self.interval.semitones % 12 != 0

    @property
    def kinds(self) -> Counter[str]:
        """How often each kind of difference occurs."""
        return Counter(difference.kind for row in self.rows for difference in row.differences)

    @property
    def same_share(self) -> float:
        """Share of rows where both versions agree, 0 to 1."""
        return sum(row.same for row in self.rows) / len(self.rows) if self.rows else 1.0

    def b_for_a(self, bar: int) -> int | None:
        """The bar of the second chorus beside a bar of the first."""
        return next((row.b for row in self.rows if row.a == bar), None)


def align(a: Chart, b: Chart) -> Alignment:
    """Align two charts of one tune.

    >>> from tunes.harmony.charts import parse_chart
    >>> one = parse_chart("key: C\\n| Dm7 | G7 | Cmaj7 | % |").chart
    >>> other = parse_chart("key: Eb\\n| Fm7 | E7 | Ebmaj7 | % |").chart
    >>> [d.kind for row in align(one, other).rows for d in row.differences]
    ['tritone-substitute']
    """
    bars_a = bar_sounds(a)
    home = a.key.tonic.pc if a.key is not None else None
    best: Alignment | None = None
    for interval in _intervals(a, b, bars_a):
        moved = transpose_chart(b, interval) if interval != UNISON else b
        candidate = _aligned(bars_a, bar_sounds(moved), interval, home)
        if best is None or candidate.distance < best.distance - 1e-9:
            best = candidate
        if best.distance <= 0.2 * max(len(bars_a), 1):
            break
    assert best is not None
    return best


def _intervals(a: Chart, b: Chart, bars_a: Sequence[BarSound]) -> list[Interval]:
    """Transpositions to try: by the keys, as it stands, and the two that fit the roots best."""
    found: list[Interval] = []
    if a.key is not None and b.key is not None:
        found.append(transposition(b.key, a.key))
    found.append(UNISON)
    theirs, ours = root_histogram(bar_sounds(b)), root_histogram(bars_a)
    scores = {shift: sum(theirs[pc] * ours[(pc + shift) % 12] for pc in range(12)) for shift in range(12)}
    for shift in sorted(scores, key=lambda s: -scores[s])[:2]:
        found.append(_interval_of(shift))
    unique: dict[int, Interval] = {}
    for interval in found:
        unique.setdefault(interval.semitones % 12, interval)
    return list(unique.values())


def _interval_of(semitones: int) -> Interval:
    """The interval of so many semitones with the plainest spelling, at most a tritone up or down."""
    fifths = (semitones * 7 + 5) % 12 - 5
    up = NoteName("C").interval_to(NoteName.from_fifths(fifths))
    return up if up.semitones <= 6 else up - Interval(7, 12)


def _aligned(a: list[BarSound], b: list[BarSound], interval: Interval, home: int | None) -> Alignment:
    pairs, distance = align_bars(a, b)
    rows = [
        Row(i, j, _differences(a, b, i, j, home)) if i is not None and j is not None else Row(i, j) for i, j in pairs
    ]
    return Alignment(tuple(_named_gaps(rows, a, b)), interval, distance)


# --- what differs inside a pair of bars ---


def _differences(a: list[BarSound], b: list[BarSound], i: int, j: int, home: int | None) -> tuple[Difference, ...]:
    if a[i] == b[j]:
        return ()
    if [s.symbol for s in a[i]] == [s.symbol for s in b[j]]:
        chords = tuple(s.symbol for s in a[i])
        return (Difference("moved", Fraction(0), chords, chords),)
    found = []
    for old, new in _regions(a[i], b[j]):
        chords_old, chords_new = tuple(s.symbol for s in old), tuple(s.symbol for s in new)
        if chords_old == chords_new:
            continue
        (next_a, then_a), (next_b, then_b) = _after(a, i, old[-1]), _after(b, j, new[-1])
        context = Context(_before(a, i, old[0]), next_a, next_b, then_a, then_b, home)
        found.append(Difference(name_difference(chords_old, chords_new, context), old[0].start, chords_old, chords_new))
    return tuple(found)


def _regions(a: BarSound, b: BarSound) -> list[tuple[list[Sounding], list[Sounding]]]:
    """Stretches between the times at which both bars begin a chord."""
    shared = sorted({s.start for s in a} & {s.start for s in b})
    regions = []
    for index, start in enumerate(shared):
        end = shared[index + 1] if index + 1 < len(shared) else Fraction(1)
        regions.append(([s for s in a if start <= s.start < end], [s for s in b if start <= s.start < end]))
    return regions


def _before(bars: list[BarSound], index: int, sounding: Sounding) -> ChordSymbol | None:
    bar = bars[index]
    at = bar.index(sounding)
    if at:
        return bar[at - 1].symbol
    return bars[index - 1][-1].symbol


def _after(bars: list[BarSound], index: int, sounding: Sounding) -> tuple[ChordSymbol | None, ChordSymbol | None]:
    """The next two chords, through the repeat of the form after the last bar."""
    ahead = list(bars[index][bars[index].index(sounding) + 1 :])
    for step in (1, 2):
        ahead += bars[(index + step) % len(bars)]
    return ahead[0].symbol, ahead[1].symbol


# --- bars that only one version has ---


def _named_gaps(rows: list[Row], a: list[BarSound], b: list[BarSound]) -> list[Row]:
    named: list[Row] = []
    at = 0
    while at < len(rows):
        run = _gap_run(rows, at)
        if run == 0:
            named.append(rows[at])
            at += 1
            continue
        stretch = rows[at : at + run]
        named.extend(_named_run(stretch, a, b))
        at += run
    return named


def _gap_run(rows: list[Row], at: int) -> int:
    """How many rows from here on miss the same side."""
    side_a, side_b = rows[at].a is None, rows[at].b is None
    if not (side_a or side_b):
        return 0
    end = at
    while end < len(rows) and (rows[end].a is None, rows[end].b is None) == (side_a, side_b):
        end += 1
    return end - at


def _named_run(stretch: list[Row], a: list[BarSound], b: list[BarSound]) -> list[Row]:
    inserted = stretch[0].a is None
    bars = b if inserted else a
    places = [row.b if inserted else row.a for row in stretch]
    first, last = places[0] or 0, places[-1] or 0
    again = _repeats_neighbour(bars, first, last + 1)
    kind = ("section-repeated" if again else "inserted-bars") if inserted else (
        "repeat-left-out" if again else "left-out-bars"
    )  # fmt: skip
    rows = []
    for row, place in zip(stretch, places, strict=True):
        chords = tuple(s.symbol for s in bars[place or 0])
        difference = Difference(kind, Fraction(0), () if inserted else chords, chords if inserted else ())
        rows.append(Row(row.a, row.b, (difference,)))
    return rows


def _repeats_neighbour(bars: list[BarSound], first: int, end: int) -> bool:
    """Whether a stretch of at least four bars is played just before or just after as well, nearly the same."""
    length = end - first
    if length < 4:
        return False
    for shift in (-length, length):
        if first + shift < 0 or end + shift > len(bars):
            continue
        apart = sum(bar_distance(bars[first + k], bars[first + shift + k]) for k in range(length))
        if apart <= length / 4:
            return True
    return False


# --- many versions ---


@dataclass(frozen=True, slots=True)
class Choice:
    """What some versions play in a bar: chords in the reference key, and which versions (indices) play it."""

    chords: tuple[ChordSymbol | None, ...]
    versions: tuple[int, ...]

    @property
    def count(self) -> int:
        return len(self.versions)


@dataclass(frozen=True, slots=True)
class ConsensusBar:
    """A bar of the reference: what the versions play there, the commonest first; missing have no such bar."""

    bar: int
    choices: tuple[Choice, ...]
    missing: tuple[int, ...]

    @property
    def agreed(self) -> bool:
        return len(self.choices) == 1 and not self.missing


def consensus(charts: Sequence[Chart], reference: int = 0) -> tuple[ConsensusBar, ...]:
    """Per bar of the reference chart: how many versions play what (tensions and basses aside, timing within the bar kept)."""
    if not charts:
        return ()
    base = bar_sounds(charts[reference])
    found: list[dict[tuple[tuple[Fraction, int, str], ...], tuple[list[int], BarSound]]] = [{} for _ in base]
    missing: list[list[int]] = [[] for _ in base]
    for number, chart in enumerate(charts):
        alignment = align(charts[reference], chart)
        bars = bar_sounds(transpose_chart(chart, alignment.interval))
        for row in alignment.rows:
            if row.a is None:
                continue
            if row.b is None:
                missing[row.a].append(number)
                continue
            found[row.a].setdefault(_outline(bars[row.b]), ([], bars[row.b]))[0].append(number)
    return tuple(
        ConsensusBar(bar, _choices(options, reference), tuple(missing[bar])) for bar, options in enumerate(found)
    )


def _outline(bar: BarSound) -> tuple[tuple[Fraction, int, str], ...]:
    return tuple((s.start, s.symbol.root.pc if s.symbol else -1, s.symbol.family if s.symbol else "") for s in bar)


def _choices(
    options: dict[tuple[tuple[Fraction, int, str], ...], tuple[list[int], BarSound]], reference: int
) -> tuple[Choice, ...]:
    made = [Choice(tuple(s.symbol for s in bar), tuple(versions)) for versions, bar in options.values()]
    return tuple(sorted(made, key=lambda c: (-c.count, reference not in c.versions, c.versions)))
