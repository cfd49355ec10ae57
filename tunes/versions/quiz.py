"""A short quiz on the known variants of a tune. Pure: the same charts and seed give the same questions."""

from __future__ import annotations

import random
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from tunes.harmony.charts import Chart
from tunes.harmony.charts.bar_count import bar_name
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.comparison.names import KINDS
from tunes.harmony.pitch.spelling import Interval
from tunes.versions.sides import Chords, Line, side_by_side

MOST = 8
OPTIONS = 4


@dataclass(frozen=True)
class Question:
    """One question. `answer` is the index of the right option; `because` is shown afterwards."""

    id: str
    bar: int
    prompt: str
    options: tuple[str, ...]
    answer: int
    because: str


def build_quiz(
    first: Chart, others: Sequence[tuple[str, Chart]], seed: int, missed: Collection[tuple[int, int]] = ()
) -> tuple[Question, ...]:
    """Up to `MOST` questions about bars where one of the named versions differs from the first. `missed` are asked before
    any other: (place in `others`, bar as played)."""
    table = side_by_side(first, [chart for _name, chart in others])
    dice = random.Random(seed)
    places = [
        (line, number)
        for line in table.lines
        for number, cell in enumerate(line.cells)
        if line.number is not None and line.number > 0 and not cell.missing and not cell.same
    ]
    mixed = dice.sample(places, len(places))
    mixed.sort(key=lambda place: (place[1], place[0].number) not in missed)
    chosen = sorted(mixed[:MOST], key=lambda place: place[0].number or 0)
    questions = []
    for line, number in chosen:
        one = len(line.cells[number].differences) == 1  # of a bar with two, either would be right
        make = dice.choice((_what_is_played, _what_it_does)) if one else _what_is_played
        questions.append(make(line, number, others[number][0], dice))
    return tuple(questions)


def chords_text(chords: Chords) -> str:
    return " ".join(symbol.display if symbol else "N.C." for symbol in chords)


def _named(line: Line) -> str:
    return bar_name(line.number or 0, line.written).capitalize()


def _what_is_played(line: Line, number: int, name: str, dice: random.Random) -> Question:
    cell = line.cells[number]
    right = chords_text(cell.chords)
    wrong = [text for text in _near(cell.chords, line.first) if text != right]
    dice.shuffle(wrong)
    because = " ".join(difference.sentence for difference in cell.differences)
    prompt = f"{_named(line)}: the agreed chart has {chords_text(line.first)}. What does “{name}” play there?"
    return _question(line, f"played-{number}-{line.number}", prompt, right, wrong, because, dice)


def _near(chords: Chords, agreed: Chords) -> list[str]:
    """Plausible wrong answers: the agreed bar, and each chord of the right one moved a little."""
    found = [chords_text(agreed)]
    for interval in (Interval(4, 6), Interval(1, 2), Interval(-1, -2), Interval(3, 5), Interval(1, 1)):
        moved = tuple(
            _moved(symbol, interval) if place == len(chords) - 1 else symbol for place, symbol in enumerate(chords)
        )
        found.append(chords_text(moved))
    return list(dict.fromkeys(found))


def _moved(symbol: ChordSymbol | None, interval: Interval) -> ChordSymbol | None:
    if symbol is None:
        return None
    ways = (
        interval,
        Interval(interval.steps - 1, interval.semitones),
        Interval(interval.steps + 1, interval.semitones),
    )
    return min((symbol.transposed(way) for way in ways), key=_awkward)


def _awkward(symbol: ChordSymbol) -> int:
    """How far a chord is from what a chart would write: its signs, and white keys under another name."""
    names = [symbol.root, *([symbol.bass] if symbol.bass else [])]
    return sum(abs(name.alter) + 2 * (name.text in _UNUSUAL) + 4 * (abs(name.alter) > 1) for name in names)


_UNUSUAL = frozenset({"Cb", "Fb", "E#", "B#"})


def _what_it_does(line: Line, number: int, name: str, dice: random.Random) -> Question:
    cell = line.cells[number]
    difference = next(d for d in cell.differences if d.kind != "colour")
    wrong = [
        sentence
        for kind, sentence in KINDS.items()
        if kind in _ASKED and kind not in {d.kind for d in cell.differences}
    ]
    dice.shuffle(wrong)
    prompt = (
        f"{_named(line)}: “{name}” plays {chords_text(cell.chords)} instead of {chords_text(line.first)}. "
        "What is the difference?"
    )
    because = f"{chords_text(difference.old) or 'Nothing'} became {chords_text(difference.new) or 'nothing'}."
    return _question(line, f"does-{number}-{line.number}", prompt, difference.sentence, wrong, because, dice)


_ASKED = (
    "tritone-substitute", "backdoor", "diminished-for-dominant", "shared-tones", "added-related-ii", "added-dominant",
    "passing-diminished", "interchange", "quality", "left-out-related-ii", "chromatic-approach", "added-two-five",
)  # fmt: skip


def _question(
    line: Line, name: str, prompt: str, right: str, wrong: Sequence[str], because: str, dice: random.Random
) -> Question:
    options = [right, *wrong[: OPTIONS - 1]]
    dice.shuffle(options)
    return Question(name, line.number or 0, prompt, tuple(options), options.index(right), because)
