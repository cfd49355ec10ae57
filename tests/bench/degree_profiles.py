"""Learn the shares of degrees over each kind of chord from annotated solos: counts only, nothing of any one solo.

    python -m tests.bench.degree_profiles SOLOS.json.gz [--write | --folds N]

--folds N prints how often the written chord fits better than another of the same solo on folds that were not counted.

The solos are research data and no part of the project.
"""

from __future__ import annotations

import argparse
import gzip
import json
import random
import re
from bisect import bisect_right
from collections import defaultdict
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

from tests.bench.given import given
from tests.bench.solos import symbol_of
from tunes.melody import fit
from tunes.melody.fit import colour_class
from tunes.melody.habits import kinds_of
from tunes.melody.notes import Change
from tunes.melody.profiles import MODEL

PROVENANCE = {
    "source": "Weimar Jazz Database, Jazzomat Research Project, Hochschule für Musik Franz Liszt Weimar.",
    "described": "Pfleiderer, Frieler, Abeßer, Zaddach, Burkhart (eds.), Inside the Jazzomat, Schott 2017.",
    "taken from": "R package jazzodata 0.1.4 (commit 0dc98cf), half of its solos.",
    "licence": "Open Database License 1.0; counts only, no solo, player or title can be told from them.",
    "made by": "python -m tests.bench.degree_profiles SOLOS.json.gz --write",
}


def counts_of(solos: list[dict[str, Any]]) -> dict[str, list[int]]:
    counts: defaultdict[str, list[int]] = defaultdict(lambda: [0] * 12)
    for solo in solos:
        for (cls, goes), semitones in notes_over(solo):
            counts[f"{cls}|{goes}"][semitones] += 1
    return dict(sorted(counts.items()))


def notes_over(solo: dict[str, Any]) -> list[tuple[tuple[str, str], int]]:
    """Kind of the chord of the moment and semitones above its root, for every note over a chord."""
    spans: list[int] = []
    at: dict[tuple[int, int], int] = {}
    for _, bar, beat, chord in solo["beats"]:
        if not spans or spans[-1] != chord:
            spans.append(chord)
        at[bar, beat] = len(spans) - 1
    changes = [Change(float(n), symbol_of(solo["chords"][chord])) for n, chord in enumerate(spans)]
    kinds = kinds_of(changes)
    found = []
    for row in solo["notes"]:
        span = at[row[3], row[4]]
        symbol = changes[span].symbol
        if symbol is not None:
            found.append((kinds[span], (row[2] - symbol.root.pc) % 12))
    return found


def spans_of(solo: dict[str, Any]) -> dict[tuple[int, int], list[tuple[int, float]]]:
    """(pitch, crotchets) of the notes by bar and chord."""
    seconds = [row[0] for row in solo["beats"]]
    crotchet = 4 / int(solo["signature"].split("/")[1])
    found: defaultdict[tuple[int, int], list[tuple[int, float]]] = defaultdict(list)
    for row in solo["notes"]:
        at = min(max(bisect_right(seconds, row[0]) - 1, 0), len(seconds) - 2)
        length = 0.5 if row[1] is None else row[1] / (seconds[at + 1] - seconds[at]) * crotchet
        if symbol_of(solo["chords"][row[7]]) is not None:
            found[row[3], row[7]].append((row[2], length))
    return found


def neighbour_counts(solos: list[dict[str, Any]]) -> dict[str, dict[str, list[list[int]]]]:
    """By class of chord: notes by semitones above the root, by the interval before and after (none: row 12)."""
    counts: dict[str, dict[str, list[list[int]]]] = {}
    for solo in solos:
        for (_, chord), notes in spans_of(solo).items():
            symbol = symbol_of(solo["chords"][chord])
            rows = counts.setdefault(
                colour_class(symbol), {side: [[0] * 12 for _ in range(13)] for side in ("before", "after")}
            )
            for place, (midi, _) in enumerate(notes):
                back = (notes[place - 1][0] - midi) % 12 if place else 12
                on = (notes[place + 1][0] - midi) % 12 if place + 1 < len(notes) else 12
                rows["before"][back][(midi - symbol.root.pc) % 12] += 1
                rows["after"][on][(midi - symbol.root.pc) % 12] += 1
    return counts


def pairs_right(solos: list[dict[str, Any]]) -> tuple[float, int]:
    """Pairs that the written chord wins against another chord of the solo on another root; bars of four notes and more."""
    won, count = 0.0, 0
    for solo in solos:
        draw = random.Random(solo["id"])
        spans = spans_of(solo)
        pool = sorted({chord for _, chord in spans})
        for (_, chord), notes in spans.items():
            symbol = symbol_of(solo["chords"][chord])
            others = [o for o in pool if symbol_of(solo["chords"][o]).root.pc != symbol.root.pc]
            if len(notes) < 4 or not others:
                continue
            written = fit.chord_fit(notes, symbol)
            for other in draw.sample(others, min(3, len(others))):
                against = fit.chord_fit(notes, symbol_of(solo["chords"][other]))
                won += 1.0 if written > against else 0.5 * (written == against)
                count += 1
    return won, count


def folds(solos: list[dict[str, Any]], count: int) -> None:
    total, pairs = 0.0, 0
    for fold in range(count):
        learnt = neighbour_counts([s for n, s in enumerate(solos) if n % count != fold])
        with patch.object(fit, "_tables", partial(tables_of, learnt)):
            won, tried = pairs_right([s for n, s in enumerate(solos) if n % count == fold])
        print(f"fold {fold + 1}: {100 * won / tried:.1f} % of {tried}")
        total, pairs = total + won, pairs + tried
    won, tried = pairs_right(solos)
    print(
        f"folds together {100 * total / pairs:.1f} %; with the stored table, which counted these solos too, {100 * won / tried:.1f} %"
    )


def tables_of(counts: dict[str, dict[str, list[list[int]]]]) -> dict[str, fit.Table]:
    return {cls: (fit._logs(rows["before"]), fit._logs(rows["after"])) for cls, rows in counts.items()}


def write(path: Path, what: str, counts: Any) -> None:
    text = json.dumps({"provenance": {"what": what, **PROVENANCE}, "counts": counts}, indent=1, ensure_ascii=False)
    text = re.sub(r"\[\s+(-?\d[^\[\]]*?)\s+\]", lambda found: "[" + " ".join(found[1].split()) + "]", text)
    path.write_text(text + "\n", encoding="utf-8")


def main() -> None:
    given("SOLOS.json.gz, a file of annotated solos")
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("solos")
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--folds", type=int, default=0)
    wanted = parser.parse_args()
    with gzip.open(wanted.solos, "rt", encoding="utf-8") as file:
        solos = json.load(file)["solos"]
    counts = counts_of(solos)
    for kind, row in counts.items():
        total = sum(row)
        print(f"{kind:28s} {total:6d}  " + " ".join(f"{100 * n / total:5.1f}" for n in row))
    if wanted.write:
        write(
            MODEL,
            "Counts of notes by semitones above the root, over each class of chord and where a dominant goes.",
            counts,
        )
        write(fit.MODEL, "Counts of notes by semitones above the root, by class of chord and by the interval to the note before and after (semitones "
              "upward mod 12; row 12: none).", neighbour_counts(solos))  # fmt: skip
    if wanted.folds:
        folds(solos, wanted.folds)


if __name__ == "__main__":
    main()
