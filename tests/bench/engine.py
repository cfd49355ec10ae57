"""What the engine costs: a whole set of charts, against music21 on the same chords, and growth with length.

    python -m tests.bench.engine CHARTS.json

CHARTS.json holds a list of charts with `chords` (symbols as the reader of its folder gives them) through the
reader `corpus.py` beside it (`load() -> tunes with .chords and .meter`); none of it enters the project. music21
gets every chord as pitches, with its root, and the key the engine found, so that its own text reader plays no
part; it is asked for the Roman numeral of each. Ratios are of processor time in one run.
"""

from __future__ import annotations

import importlib
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.bench.corpus import _symbol, analyse_chords
from tunes.harmony.analysis import analyse
from tunes.harmony.chart import parse_chart

SAMPLE = 60  # charts given to music21, which takes long
CELL = "| Cmaj7 | Gm7 C7 | Fmaj7 | Fm7 Bb7 | Em7 A7 | Dm7 G7 | Cmaj7 Am7 | Dm7 G7 "


def cost(work: Callable[[], Any]) -> float:
    """Processor seconds."""
    start = time.process_time()
    work()
    return time.process_time() - start


def roman_numerals(tunes: list[Any], keys: list[str]) -> int:
    """music21: a chord symbol from pitches and its Roman numeral, for every chord."""
    from music21 import chord, harmony, key, roman

    count = 0
    for tune, home in zip(tunes, keys, strict=True):
        tonic, mode = home.split()
        scale = key.Key(tonic.replace("b", "-"), mode)
        for row in tune.chords:
            symbol = _symbol(row["symbol"])
            assert symbol is not None
            names = [tone.text.replace("b", "-") for tone in symbol.tones]
            harmony.ChordSymbol(root=names[0], kind="major")
            found = chord.Chord(names)
            found.root(names[0])
            roman.romanNumeralFromChord(found, scale)
            count += 1
    return count


def growth() -> float:
    """Cost of 512 bars over that of 64."""
    charts = [parse_chart("key: C major\n" + CELL * times + "|").chart for times in (8, 64)]
    assert all(charts)
    short, long = (min(cost(lambda chart=chart: analyse(chart)) for _ in range(3)) for chart in charts)  # type: ignore[misc]
    return long / short


def main(path: str) -> None:
    sys.path.insert(0, str(Path(path).resolve().parent))
    tunes = importlib.import_module("corpus").load(path)
    chords = sum(len(tune.chords) for tune in tunes)
    found: list[Any] = []
    whole = cost(lambda: found.extend(analyse_chords(tune.chords, tune.meter) for tune in tunes))
    print(f"{len(tunes)} charts, {chords} chords: {whole:.2f} s, {1000 * whole / len(tunes):.1f} ms a chart")
    sample, keys = tunes[:SAMPLE], [answer["key"] for answer in found[:SAMPLE]]
    ours = cost(lambda: [analyse_chords(tune.chords, tune.meter) for tune in sample])
    roman_numerals(sample[:1], keys[:1])  # imports are not counted
    theirs = cost(lambda: roman_numerals(sample, keys))
    print(f"music21 on {SAMPLE} of them: {theirs:.1f} s against {ours:.3f} s, ratio {theirs / ours:.0f}")
    print(f"512 bars against 64: {growth():.1f} times")


if __name__ == "__main__":
    main(sys.argv[1])
