"""Learn the shares of degrees over each kind of chord from annotated solos: counts only, nothing of any one solo.

    python -m tests.bench.degree_profiles SOLOS.json.gz [--write] [--folds N]

The solos are research data and no part of the project.
"""

from __future__ import annotations

import argparse
import gzip
import json
from collections import defaultdict
from typing import Any

from tests.bench.solos import symbol_of
from tunes.melody.habits import kinds_of
from tunes.melody.notes import Change
from tunes.melody.profiles import MODEL

PROVENANCE = {
    "what": "Counts of notes by semitones above the root, over each class of chord and where a dominant goes.",
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


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("solos")
    parser.add_argument("--write", action="store_true")
    wanted = parser.parse_args()
    with gzip.open(wanted.solos, "rt", encoding="utf-8") as file:
        solos = json.load(file)["solos"]
    counts = counts_of(solos)
    for kind, row in counts.items():
        total = sum(row)
        print(f"{kind:28s} {total:6d}  " + " ".join(f"{100 * n / total:5.1f}" for n in row))
    if wanted.write:
        text = json.dumps({"provenance": PROVENANCE, "counts": counts}, indent=1, ensure_ascii=False)
        MODEL.write_text(text.replace("\n   ", " ").replace("\n  ]", " ]") + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
