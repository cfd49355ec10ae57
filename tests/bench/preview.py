"""What is waited for: the first chart of a fresh process against a later one, and the preview while typing against parsing alone.

    python -m tests.bench.preview [--times 200]

Printed: the first analysis of a fresh process over the median of later ones (five processes; processor time), and for a chart of
64 bars the median and 95th percentile of what the server does for one preview (parse, name the form, draw, render), in
milliseconds of processor time, with its ratio to parsing alone. Every text differs from the one before, as it does while typing.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

CELL = "| Cmaj7 | Gm7 C7 | Fmaj7 | Fm7 Bb7 | Em7 A7 | Dm7 G7 | Cmaj7 Am7 | Dm7 G7 "
TEXT = "key: C major\n" + "\n".join(f"{letter}:\n{CELL * 2}|" for letter in "ABCD")
_FIRST = """
import time
from tests.bench.preview import TEXT
from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.charts import parse_chart
chart = parse_chart(TEXT).chart
def cost():
    start = time.process_time()
    analyse(chart)
    return time.process_time() - start
first, later = cost(), sorted(cost() for _ in range(15))[7]
print(first * 1000, later * 1000)
"""


def first_and_later() -> tuple[float, float]:
    """Milliseconds of the first analysis of a process, and the median of later ones."""
    said = subprocess.run(
        [sys.executable, "-c", _FIRST], capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2]
    ).stdout
    first, later = map(float, said.split())
    return first, later


def costs(work: Callable[[str], object], times: int) -> list[float]:
    """Milliseconds of each run, over texts that differ by what has been typed last."""
    found = []
    for number in range(times):
        text = f"{TEXT}\n| Dm7 | G7{'9' if number % 2 else ''} | C6 | % | {'F6 | ' * (number % 7)}"
        start = time.process_time()
        work(text)
        found.append((time.process_time() - start) * 1000)
    return sorted(found)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--times", type=int, default=200)
    given = parser.parse_args()
    runs = [first_and_later() for _ in range(5)]
    first, later = (statistics.median(column) for column in zip(*runs, strict=True))
    print(f"first analysis {first:.0f} ms, later {later:.1f} ms: {first / later:.1f} times")

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    import django

    django.setup()
    from django.template.loader import render_to_string

    from tunes.harmony.charts import parse_chart
    from tunes.views.editor import preview_context

    def preview(text: str) -> object:
        return render_to_string("tunes/_preview.html", preview_context(text))

    preview(TEXT)
    shown, parsed = costs(preview, given.times), costs(parse_chart, given.times)
    middle, late = statistics.median(shown), shown[int(0.95 * len(shown))]
    print(
        f"preview of 64 bars: median {middle:.1f} ms, p95 {late:.1f} ms, {middle / statistics.median(parsed):.1f} times parsing alone"
    )


if __name__ == "__main__":
    main()
