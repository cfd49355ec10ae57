"""The band's rules over many charts in every style, and what a chorus costs. Prints counts and ratios; asserts nothing.

python -m tests.bench.band [COUNT]      # charts, drawn by a seeded grammar of cadences; 500 without it
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from itertools import pairwise

from drills.band import bass
from drills.band.chorus import play_chorus
from drills.band.styles import STYLES, Style
from drills.lines.guide_tones import guide_tones_of
from drills.lines.passage import Passage, passage
from tests.drills.lines import plain_scales
from tunes.harmony.charts import parse_chart
from tunes.harmony.pitch.spelling import Interval, NoteName

CELLS = (
    "ii V I I",
    "I vi ii V",
    "iii VI ii V",
    "iv bVII I I",
    "iiø Vb9 i i",
    "I I IV iv",
    "I #io ii V",
    "subV I ii V",
    "I/3 biiio ii V",
)
KINDS = {
    "ii": ("M2", "m7"), "V": ("P5", "7"), "I": ("P1", "maj7"), "vi": ("M6", "m7"), "iii": ("M3", "m7"), "VI": ("M6", "7b9"),
    "iv": ("P4", "m7"), "bVII": ("m7", "7"), "iiø": ("M2", "m7b5"), "Vb9": ("P5", "7b9"), "i": ("P1", "m6"), "IV": ("P4", "maj7"),
    "#io": ("A1", "dim7"), "subV": ("m2", "7"), "biiio": ("m3", "dim7"),
}  # fmt: skip
KEYS = [NoteName.from_fifths(fifths) for fifths in range(-6, 6)]


def chart_text(rng: random.Random, style: Style) -> str:
    """32 bars (16 with two chords to a bar), invented."""
    key = rng.choice(KEYS)
    names = [name for _ in range(8) for name in rng.choice(CELLS).split()]
    chords = []
    for name in names:
        degree, _, third = name.partition("/")
        step, kind = KINDS[degree]
        root = (key + Interval.parse(step)).text
        chords.append(root + kind + (f"/{(key + Interval.parse('M3')).text}" if third else ""))
    if style.length == 4 and rng.random() < 0.4:
        chords = [f"{a} / {b} /" for a, b in zip(chords[::2], chords[1::2], strict=True)]
    return f"metre: {style.length}/4\n| " + " | ".join(chords) + " |"


def check(part: Passage, style: Style, seed: str, counts: Counter[str]) -> None:
    """One chorus against every rule."""
    found = play_chorus(part, style, plain_scales(None), seed)
    steps = bass.places(part, style)
    heights = [note.pitch.midi for note in found.bass if note.pitch]
    counts["notes"] += len(heights)
    counts["root missing"] += sum(
        step.opens and note.pitch is not None and note.pitch.name != bass.bass_of(step.chord)
        for note, step in zip(found.bass, steps, strict=True)
    )
    counts["over an octave"] += sum(abs(a - b) > 12 for a, b in pairwise(heights))
    counts["out of range"] += sum(not bass.LOW <= height <= bass.HIGH for height in heights)
    counts["note twice"] += style.walks and sum(a == b for a, b in pairwise(heights))
    bars = [[(n.start - bar.start, n.pitch) for n in found.bass if bar.start <= n.start < bar.end] for bar in part.bars]
    counts["bar twice"] += sum(a == b for a, b in pairwise(bars))
    chords = {chord.event: chord.symbol for chord in part.chords}
    for voiced in found.piano:
        symbol = chords[voiced.event]
        assert symbol
        counts["guide tone left out"] += not {t.name.pc for t in guide_tones_of(symbol)} <= {
            p.name.pc for p in voiced.pitches
        }
    counts["voicings"] += len(found.piano)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    rng, spent = random.Random(7), 0.0
    for style in STYLES.values():
        counts: Counter[str] = Counter()
        start = time.process_time()
        for number in range(count):
            chart = parse_chart(chart_text(rng, style)).chart
            assert chart
            check(passage(chart), style, str(number), counts)
        spent += time.process_time() - start
        faults = {name: n for name, n in counts.items() if name not in ("notes", "voicings")}
        print(f"{style.name:13} {count} charts, {counts['notes']} bass notes, {counts['voicings']} voicings: {faults}")
    print(f"{spent / (count * len(STYLES)) * 1000:.0f} ms a chart with parsing and checks")


if __name__ == "__main__":
    main()
