"""How often the engine agrees with a teacher: one score over any folder of annotated charts.

    python -m tests.bench.score [FOLDER] [--misses]       without a folder: tests/harmony/taught

A file `*.txt` holds a chart as people type it (docs/chart-text.md), a line of at least four dashes, a line `home: Eb major`, and
the annotation: a bar between the same barlines for every bar of one chorus as played, with one numeral for each chord (`V7/ii`,
`iiø7`, `subV7`; degrees are counted from the major scale of the key, lower case is minor; the case of a goal is not counted). A key before a numeral (`G:`, `Am:`)
holds from there on; it begins as home. `%` repeats the bar before. `key:` lines of the chart are left out before it is read, so
the home key is found and not copied.

Printed, for each file and for all: home keys that agree; of the chords, those whose key agrees, those whose numeral agrees
(with the key or without), and both.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.charts import parse_chart
from tunes.harmony.pitch.spelling import Key

TAUGHT = Path(__file__).resolve().parents[1] / "harmony" / "taught"
_PREFIX = re.compile(r"^[A-G][b#]*m?:$")
_DASHES = re.compile(r"^-{4,}\s*$", re.MULTILINE)


@dataclass(kw_only=True)
class Score:
    """Counts over some charts; `misses` says where the engine and the teacher part."""

    charts: int = 0
    homes: int = 0
    chords: int = 0
    keys: int = 0
    numerals: int = 0
    both: int = 0
    misses: list[str] = field(default_factory=list)

    def add(self, other: Score) -> None:
        for name in ("charts", "homes", "chords", "keys", "numerals", "both"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        self.misses += other.misses

    def __str__(self) -> str:
        def share(part: int, whole: int) -> str:
            return f"{100 * part / whole:5.1f} %" if whole else "  n/a"

        return (f"home {share(self.homes, self.charts)} of {self.charts}, key {share(self.keys, self.chords)}, "
                f"numeral {share(self.numerals, self.chords)}, both {share(self.both, self.chords)} of {self.chords} chords")  # fmt: skip


def annotation(text: str) -> tuple[Key, list[list[tuple[Key, str]]]]:
    """Home, and for every bar the key and numeral of each chord. Raises ValueError that says what is wrong."""
    first, _, rest = text.strip().partition("\n")
    if not first.startswith("home:"):
        raise ValueError(f"an annotation begins with “home: KEY”, not with {first!r}")
    home = Key.parse(first.removeprefix("home:").strip())
    key, bars = home, []
    for line in rest.splitlines():
        for bar in line.strip().strip("|").split("|"):
            row: list[tuple[Key, str]] = []
            for token in bar.split():
                if _PREFIX.match(token):
                    key = Key.parse(token[:-1])
                elif token == "%":
                    row = list(bars[-1])
                else:
                    row.append((key, token))
            bars.append(row)
    return home, bars


def score_text(name: str, text: str) -> Score:
    """The score of one annotated chart. Raises ValueError when it cannot be read or does not fit itself."""
    parts = _DASHES.split(text)
    if len(parts) != 2:
        raise ValueError(f"{name}: one line of dashes stands between chart and annotation")
    found = parse_chart("\n".join(line for line in parts[0].splitlines() if not line.startswith("key:")))
    if found.chart is None or found.problems:
        raise ValueError(
            f"{name}: the chart cannot be read: {found.problems[0].message if found.problems else 'it is empty'}"
        )
    home, bars = annotation(parts[1])
    read, events = analyse(found.chart), found.chart.events()
    total = Score(charts=1, homes=int(same_key(read.home, home)))
    if not total.homes:
        total.misses.append(f"{name}: home {read.home.text}, taught {home.text}")
    for number, row in enumerate(bars):
        inside = [event for event in events if event.chorus_bar == number]
        if len(inside) != len(row):
            raise ValueError(f"{name}: bar {number + 1} has {len(inside)} chords and {len(row)} numerals")
        for event, (key, numeral) in zip(inside, row, strict=True):
            reading = read.readings[event.index]
            key_right, numeral_right = same_key(reading.key, key), same_numeral(reading.function.numeral, numeral)
            total.chords += 1
            total.keys += key_right
            total.numerals += numeral_right
            total.both += key_right and numeral_right
            if not (key_right and numeral_right):
                symbol = event.symbol.text if event.symbol else "N.C."
                total.misses.append(
                    f"{name}: bar {number + 1}, {symbol}: {reading.key.short}: {reading.function.numeral}, taught {key.short}: {numeral}"
                )
    return total


def same_key(a: Key, b: Key) -> bool:
    return (a.tonic.pc, a.mode) == (b.tonic.pc, b.mode)


def same_numeral(a: str, b: str) -> bool:
    """Equal but for the case of a goal: a chain of dominants writes V7/II where another teacher writes V7/ii.

    >>> same_numeral("V7/II", "V7/ii"), same_numeral("II7", "ii7")
    (True, False)
    """
    (own, _, goal), (other, _, aim) = a.partition("/"), b.partition("/")
    return (own, goal.lower()) == (other, aim.lower())


def score(paths: Iterable[Path]) -> Score:
    total = Score()
    for path in paths:
        total.add(score_text(path.stem, path.read_text(encoding="utf-8")))
    return total


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path, default=TAUGHT)
    parser.add_argument("--misses", action="store_true", help="say where engine and teacher part")
    given = parser.parse_args()
    total = Score()
    for path in sorted(given.folder.glob("*.txt")):
        one = score([path])
        print(f"{path.stem:<34} {one}")
        total.add(one)
    if given.misses:
        print("\n".join(total.misses))
    print(f"{'all':<34} {total}")


if __name__ == "__main__":
    main()
