"""Where everything stands in a drawn chart."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tunes.drawing import COLUMNS, ChartView, draw_chart, draw_study
from tunes.drawing_lanes import UNIT
from tunes.harmony.charts import parse_chart
from tunes.study import study_of_text

ENDINGS = "key: C major\nA:\n|: C | F | G |1. C :|2. C |\nB:\n| Am | Dm | G7 | C |"


def drawn(text: str, **options: object) -> ChartView:
    return draw_study(study_of_text(text), **options)


def columns(view: ChartView, bar: int) -> list[tuple[int, int]]:
    return [(slot.column, slot.span) for slot in view.bars[bar].slots]


@pytest.mark.parametrize(
    ("bar", "metre", "expected"),
    [
        ("| C |", "4/4", [(1, 24)]),
        ("| C F |", "4/4", [(1, 12), (13, 12)]),
        ("| C F G |", "3/4", [(1, 8), (9, 8), (17, 8)]),
        ("| C / / G7 |", "4/4", [(1, 18), (19, 6)]),
        ("| C / F |", "3/4", [(1, 16), (17, 8)]),
        ("| C F G A |", "4/4", [(1, 6), (7, 6), (13, 6), (19, 6)]),
    ],
)
def test_chords_stand_where_they_sound(bar: str, metre: str, expected: list[tuple[int, int]]) -> None:
    assert columns(drawn(f"metre: {metre}\n{bar}"), 0) == expected


def test_a_section_for_every_block_with_its_letter() -> None:
    view = drawn(ENDINGS)
    assert [(section.label, len(section.bars)) for section in view.sections] == [("A", 5), ("B", 4)]
    assert view.has_repeats


E8 = "key: C major\nA:\n|: C | F | G | C | C | F |1. G | C :|2. G | C |"
PICKUP = "key: C major\npickup: 1\nA:\n| G7 |\n|: C | F |1. G | C :|2. C |\nB:\n| Am | Dm | G7 | C |"


@pytest.mark.parametrize(
    ("text", "desk", "phone"),
    [
        # (column, bars wide) of every bar; the last ending has a system of its own and fills it
        (ENDINGS, [(1, 1), (2, 1), (3, 1), (4, 1), (1, 4)], [(1, 1), (2, 1), (1, 1), (2, 1), (1, 2)]),
        (E8, [(1, 1), (2, 1), (3, 1), (4, 1)] * 2 + [(1, 2), (3, 2)], [(1, 1), (2, 1)] * 5),
        # a pickup stands in the margin (column 0) and takes nothing of bar 1's system
        (PICKUP, [(0, 1), (1, 1), (2, 1), (3, 1), (4, 1), (1, 4)], [(0, 1), (1, 1), (2, 1), (1, 1), (2, 1), (1, 2)]),
        # a second ending that fits goes on in the system of the first
        (
            "key: C major\nA:\n|: C | F | G | C |1. G | C :|2. C | C |",
            [(1, 1), (2, 1), (3, 1), (4, 1)] * 2,
            [(1, 1), (2, 1)] * 4,
        ),
    ],
)
def test_no_ending_leaves_half_a_system_blank(text: str, desk: list[object], phone: list[object]) -> None:
    bars = drawn(text).sections[0].bars
    assert [(bar.desk.column, bar.desk.span) for bar in bars] == desk
    assert [(bar.phone.column, bar.phone.span) for bar in bars] == phone


def test_the_bracket_of_an_ending_ends_with_its_section() -> None:
    assert [bar.in_ending for bar in drawn(ENDINGS).sections[0].bars] == [False, False, False, True, True]
    assert not any(bar.in_ending for bar in drawn(PICKUP).sections[1].bars)


def test_drawn_close_four_bars_stand_in_a_row_and_crowded_ones_two() -> None:
    easy = drawn("key: F major\n| Gm7 C7 | Fmaj7 | D7 | Gm7 |", compact=True)
    assert [(bar.close.column, bar.close.span) for bar in easy.bars] == [(1, 1), (2, 1), (3, 1), (4, 1)]
    assert (easy.close_size, easy.compact, easy.bars[0].lanes) == (20, True, None)
    assert easy.rows[0].reading is not None, "functions stay"
    full = drawn("key: F major\n| Bbm7b5 Eb7(b9,#11) Gm7 C7 | F | F | F |", compact=True)
    assert [(bar.close.column, bar.close.span) for bar in full.bars] == [(1, 2), (3, 2)] * 2


def test_repeats_written_out_show_every_bar_that_is_played() -> None:
    view = drawn(ENDINGS, written_out=True)
    assert [bar.bar.number for bar in view.bars] == [1, 2, 3, 4, 1, 2, 3, 5, 6, 7, 8, 9]
    assert [bar.number for bar in view.bars] == list(range(1, 13))
    assert [section.label for section in view.sections] == ["A", "A", "B"]
    assert sorted(slot.event for slot in view.rows) == list(range(12))


@pytest.mark.parametrize(
    ("text", "written_out", "told"),
    [
        # printed 1 2 3 4 (5) 6-9; played 1-4, 5-7 and 8 (the second ending), 9-12 (common practice, no source)
        (ENDINGS, False, {1: "and 5 the second time", 4: "", 8: "written 5", 9: "written 6"}),
        (ENDINGS, True, {5: "written 1", 8: "written 5", 9: "written 6"}),
        ("key: C major\nA:\n| C | F | G | C |\nB:\n| Am | G7 |", False, {}),
        (
            "key: C major\nA:\n|: C | F :|\nB:\n| Am | Dm |\nC:\n| G | C |",
            False,
            {1: "and 3 the second time", 5: "written 3", 7: "written 5"},
        ),
    ],
)
def test_the_count_as_played_stands_at_a_section_where_it_is_another(
    text: str, written_out: bool, told: dict[int, str]
) -> None:
    view = drawn(text, written_out=written_out)
    assert {bar.number: bar.besides for bar in view.bars if bar.besides} == {
        number: words for number, words in told.items() if words
    }
    assert view.counts_differ == bool(told)


def test_folded_shows_each_bar_once_with_the_event_of_its_first_time() -> None:
    assert [slot.event for slot in drawn(ENDINGS).rows] == [0, 1, 2, 3, 7, 8, 9, 10, 11]


def test_systems_open_where_four_and_two_bars_are_full() -> None:
    view = drawn("| C | C | C | C | C | C |")
    assert [bar.desk.opens for bar in view.bars] == [True, False, False, False, True, False]
    assert [bar.phone.opens for bar in view.bars] == [True, False, True, False, True, False]


def test_a_change_of_metre_is_shown_once() -> None:
    view = drawn("metre: 4/4\n| C | F |\nmetre: 3/4\n| C | F |")
    assert [bar.shows_metre for bar in view.bars] == [False, False, True, False]


def test_problems_are_drawn_at_their_bars() -> None:
    reading = parse_chart("| C7 | Hm7 | F7 |")
    view = draw_chart(reading.chart, problems=reading.problems)
    assert [bool(bar.problems) for bar in view.bars] == [False, True, False]
    assert view.bars[1].slots[0].text == "Hm7"


def test_extras_arrive_at_their_event() -> None:
    view = drawn(ENDINGS, extras={8: "here"})
    assert [slot.extra for slot in view.rows if slot.extra] == ["here"]
    assert next(slot for slot in view.rows if slot.extra).event == 8


def test_the_staircase_goes_down_to_the_tonic() -> None:
    view = drawn("key: C major\n| Em7 | A7 | Dm7 | G7 | Cmaj7 |")
    stairs = [stair for bar in view.bars for stair in bar.lanes.stairs]
    heights = [stair.drop for stair in stairs]
    assert heights == sorted(heights, reverse=True)
    assert heights[-1] == 0
    assert [stair.lands for stair in stairs] == [False, False, False, False, True]


def test_arrows_and_brackets_follow_the_published_signs() -> None:
    """Solid for a dominant down a fifth, dashed down a semitone, bracket for ii-V (Nettles & Graf 1997)."""
    fifth = drawn("key: C major\n| Dm7 | G7 | Cmaj7 | % |")
    marks = {(mark.kind, mark.dashed) for bar in fifth.bars for mark in bar.lanes.marks}
    assert marks == {("bracket", False), ("arrow", False)}
    semitone = drawn("key: C major\n| Dm7 | Db7 | Cmaj7 | % |")
    marks = {(mark.kind, mark.dashed) for bar in semitone.bars for mark in bar.lanes.marks}
    assert ("arrow", True) in marks


def test_a_far_goal_is_drawn_by_its_two_ends() -> None:
    """No arrow runs flat over whole systems: it leaves its chord and arrives at its goal."""
    view = drawn("key: C major\n| C6 | A7 | Eb7 | Ab7 | Db7 | D7 | G7 | C6 |")
    near = drawn("key: C major\n| Dm7 | G7 | G7 | Cmaj7 |")
    for drawing in (view, near):
        arrows = {mark.path: mark for bar in drawing.bars for mark in bar.lanes.marks if mark.kind == "arrow"}
        assert arrows
        assert all(mark.right - mark.left <= 2 * UNIT for mark in arrows.values())


def test_a_line_across_a_bar_line_is_drawn_in_both_windows() -> None:
    view = drawn("key: C major\n| Dm7 | G7 | Cmaj7 | % |")
    arrow = [bar.index for bar in view.bars for mark in bar.lanes.marks if mark.kind == "arrow"]
    assert arrow == [1, 2]
    assert view.bars[2].lanes.arc_box.startswith(f"{2 * UNIT} 0 {UNIT} ")


def test_bands_of_a_bar_fill_it_without_overlap() -> None:
    for bar in drawn(ENDINGS).bars:
        assert sum(band.span for band in bar.bands) == COLUMNS
    bands = [band for bar in drawn(ENDINGS).bars for band in bar.bands]
    assert bands[0].starts


@given(
    st.lists(
        st.sampled_from(
            ["| C ", "|: F ", "| G7 :|", "|1. C ", "|2. F ", "| % ", "| N.C. ", "| Dm7 G7 ", "| C F G A ", "\nB:\n"]
        ),
        min_size=1,
        max_size=24,
    )
)
def test_any_chart_that_reads_can_be_drawn_both_ways(parts: list[str]) -> None:
    reading = parse_chart("".join(parts) + "|")
    if reading.chart is None:
        return
    for written_out in (False, True):
        view = draw_chart(reading.chart, written_out=written_out, problems=reading.problems)
        for bar in view.bars:
            assert all(1 <= slot.column <= COLUMNS and slot.span >= 1 for slot in bar.slots)
            assert 1 <= bar.desk.column <= 4
            assert 1 <= bar.phone.column <= 2
