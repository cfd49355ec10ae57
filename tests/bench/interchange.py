"""Real lead sheets in and out: what is lost, what differs after a round trip, time and peak memory per file.

    python -m tests.bench.interchange

Reads every MusicXML file with chords that comes with music21 (corpus, the unofficial MusicXML test suite, own test files) and
the tunes of `nottingham-dataset` as music21 converts them. Times are shown beside music21's own parse of the
same file in the same run.
"""

from __future__ import annotations

import time
import tracemalloc
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import music21

from tests.tunes import real_scores
from tunes.interchange import Extras, ImportReading, Refused, import_lead_sheet, write_musicxml
from tunes.interchange.importing import differing


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Best of three, in milliseconds."""
    best, result = float("inf"), None
    for _turn in range(3):
        start = time.perf_counter()
        result = work()
        best = min(best, time.perf_counter() - start)
    return best * 1000, result


def peak(data: bytes) -> float:
    tracemalloc.start()
    import_lead_sheet(data)
    top = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return top / 1e6


def differences(reading: ImportReading) -> list[str]:
    """Everything that is not the same after export and import."""
    back = import_lead_sheet(write_musicxml(reading.chart, Extras(melody=reading.melody)))
    found = [f"bar {bar.number}" for bar in differing(back.chart, reading.chart)]
    if back.chart.sections != reading.chart.sections:
        found.append("sections")
    if back.chart.key != reading.chart.key:
        found.append("key")
    ours, theirs = ([(n.bar, n.start, n.pitch) for n in r.melody.notes] for r in (reading, back))
    return [*found, *(["melody"] if ours != theirs else [])]


def sources() -> list[tuple[str, str, bytes, Path | None]]:
    rows = [(path.parent.name, path.name, path.read_bytes(), path) for path in real_scores.with_harmony()]
    return rows + [("converted from ABC", name, data, None) for name, data in real_scores.from_abc()]


def main() -> None:
    read, whole, lost = 0, 0, Counter[str]()
    rows = sources()
    print(f"{'file':44} {'bars':>4} {'ms':>7} {'peak MB':>8} {'music21':>8}  losses; differences after a round trip")
    for folder, name, data, path in rows:
        try:
            took, reading = timed(lambda data=data: import_lead_sheet(data))  # type: ignore[misc]
        except Refused as error:
            print(f"{folder}/{name}: refused, {error}")
            continue
        read += 1
        kinds = Counter(loss.what for loss in reading.harmonic_losses)
        whole += not kinds
        lost.update(kinds)
        other = ""
        if path is not None:
            theirs, _score = timed(lambda path=path: music21.converter.parse(path, forceSource=True))  # type: ignore[misc]
            other = f"{theirs / took:6.0f} x"
        listed = ", ".join(f"{what} {count}" for what, count in kinds.items()) or "none"
        differ = ", ".join(differences(reading)) or "none"
        print(
            f"{folder + '/' + name:44.44} {len(reading.chart.bars):4} {took:7.1f} {peak(data):8.2f} {other:>8}  {listed}; {differ}"
        )
    print(
        f"\nread {read} of {len(rows)}; without any loss of harmony, form or melody {whole} of {len(rows)} ({whole / len(rows):.0%})"
    )
    for what, count in lost.most_common():
        print(f"  {what}: {count}")


if __name__ == "__main__":
    main()
