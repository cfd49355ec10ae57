"""How many bars the alignment of two versions recovers when the edits between them are known.

    python -m tests.bench.alignment [charts]

Charts are made by rule (sections of common cadences in a random key, AABA, ABAC or 12 bars), then edited: moved to
another key, dominants replaced by their tritone substitutes, related iis put before dominants, bars inserted or left
out, a section repeated. Printed: share of bars laid beside the bar they came from, by kind of edit, and how many
substitutions were named.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from dataclasses import dataclass

from tunes.harmony.charts import Chart, parse_chart, transpose_chart
from tunes.harmony.comparison.variants import Alignment, align
from tunes.harmony.pitch.spelling import Interval

PHRASES = (
    ("Cmaj7", "Am7", "Dm7", "G7"), ("Dm7", "G7", "Cmaj7", "C6"), ("Em7", "A7", "Dm7", "G7"), ("Fmaj7", "Fm6", "Em7", "A7"),
    ("Gm7", "C7", "Fmaj7", "Bb7"), ("Dm7b5", "G7", "Cm7", "Cm6"), ("E7", "A7", "D7", "G7"), ("Cmaj7", "C#dim7", "Dm7", "G7"),
    ("F7", "Bb7", "F7", "Cm7"), ("Am7", "D7", "Dm7", "G7"), ("Bm7b5", "E7", "Am7", "D7"), ("Abmaj7", "Db7", "Cmaj7", "A7"),
)  # fmt: skip
FORMS = ("AABA", "ABAC", "AAB", "ABCD")
SUBSTITUTES = {"G7": "Db7", "A7": "Eb7", "D7": "Ab7", "C7": "Gb7", "E7": "Bb7"}
TWOS = {"G7": "Dm7", "A7": "Em7", "D7": "Am7", "C7": "Gm7", "E7": "Bm7"}


@dataclass
class Made:
    """An edited chorus: its bars, and for each the bar it came from (None for a new one)."""

    bars: list[str]
    origin: list[int | None]
    named: dict[int, str]


def chorus(dice: random.Random) -> list[str]:
    sections = {letter: [bar for _ in range(2) for bar in dice.choice(PHRASES)] for letter in "ABCD"}
    return [bar for letter in dice.choice(FORMS) for bar in sections[letter]]


def chart_of(bars: list[str]) -> Chart:
    found = parse_chart("key: C major\n| " + " | ".join(bars) + " |").chart
    assert found is not None
    return found


def substitute(made: Made, dice: random.Random) -> None:
    for place in [i for i, bar in enumerate(made.bars) if bar in SUBSTITUTES and dice.random() < 0.3]:
        made.bars[place] = SUBSTITUTES[made.bars[place]]
        made.named[place] = "tritone-substitute"


def add_twos(made: Made, dice: random.Random) -> None:
    for place in [i for i, bar in enumerate(made.bars) if bar in TWOS and dice.random() < 0.3]:
        if place and made.bars[place - 1] != TWOS[made.bars[place]]:
            made.named[place] = "added-related-ii"
            made.bars[place] = f"{TWOS[made.bars[place]]} {made.bars[place]}"


def insert(made: Made, dice: random.Random) -> None:
    at = dice.randrange(1, len(made.bars))
    for bar in dice.sample(("Ebmaj7", "F#m7", "B7", "Abm7"), 2):
        made.bars.insert(at, bar)
        made.origin.insert(at, None)


def leave_out(made: Made, dice: random.Random) -> None:
    at = dice.randrange(1, len(made.bars) - 3)
    del made.bars[at : at + 2], made.origin[at : at + 2]


def repeat(made: Made, dice: random.Random) -> None:
    at = 8 * dice.randrange(len(made.bars) // 8)
    made.bars[at + 8 : at + 8] = made.bars[at : at + 8]
    made.origin[at + 8 : at + 8] = [None] * 8


EDITS = {"nothing": (), "substitutes": (substitute,), "related iis": (add_twos,), "both": (substitute, add_twos),
         "bars put in": (insert,), "bars left out": (leave_out,), "section repeated": (repeat,),
         "put in and substitutes": (insert, substitute)}  # fmt: skip


def same_sound(bars: list[str], one: int | None, two: int | None) -> bool:
    """Two bars of one chorus that hold the same chords: either is a right answer."""
    return one == two or (one is not None and two is not None and bars[one] == bars[two])


@dataclass
class Tally:
    """Right and asked, by kind of edit (bars) and by name of substitution."""

    right: Counter[str]
    total: Counter[str]
    named: Counter[str]
    asked: Counter[str]


def measure(count: int, seed: int = 1959) -> Tally:
    """Align `count` pairs with known edits between them."""
    dice = random.Random(seed)
    tally = Tally(Counter(), Counter(), Counter(), Counter())
    for turn in range(count):
        bars = chorus(dice)
        name, edits = list(EDITS.items())[turn % len(EDITS)]
        made = Made(list(bars), list(range(len(bars))), {})
        for edit in edits:
            edit(made, dice)
        moved = transpose_chart(chart_of(made.bars), Interval.parse(dice.choice(("P1", "m3", "M2", "P4", "-m3"))))
        _count(tally, name, bars, made, align(chart_of(bars), moved))
    return tally


def _count(tally: Tally, name: str, bars: list[str], made: Made, found: Alignment) -> None:
    partner = {row.b: row.a for row in found.rows if row.b is not None}
    for place, origin in enumerate(made.origin):
        tally.total[name] += 1
        tally.right[name] += same_sound(bars, partner.get(place), origin) or _twin(made, bars, partner, place)
    kinds = {row.b: {d.kind for d in row.differences} for row in found.rows}
    for place, kind in made.named.items():
        tally.asked[kind] += 1
        tally.named[kind] += kind in kinds.get(place, set())


def main(count: int = 400) -> None:
    started = time.perf_counter()
    tally = measure(count)
    spent = time.perf_counter() - started
    for name in EDITS:
        print(
            f"{name:24} {tally.right[name]:6} of {tally.total[name]:6} bars ({tally.right[name] / tally.total[name]:.2%})"
        )
    right, total = tally.right.total(), tally.total.total()
    print(f"{'all':24} {right:6} of {total:6} bars ({right / total:.2%})")
    for kind in tally.asked:
        print(
            f"named {kind:18} {tally.named[kind]:6} of {tally.asked[kind]:6} ({tally.named[kind] / tally.asked[kind]:.2%})"
        )
    print(f"{spent / count * 1000:.0f} ms a pair, the making of the charts included")


def _twin(made: Made, bars: list[str], partner: dict[int | None, int | None], place: int) -> bool:
    """Of a section and its repeat, either may be called the new one: then the other lies beside the original."""
    twins = [i for i, bar in enumerate(made.bars) if i != place and bar == made.bars[place]]
    if made.origin[place] is None:
        beside = partner.get(place)
        return beside is not None and bars[beside] == made.bars[place] and any(partner.get(i) is None for i in twins)
    return partner.get(place) is None and any(made.origin[i] is None and partner.get(i) is not None for i in twins)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
