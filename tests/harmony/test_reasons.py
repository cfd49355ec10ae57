"""Reasons are data: rendered once, at display; moved with their chart; stored and read back without loss.

That a reading is the same in every key is logical (degrees are relative); the sentences of clauses are common practice, no
source. All charts are made up here.
"""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.harmony import golden
from tests.harmony.test_agreement import CHARTS
from tests.harmony.test_analysis import chart_of
from tunes.harmony.analysis.pipeline import Analysis, analyse
from tunes.harmony.charts import transpose_chart
from tunes.harmony.explain.rules import RULES
from tunes.harmony.explain.sentences import told
from tunes.harmony.pitch.spelling import Interval, Key, sensible
from tunes.harmony.readings.reason import Args, Named, Reason
from tunes.harmony.readings.rule_ids import RuleId

FIFTHS = (-5, -4, -3, -2, -1, 1, 2, 3, 4, 5, 6)
WRITTEN = [golden.split(path)[0] for path in golden.files()]


def reasons(found: Analysis) -> Iterator[Reason]:
    """Every reason of an analysis."""
    yield from (area.reason for area in found.areas)
    for reading in found.readings:
        yield reading.reason
        yield from (other.reason for other in reading.alternatives)


def up(fifths: int) -> Interval:
    return Interval(fifths * 4 % 7, fifths * 7 % 12)


@settings(max_examples=40, deadline=None)
@given(CHARTS | st.sampled_from(WRITTEN), st.sampled_from(FIFTHS))
@example("| Cmaj7 | % | % | % | % | % | % | G7sus | Db7 | F7 | G6 | F#maj7 | Am7 |", -4)  # two keys heard as often
def test_a_reason_moved_is_the_reason_of_the_chart_moved(text: str, fifths: int) -> None:
    """Keys by their usual names, because a chart in another key may spell a key area otherwise."""
    chart, move = chart_of(text), up(fifths)
    moved = [told(one.transposed(move).with_keys(sensible)) for one in reasons(analyse(chart))]
    assert moved == [told(one.with_keys(sensible)) for one in reasons(analyse(transpose_chart(chart, move)))]


@pytest.mark.parametrize("text", WRITTEN[::4])
def test_a_stored_analysis_is_read_back(text: str) -> None:
    found = analyse(chart_of(text))
    assert Analysis.from_json(json.loads(json.dumps(found.to_json()))) == found


def test_another_version_of_a_stored_reason_is_refused() -> None:
    stored = Reason(rule=RuleId.AREA_RETURN, args=Args(key=Key.parse("Eb"))).to_json()
    assert told(Reason.from_json(stored)) == "Back in Eb major."
    with pytest.raises(ValueError, match="version 0"):
        Reason.from_json(stored | {"version": 0})


def test_every_rule_has_its_row() -> None:
    assert set(RULES) == set(RuleId)


C = "key: C major\n"
CLAUSES = {
    RuleId.BASS_MEMBER: (C + "| Cmaj7 | C7/E | Fmaj7 | G7 | Cmaj7 |", "; its 3rd is in the bass."),
    RuleId.IN_A_MODE: ("| Dm7 | G7 | Dm7 | G7 | Dm7 | G7 | Dm7 | G7 |", ", in D Dorian."),
    RuleId.MODE_DEGREE: ("| Dm7 | G7 | Dm7 | G7 | Dm7 | G7 | Dm7 | G7 |", "; it has the natural 6 of D Dorian."),
    RuleId.ALL_IN_MODE: ("| Dm7 | G7 | Dm7 | G7 | Dm7 | G7 | Dm7 | G7 |", " All of it is in D Dorian."),
    RuleId.MODES_IN: (C + "| Cmaj7 | Dm7 | G7 | Cmaj7 | Fmaj7 | G/F | Fmaj7 | G/F | Dm7 | G7 | Cmaj7 | Cmaj7 |",
                      " It has passages in F Lydian."),
    RuleId.ENDS_OTHERWISE: ("key: C minor\n| Cm7 | Dm7b5 G7 | Cm7 | Fm7 | Dm7b5 | G7 | Cm7 | Dm7b5 G7 | Cmaj7 |",
                            " It ends in major."),
    RuleId.TYPED_OTHERWISE: ("key: Db major\n| Cmaj7 | Am7 | Dm7 | G7 | Em7 | A7 | Dm7 G7 | Cmaj7 |",
                             " The key that is typed is Db major; the chords speak against it."),
}  # fmt: skip
"""Clauses that follow another sentence: a chart that has one, and the words."""


@pytest.mark.parametrize("rule", CLAUSES)
def test_the_example_of_a_clause(rule: RuleId) -> None:
    text, words = CLAUSES[rule]
    found = [one for one in reasons(analyse(chart_of(text))) if rule in [clause.rule for clause in one.more]]
    assert found
    assert any(words in told(one) for one in found), [told(one) for one in found]


def test_a_passage_is_named_in_the_pitch_of_the_page() -> None:
    """A modal passage moves like a key (a fault: it kept its concert name in written pitch)."""
    text, _ = CLAUSES[RuleId.ALL_IN_MODE]
    area = analyse(chart_of(text)).areas[0]
    moved = area.reason.transposed(Interval.parse("-M2"))
    assert told(moved).endswith("All of it is in C Dorian.")
    assert told(moved.transposed(Interval.parse("m3")), signs=True).endswith("All of it is in E♭ Dorian.")


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (Args(target=Named(degree="b7")), "falls a fifth to flat 7."),
        (Args(target=Named(degree="5", quality="minor")), "falls a fifth to 5 minor."),
        (Args(target=Named(degree="1"), between=Named(degree="2")), "falls a fifth to 1, with 2 between."),
        (
            Args(target=Named(degree="1"), between=Named(degree="2"), more_between=True),
            "to 1, with 2 and more between.",
        ),
        (Args(), "falls a fifth to the next chord."),
    ],
)
def test_what_a_sentence_names(args: Args, words: str) -> None:
    assert told(Reason(rule=RuleId.DOMINANT, args=args)).endswith(words)
