"""What is offered for a problem mends the text that is marked: taken again and again it leads to a chart that reads.

The cases are common practice, no source: what people type wrong.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tunes.harmony.charts import parse_chart
from tunes.harmony.charts.reader import ChartReading

WRONG = """
5/5~| C |
| Ab major 7 |
| C minor 7 flat 5 |
| A flat major 7 |
| B flat 7 sharp 9 |
| C 7 |
| C7 (b9) |
| C 6/9 |
| C add 9 |
| c minor | F7 |
| Dm7–G7 |
| Dm7 - G7 |
| C - - G |
| Dm7/G7 |
| Dm7,G7 |
| Dm7G7 |
| Dm7-G7-C |
| Fm7Bb7Ebmaj7Ab |
[A] | C | [A | D |
[A | C |
| C [B] D |
| C 🎷 D |
| 🎷 |
| C : D |
| : |
| & | C |
| Cmaj77 |
| Cm77 |
| Cmaj77(#11)/E |
| C9(maj7) |
| C7+13 |
|: C | G7
|: C | G7 |
|: C | F | |: G :|
|: C |1. F |2. G |
|: C |: F :|
| C | G7 D.C. al Coda |
| C D.C. al Fine |
| C | F D.S. |
| C | F <D.S. al coda> |
| C to coda | F |
| 1. C | 2. D |
|2. C | F |
| C |1. F | G |
| C | Cfoo |
| foo |
| C foo |
| C | cm7 |
| C | cm7@2 |
| F | Hm |
| Sol7 | As7 |
| C F G |
| C F G A D |
| C F G A D E F |
| C F G A D E F C C# |
<3/4>| C F G A |
| C F "softly" G |
| C / G |
| C / / / / G |
| / / / / / |
| C | / / / / / |
| C | | F |
| | F |
| % | C |
| C | %3 |
| C | %99 |
| C | % G |
| % G |
| C | % / / / |
| C G | % D |
| C G | D % |
| C G | D % F |
| C | <3/4> % |
| C | G7@6 |
| C | G7@3 C@2 |
| C | G7@3 C@3 |
| C | G7 C@2 D |
| C | G7@x |
| C | G7@x D7@y |
| C | / / G7@1 |
| C | <hello> F |
| C | <pickup 1> F |
| <pickup 7> C | F |
| C | (3/5) F |
| C | "what F |
| / / C / |
| // C / |
key: H~| C |
key: es~| C |
key: blue~| C |
key: F~key: G~| C |
metre: 4/5~| C |
metre: waltz~| C |
metre: 3/4~metre: 4/4~| C |
| C |~key: F~| F |
| C |~metre: 7~| F |
Dm7 G7~| C |
Kettle Road~| C |
F major~| C |
title: One~words of it~| C |
| C |~words~| F |
| C | - |
| - | C |
| C | x | ./. |
:| C |
| C |:
| C |~segno
A:~B:~| C |
A:~| C |~B:
| C/3 | C/bb | C/h |
| Csuss | C+11 | C7alternative |
| C <D.C.> <D.S.> |
""".strip().split("\n")
# A chart without any bar has nothing at which anything could be put right.


def read(text: str) -> ChartReading:
    return parse_chart(text.replace("~", "\n"))


@pytest.mark.parametrize("typed", WRONG)
def test_every_problem_offers_something_that_mends_it(typed: str) -> None:
    text = typed.replace("~", "\n")
    problems = parse_chart(text).problems
    assert problems, "this is not wrong"
    for problem in problems:
        mended = problem.mended(text)
        assert mended is not None, problem
        assert len(parse_chart(mended).problems) < len(problems), (problem, mended, parse_chart(mended).problems)


def test_a_line_that_names_a_key_is_read_as_one() -> None:
    """Above the first bar; a title once the key is told, and below the bars a note."""
    for text, advice in (
        ("F major\n| C |", "key: F major"),
        ("Bb minor\n| C |", "key: Bb minor"),
        ("key: F\nC minor\n| C |", "title: C minor"),
        ("Kettle Road\n| C |", "title: Kettle Road"),
        ("| C |\nF major", "# F major"),
    ):
        problems = parse_chart(text).problems
        assert [problem.suggestion for problem in problems] == [advice], text


PIECES = (
    "C,Dm7,G7,F7,Bbmaj7,F#m7b5,N.C.,?,%,%2,/,//,(,),[A],[B,A:,1.,2.,1-2.,<segno>,<coda>,<fine>,<D.C.>,<hello>,"
    '"soft","open,<D.C. al fine>,<D.S. al coda>,<to coda>,to coda,<3/4>,6/9,5/4,<pickup 1>,C@3,G7@2.5,F@9,C@x,cm7,'
    "Hm,Cfoo,Dm7G7,A-D,-,&,:,🎷,minor,flat,major,sharp,b9,foo,D/C7,C/3,7,x,||,|:,:|,:|x3,:|:,|,|,|,|,|,\n,\n,\n| C |"
)
WORDS = st.sampled_from(PIECES.split(","))
MOST_STEPS = 200


@given(st.lists(WORDS, max_size=14).map(" ".join))
@settings(max_examples=400)
def test_taking_every_advice_leads_to_a_chart_that_reads(text: str) -> None:
    """From any text with a bar in it, and never round in a circle."""
    reading = parse_chart(text)
    seen = {text}
    for _ in range(MOST_STEPS):
        if reading.chart is None or not reading.problems:
            return
        mended = reading.problems[0].mended(text)
        assert mended is not None, (text, reading.problems[0])
        assert mended not in seen, (text, reading.problems[0])
        seen.add(mended)
        text, reading = mended, parse_chart(mended)
    raise AssertionError(f"{MOST_STEPS} steps and still not read: {text!r}")
