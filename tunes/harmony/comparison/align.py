"""Global alignment of two rows of bars with affine gaps (Needleman and Wunsch 1970; Gotoh 1982)."""

from __future__ import annotations

from collections.abc import Sequence

from tunes.harmony.comparison.cost import GAP_EXTEND, GAP_OPEN, BarSound, bar_distance

Pair = tuple[int | None, int | None]
_FAR = float("inf")
_MATCH, _LEFT_OUT, _INSERTED = 0, 1, 2


def align_bars(a: Sequence[BarSound], b: Sequence[BarSound]) -> tuple[list[Pair], float]:
    """Pairs of bar indices in order (None on the side that has no bar) and the total distance.

    Time and memory grow with the product of the lengths.
    """
    distance = _distances(a, b)
    rows = len(a) + 1
    columns = len(b) + 1
    score = [[_FAR] * 3 for _ in range(columns)]
    score[0] = [0.0, _FAR, _FAR]
    for j in range(1, columns):
        score[j] = [_FAR, _FAR, GAP_OPEN + GAP_EXTEND * j]
    back: list[list[tuple[int, int, int]]] = [[(0, 0, _INSERTED if j > 1 else 0) for j in range(columns)]]
    for i in range(1, rows):
        score, steps = _next_row(score, distance[i - 1], i)
        back.append(steps)
    end = min(range(3), key=lambda state: (score[-1][state], state))
    return _trace(back, len(a), len(b), end), score[-1][end]


def _next_row(
    above: list[list[float]], distance: list[float], i: int
) -> tuple[list[list[float]], list[tuple[int, int, int]]]:
    """Best scores of one row by state, and for each state the state that it came from."""
    first = [_FAR, GAP_OPEN + GAP_EXTEND * i, _FAR]
    row = [first]
    steps = [(0, _LEFT_OUT if i > 1 else 0, 0)]
    for j in range(1, len(above)):
        match, from_match = _least(above[j - 1])
        out, from_out = _least_gap(above[j], _LEFT_OUT)
        inserted, from_inserted = _least_gap(row[j - 1], _INSERTED)
        row.append([match + distance[j - 1], out, inserted])
        steps.append((from_match, from_out, from_inserted))
    return row, steps


def _least(cell: list[float]) -> tuple[float, int]:
    m, out, inserted = cell
    if m <= out and m <= inserted:
        return m, _MATCH
    return (out, _LEFT_OUT) if out <= inserted else (inserted, _INSERTED)


def _least_gap(cell: list[float], state: int) -> tuple[float, int]:
    """A gap that opens here or goes on."""
    longer = cell[state] + GAP_EXTEND
    other = _INSERTED if state == _LEFT_OUT else _LEFT_OUT
    opened, source = min((cell[_MATCH], _MATCH), (cell[other], other))
    opened += GAP_OPEN + GAP_EXTEND
    return (opened, source) if opened < longer else (longer, state)


def _trace(back: list[list[tuple[int, int, int]]], i: int, j: int, state: int) -> list[Pair]:
    pairs: list[Pair] = []
    while i > 0 or j > 0:
        source = back[i][j][state]
        if state == _MATCH:
            i, j = i - 1, j - 1
            pairs.append((i, j))
        elif state == _LEFT_OUT:
            i -= 1
            pairs.append((i, None))
        else:
            j -= 1
            pairs.append((None, j))
        state = source
    return pairs[::-1]


def _distances(a: Sequence[BarSound], b: Sequence[BarSound]) -> list[list[float]]:
    """Distances of all pairs; each pair of different contents is worked out once."""
    number_a, kinds_a = _numbered(a)
    number_b, kinds_b = _numbered(b)
    table = [[bar_distance(x, y) for y in kinds_b] for x in kinds_a]
    return [[table[x][y] for y in number_b] for x in number_a]


def _numbered(bars: Sequence[BarSound]) -> tuple[list[int], list[BarSound]]:
    kinds: dict[BarSound, int] = {}
    numbers = [kinds.setdefault(bar, len(kinds)) for bar in bars]
    return numbers, list(kinds)
