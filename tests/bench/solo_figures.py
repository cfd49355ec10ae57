"""What the scorer of recorded solos does not print: taps that jitter, bars that stay open, notes played ahead of their chord.

    python -m tests.bench.solo_figures SOLOS.json.gz

The solos are research data and no part of the project.
"""

from __future__ import annotations

import gzip
import json
import random
from bisect import bisect_right
from collections import Counter
from fractions import Fraction
from typing import Any

from tests.bench.given import given
from tests.bench.solos import symbol_of
from tunes.harmony.charts.bars import Metre
from tunes.melody import Change, Grid, Note, Tap, fit_bars, place, read_notes

JITTER = 0.04


def timed(solo: dict[str, Any]) -> tuple[list[Note], list[Change], Grid]:
    """Notes on their written places, with how far they were played from them; chords; bars."""
    beats, unit = map(int, solo["signature"].split("/"))
    shift = 1 - min(beat[1] for beat in solo["beats"])
    grid = Grid.even(Metre(beats, unit))
    crotchet = float(grid.bars[0].beat)
    at = {(bar, beat): n for n, (_, bar, beat, _) in enumerate(solo["beats"])}
    seconds = [beat[0] for beat in solo["beats"]]
    notes = []
    for on, dur, midi, bar, beat, part, of, *_ in solo["notes"]:
        n = min(at[bar, beat], len(seconds) - 2)
        length = seconds[n + 1] - seconds[n]
        written = (bar + shift - 1) * beats + beat - 1 + part / of
        lean = (on - seconds[at[bar, beat]]) / length - part / of
        notes.append(
            Note(written * crotchet, None if dur is None else dur / length * crotchet, midi, lean=lean * crotchet)
        )
    changes, last = [], None
    for _, bar, beat, chord in solo["beats"]:
        if chord != last:
            changes.append(Change(((bar + shift - 1) * beats + beat - 1) * crotchet, symbol_of(solo["chords"][chord])))
            last = chord
    return notes, changes, grid


def jittered(solo: dict[str, Any], bars: int) -> tuple[int, int, int]:
    """Beats right, exact places right, notes, with a tap every so many bars that is up to 40 ms off."""
    draw = random.Random(solo["id"])
    beats = int(solo["signature"].split("/")[0])
    shift = 1 - min(beat[1] for beat in solo["beats"])
    first = solo["choruses"][0] if solo["choruses"] else solo["beats"][0][1]
    downs = [beat for beat in solo["beats"] if beat[2] == 1]
    wanted = [beat for beat in downs if (beat[1] - first) % bars == 0 or beat is downs[-1]]
    taps = [Tap(s + draw.uniform(-JITTER, JITTER), bar + shift, beat) for s, bar, beat, _ in wanted]
    found = place([row[0] for row in solo["notes"]], taps, beats)
    right = exact = 0
    for one, (_, _, _, bar, beat, part, of, *_) in zip(found, solo["notes"], strict=True):
        same = (one.bar, one.beat) == (bar + shift, beat)
        right += same
        exact += same and one.tick == Fraction(part, of)
    return right, exact, len(found)


def main() -> None:
    with gzip.open(given("SOLOS.json.gz, a file of annotated solos"), "rt", encoding="utf-8") as file:
        solos = json.load(file)["solos"]
    for bars in (1, 4, 8):
        rows = [jittered(solo, bars) for solo in solos]
        right, exact, count = (sum(row[n] for row in rows) for n in range(3))
        print(
            f"a tap every {bars} bars, up to 40 ms off: beat {100 * right / count:.1f} %, exact {100 * exact / count:.1f} % of {count}"
        )
    verdicts: Counter[str] = Counter()
    told = ahead = 0
    for solo in solos:
        notes, changes, grid = timed(solo)
        verdicts.update(bar.verdict for bar in fit_bars(notes, changes, grid) if bar.last - bar.first >= 3)
        seconds = [beat[0] for beat in solo["beats"]]
        for reading, row in zip(read_notes(notes, changes, grid), solo["notes"], strict=True):
            if row[9] is None or reading.semitones in (None, row[9]):
                continue
            place_in = bisect_right(seconds, row[0])
            if place_in < len(seconds) and row[5] == 0:
                ahead += 1
                told += reading.border == "ahead" and (row[2] - row[9]) % 12 != (row[2] - (reading.semitones or 0)) % 12
    total = sum(verdicts.values())
    print(
        "bars of four notes and more: "
        + ", ".join(f"{name} {100 * n / total:.1f} %" for name, n in verdicts.most_common())
    )
    print(
        f"notes on the beat that brings a chord, which the database reads over the chord before: {told} of {ahead} told as played ahead"
    )


if __name__ == "__main__":
    main()
