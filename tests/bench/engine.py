"""What the engine costs: a whole set of charts, against music21 on the same chords, and growth with length.

    python -m tests.bench.engine CHARTS.json

CHARTS.json holds a list of charts with `chords` (symbols as the reader of its folder gives them) through the
reader `corpus.py` beside it (`load() -> tunes with .chords and .meter`); none of it enters the project.  Cold is
the first run of a process, warm the best of three later ones: what one tune has asked of the engine's tables is
known for the next.  music21 gets every chord as pitches with its root, and the key the engine found, so that its
own text reader plays no part; it is asked for the chord symbol and for the Roman numeral of each, which is less
than the engine says of it.  Costs and ratios are of processor time in one run.
"""

from __future__ import annotations

import importlib
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from tests.bench.corpus import _symbol, analyse_chords
from tests.bench.given import given
from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.charts import parse_chart

SAMPLE = 60  # charts given to music21, which takes long
CELL = "| Cmaj7 | Gm7 C7 | Fmaj7 | Fm7 Bb7 | Em7 A7 | Dm7 G7 | Cmaj7 Am7 | Dm7 G7 "


def cost(work: Callable[[], Any]) -> float:
    """Processor seconds."""
    start = time.process_time()
    work()
    return time.process_time() - start


def read_by_music21(tune: Any, home: str) -> None:
    """music21: the chord symbol of every chord of a chart from its pitches, and its Roman numeral in a key."""
    from music21 import chord, harmony, key, roman

    tonic, mode = home.split()
    scale = key.Key(tonic.replace("b", "-"), mode)
    for row in tune.chords:
        symbol = _symbol(row["symbol"])
        assert symbol is not None
        names = [tone.text.replace("b", "-") for tone in symbol.tones]
        found = chord.Chord(names)
        found.root(names[0])
        harmony.chordSymbolFromChord(found)
        roman.romanNumeralFromChord(found, scale)


def growth() -> float:
    """Cost of 512 bars over that of 64."""
    charts = [parse_chart("key: C major\n" + CELL * times + "|").chart for times in (8, 64)]
    assert all(charts)
    short, long = (min(cost(partial(analyse, chart)) for _ in range(3)) for chart in charts if chart)
    return long / short


def read_by_engine(tunes: list[Any]) -> tuple[list[float], list[str]]:
    """What every chart costs, and the keys found."""
    costs: list[float] = []
    keys: list[str] = []
    for tune in tunes:
        start = time.process_time()
        found = analyse_chords(tune.chords, tune.meter)
        costs.append(time.process_time() - start)
        keys.append(found["key"])
    return costs, keys


def told(what: str, costs: list[float], chords: int) -> str:
    seconds = sum(costs)
    return f"{what}: {1000 * seconds / len(costs):.2f} ms a chart, {1e6 * seconds / chords:.0f} us a chord"


def main(path: str) -> None:
    sys.path.insert(0, str(Path(path).resolve().parent))
    tunes = importlib.import_module("corpus").load(path)
    chords = sum(len(tune.chords) for tune in tunes)
    cold, keys = read_by_engine(tunes)
    warm = min((read_by_engine(tunes)[0] for _ in range(3)), key=sum)
    print(f"{len(tunes)} charts, {chords} chords")
    print(told("cold", cold, chords))
    print(told("warm", warm, chords))
    step = max(1, len(tunes) // SAMPLE)
    sample = tunes[::step]
    read_by_music21(sample[0], keys[0])  # imports are not counted
    theirs = [cost(partial(read_by_music21, *pair)) for pair in zip(sample, keys[::step], strict=True)]
    print(told(f"music21, every {step}th chart", theirs, sum(len(tune.chords) for tune in sample)))
    print(f"ratio on those: {sum(theirs) / sum(cold[::step]):.0f} cold, {sum(theirs) / sum(warm[::step]):.0f} warm")
    print(f"512 bars against 64: {growth():.1f} times")


if __name__ == "__main__":
    main(given("CHARTS.json, a file of charts with its reader corpus.py beside it"))
