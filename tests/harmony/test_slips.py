"""Slips that people make when they type a chart: each is named at its place, and what is offered mends it.

The cases are common practice, no source: slips of a first-time tester.
"""

from __future__ import annotations

import pytest

from tunes.harmony.charts import parse_chart

# typed, the span that is marked, what to type instead ("" : delete it)
SLIPS = (
    ("5/4\n| C |", "5/4", "metre: 5/4"),
    ("| Ab major 7 |", "Ab major 7", "Abmaj7"),
    ("| Ab major |", "Ab major", "Ab"),
    ("| C minor | F7 |", "C minor", "Cm"),
    ("| C Minor 7 F7 |", "C Minor 7", "Cm7"),
    ("| C diminished 7 |", "C diminished 7", "Cdim7"),
    ("| G dominant 7 |", "G dominant 7", "G7"),
    ("| G dominant 13th |", "G dominant 13th", "G13"),
    ("| Dm7–G7 |", "Dm7–G7", "Dm7 G7"),
    ("| Dm7-G7 |", "Dm7-G7", "Dm7 G7"),
    ("| Bb-Eb7 |", "Bb-Eb7", "Bb Eb7"),
    ("| Dm7 - G7 |", "-", ""),
    ("| C 💥 D |", "💥", ""),
    ("| C : D |", ":", ""),
    ("| C & D |", "&", ""),
    ("| 💥 |", "💥", "?"),
    ("| Cmaj77 |", "Cmaj77", "Cmaj7"),
    ("| A flat major 7 |", "A flat major 7", "Abmaj7"),
    ("| C minor 7 flat 5 |", "C minor 7 flat 5", "Cm7b5"),
    ("| F sharp half diminished |", "F sharp half diminished", "F#m7b5"),
    ("| C minor major 7 |", "C minor major 7", "Cm(maj7)"),
    ("| C 7 |", "C 7", "C7"),
    ("| C 6/9 |", "C 6/9", "C6/9"),
    ("| C7 b9 |", "C7 b9", "C7b9"),
    ("| Dm7G7 |", "Dm7G7", "Dm7 G7"),
    ("| Dm7,G7 |", "Dm7,G7", "Dm7 G7"),
    ("| Dm7-G7-C |", "Dm7-G7-C", "Dm7 / G7 C"),
    ("| cm7@2 |", "cm7", "Cm7"),
    ("| C/3 |", "C/3", "C/E"),
    ("| Csuss |", "Csuss", "Csus4"),
    ("| C [B] D |", "[B]", "| [B]"),
    ("| C \0 D |", "\0", ""),
    ("[A] | C | [A | D |", "[A", "[A]"),
)


@pytest.mark.parametrize(("typed", "marked", "instead"), SLIPS, ids=[row[0] for row in SLIPS])
def test_a_slip_is_named_once_and_what_is_offered_mends_it(typed: str, marked: str, instead: str) -> None:
    problems = parse_chart(typed).problems
    assert len(problems) == 1, problems
    (problem,) = problems
    assert typed[problem.start : problem.end] == marked
    assert problem.suggestion == instead
    mended = typed[: problem.start] + instead + typed[problem.end :]
    assert not parse_chart(mended).problems, mended


@pytest.mark.parametrize("typed", ["| C-7 F-9 |", "| C-7 | F-6 |", "| C minorish |", "| - |", "| C | % |"])
def test_what_is_no_such_slip_is_left_alone(typed: str) -> None:
    assert not any(
        word in problem.message for problem in parse_chart(typed).problems for word in ("dash", "one word", "delete")
    )
