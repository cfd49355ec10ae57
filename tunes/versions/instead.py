"""What other versions play instead, in runs of bars: the same run is said once with all of its places. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from tunes.harmony.charts.bar_count import bars_named
from tunes.versions.folding import Said
from tunes.versions.sides import Line, Played, SideBySide

Bars = tuple[tuple[Said, ...], ...]


@dataclass(frozen=True)
class Run:
    """Neighbouring bars of another version. `place`: "bar 2", "bars 3 to 4 and 7 to 8", "behind bar 8" where they are more."""

    place: str
    bars: Bars


@dataclass(frozen=True)
class Instead:
    """One other version and what it plays otherwise, in the order of its bars."""

    name: str
    runs: tuple[Run, ...]


def instead(
    table: SideBySide, names: Sequence[str], say: Callable[[Played, Sequence[Played]], Said]
) -> tuple[Instead, ...]:
    """Version by version; `say` tells a chord, given what the first version plays in that bar. Empty where all is alike."""
    found = ((name, _runs(table.lines, number, say)) for number, name in enumerate(names))
    return tuple(Instead(name, runs) for name, runs in found if runs)


def _runs(lines: Sequence[Line], number: int, say: Callable[[Played, Sequence[Played]], Said]) -> tuple[Run, ...]:
    runs: list[tuple[list[int], str, list[tuple[Said, ...]]]] = []  # numbers, where it is more than the first has, bars
    last, before = 0, -1
    for place, line in enumerate(lines):
        cell = line.cells[number]
        own = line.number is not None
        last = line.number if line.number is not None else last
        if cell.same or (cell.missing and not own):
            continue
        bar = (Said(before="left out"),) if cell.missing else tuple(say(one, line.played) for one in cell.played)
        extra = "" if own else (f"behind bar {last}" if last else "before bar 1")
        if runs and before == place - 1 and runs[-1][1] == extra:
            runs[-1][0].append(last)
            runs[-1][2].append(bar)
        else:
            runs.append(([last], extra, [bar]))
        before = place
    return _once(runs)


def _once(runs: Sequence[tuple[list[int], str, list[tuple[Said, ...]]]]) -> tuple[Run, ...]:
    places: dict[tuple[str, Bars], list[list[int]]] = {}
    for numbers, extra, bars in runs:
        places.setdefault((extra, tuple(bars)), []).append(numbers)
    return tuple(Run(extra or _named(found), bars) for (extra, bars), found in places.items())


def _named(found: Sequence[Sequence[int]]) -> str:
    """The places of one run: "bars 3 and 11", "bars 3 to 4 and 7 to 8"."""
    if len(found[0]) == 1:
        return bars_named(numbers[0] for numbers in found)
    words = [f"{numbers[0]} to {numbers[-1]}" for numbers in found]
    return "bars " + (", ".join(words[:-1]) + " and " + words[-1] if len(words) > 1 else words[0])
