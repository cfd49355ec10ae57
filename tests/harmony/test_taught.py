"""A floor under the whole engine: charts annotated by a teacher of our own, read without their key (`tests/bench/score.py`)."""

from __future__ import annotations

import pytest

from tests.bench.score import TAUGHT, score, score_text

FLOOR = {"homes": 1.0, "keys": 0.99, "numerals": 0.985}
"""The least share that must agree; raised when the engine gets better, never lowered without a word on why."""
CHART = "| Dm7 | G7 | Cmaj7 | % |\n----\nhome: C major\n"


def test_the_engine_agrees_with_the_teacher() -> None:
    total = score(sorted(TAUGHT.glob("*.txt")))
    assert total.chords >= 290
    assert total.homes / total.charts >= FLOOR["homes"], total.misses
    assert total.keys / total.chords >= FLOOR["keys"], total.misses
    assert total.numerals / total.chords >= FLOOR["numerals"], total.misses


@pytest.mark.parametrize(("annotated", "keys", "numerals", "both"), [
    ("| ii7 | V7 | Imaj7 | % |", 4, 4, 4),
    ("| ii7 | V7 | vi7 | Imaj7 |", 4, 3, 3),
    ("| F: ii7 | V7 | C: Imaj7 | % |", 2, 4, 2),
])  # fmt: skip
def test_the_score_counts_what_agrees(annotated: str, keys: int, numerals: int, both: int) -> None:
    found = score_text("chart", CHART + annotated)
    assert (found.chords, found.keys, found.numerals, found.both) == (4, keys, numerals, both)
    assert len(found.misses) == 4 - both


@pytest.mark.parametrize(("text", "said"), [
    ("| C |\n| I |", "one line of dashes"), ("| C |\n----\n| I |", "begins with “home: KEY”"),
    ("| C | F |\n----\nhome: C major\n| I IV |", "bar 1 has 1 chords and 2 numerals"),
    ("| Cxx |\n----\nhome: C major\n| I |", "the chart cannot be read"),
])  # fmt: skip
def test_an_annotation_that_does_not_fit_is_named(text: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        score_text("chart", text)
