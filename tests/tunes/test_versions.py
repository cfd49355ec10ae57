"""Versions side by side: the table, what a player changes, the quiz, the card, the memory sheet.

How well the alignment recovers edits is measured in tests/harmony; here it is asked through the page's own table.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from studio.instruments import CONCERT
from tests import factories
from tests.bench import alignment
from tunes.access import _HOLDS, Hold, hold_from_players
from tunes.harmony.charts import parse_chart, transpose_chart
from tunes.harmony.chords import parse_symbol
from tunes.harmony.pitch.spelling import Interval, Key
from tunes.models import EarResult
from tunes.study import study_of_text
from tunes.versions.memory import key_said, memory_of
from tunes.versions.quiz import _moved, build_quiz
from tunes.versions.sides import fold, side_by_side, what_changes

ONE = "key: C major\n\nA:\n| Cmaj7 | Am7 | Dm7 | G7 |\n| Cmaj7 | A7 | Dm7 G7 | C6 |"
TWO = "key: C major\n\nA:\n| Cmaj7 | Am7 | Dm7 | Db7 |\n| Cmaj7 | Em7b5 A7 | Dm7 G7 | C6 |"


def chart(text: str):  # type: ignore[no-untyped-def]
    found = parse_chart(text).chart
    assert found is not None
    return found


def test_differences_are_named_and_the_rest_is_folded() -> None:
    table = side_by_side(chart(ONE), [chart(TWO)])
    differing = {line.number: [d.kind for d in line.cells[0].differences] for line in table.lines if not line.same}
    assert differing == {4: ["tritone-substitute"], 6: ["added-related-ii"]}
    assert [(s.first, s.last, s.folded) for s in table.stretches] == [
        (1, 3, True), (4, 4, False), (5, 5, False), (6, 6, False), (7, 8, True),
    ]  # fmt: skip


def test_what_changes_for_a_player() -> None:
    """D flat 7 for G7: the same 3rd and 7th, respelled (Pease, Jazz Composition, 2003, p. 53), but another scale."""
    table = side_by_side(chart(ONE), [chart(TWO)])
    line = table.lines[3]
    changes = what_changes(line.played, line.cells[0].played)
    assert [p.symbol.text for p in changes] == ["Db7"]
    assert [note.text for note in changes[0].guide] == ["F", "Cb"]
    assert {note.pc for note in changes[0].guide} == {note.pc for note in line.played[0].guide}
    assert changes[0].scale.root.text == "Db"
    assert what_changes(line.played, line.played) == ()


def test_another_key_is_brought_to_the_first() -> None:
    moved = transpose_chart(chart(TWO), Interval.parse("m3"))
    table = side_by_side(chart(ONE), [moved])
    assert table.alignments[0].transposed
    assert [symbol.text for symbol in table.lines[3].cells[0].chords if symbol] == ["Db7"]


def test_bars_that_only_one_version_has() -> None:
    longer = ONE.replace("| G7 |\n", "| G7 | G7 | Gm7 C7 |\n")
    table = side_by_side(chart(ONE), [chart(longer)])
    between = [line for line in table.lines if line.number is None]
    assert len(between) == 2
    back = side_by_side(chart(longer), [chart(ONE)])
    assert sum(line.cells[0].missing for line in back.lines) == 2


def test_three_versions_in_one_table() -> None:
    table = side_by_side(chart(ONE), [chart(TWO), chart(ONE)])
    assert all(len(line.cells) == 2 for line in table.lines)
    assert all(line.cells[1].same for line in table.lines)


def test_a_pickup_is_bar_nought() -> None:
    text = ONE.replace("| Cmaj7 |", "| <pickup 1> G7 | Cmaj7 |", 1)
    table = side_by_side(chart(text), [chart(text)])
    assert [line.number for line in table.lines] == list(range(9))


@given(st.lists(st.booleans(), max_size=30))
def test_folding_loses_nothing(same: list[bool]) -> None:
    table = side_by_side(chart(ONE), [chart(TWO)])
    like, unlike = table.lines[0], table.lines[3]
    lines = [like if flag else unlike for flag in same]
    stretches = fold(lines)
    assert [line for stretch in stretches for line in stretch.lines] == lines
    assert all(stretch.folded == (len(stretch.lines) > 1) for stretch in stretches)
    assert all(line.same for stretch in stretches if stretch.folded for line in stretch.lines)


@given(st.integers(0, 10**6))
def test_every_question_has_one_right_answer(seed: int) -> None:
    named = [("other", chart(TWO))]
    questions = build_quiz(chart(ONE), named, seed)
    assert questions == build_quiz(chart(ONE), named, seed)
    assert [q.bar for q in questions] == [4, 6]
    for question in questions:
        assert len(question.options) == len(set(question.options)) == 4
        assert question.options[question.answer]
        assert question.because


def test_questions_about_a_bar_ask_for_what_is_played() -> None:
    for seed in range(40):
        for question in build_quiz(chart(ONE), [("other", chart(TWO))], seed):
            right = question.options[question.answer]
            if question.id.startswith("played"):
                assert right == {4: "D♭7", 6: "Eø7 A7"}[question.bar]
            else:
                assert right.startswith(
                    {4: "A dominant replaced by the one a tritone away", 6: "The related ii put before"}[question.bar]
                )


def test_no_difference_no_question() -> None:
    assert build_quiz(chart(ONE), [("other", chart(ONE))], 1) == ()
    assert build_quiz(chart(ONE), [], 1) == ()


def test_known_edits_are_recovered() -> None:
    """At least 98 of 100 bars lie beside the bar they came from, and substitutions are named as such."""
    tally = alignment.measure(64)
    assert tally.right.total() >= 0.98 * tally.total.total()
    assert tally.named.total() >= 0.98 * tally.asked.total()
    assert tally.asked.total() > 50


# --- the memory sheet

AABA = (
    "key: C major\n\nA:\n|: Cmaj7 Am7 | Dm7 G7 | Em7 A7 | Dm7 G7 :|\n"
    "B:\n| Gm7 C7 | Fmaj7 | Fm7 Bb7 | Dm7 G7 |\nA:\n| Cmaj7 Am7 | Dm7 G7 | Em7 A7 | Dm7 C6 |"
)


class Named:
    """An idiom of a class, as the database gives it."""

    pk = 1
    name = "the plain way home"
    pattern = "2min 5dom 1maj"


def test_a_memory_sheet() -> None:
    """Sections once: what a hand copy of the sheet would hold. Endings and their names: common practice of lead sheets, no source."""
    sheet = memory_of(study_of_text(AABA), [Named()], [("other", chart(AABA.replace("Fm7 Bb7", "Fm7 E7")))])
    assert (sheet.bars, sheet.form, sheet.dense) == (16, "AABA", False)
    assert [(part.label, part.first, part.last) for part in sheet.strip] == [
        ("A", 1, 4), ("A", 5, 8), ("B", 9, 12), ("A", 13, 16),
    ]  # fmt: skip
    first, bridge = (one.block for one in sheet.blocks)
    assert [one.block.place for one in sheet.blocks] == [
        "three times: bars 1, 5 and 13",
        "once: bars 9 to 12 (written 5)",
    ]
    assert [(bar.number, bar.desk, bar.phone, bar.ending) for bar in first.bars] == [
        (1, 1, 1, ""), (2, 2, 2, ""), (3, 3, 1, ""), (4, 4, 2, "1st and 2nd time"), (16, 4, 2, "last time"),
    ]  # fmt: skip
    assert first.times == ("1st and 2nd time", "1st and 2nd time", "last time")
    assert [[one.number for one in bar.said] for bar in first.bars[:2]] == [["1", "6"], ["2", "5"]]
    assert [(one.number, one.after) for one in bridge.bars[0].said] == [("2", "of 4"), ("5", "of 4")]
    home = Key.parse("F major")
    assert [key_said(Key.parse(key), home) for key in ("Ab major", "F major", "F minor", "C# minor")] == [
        "in A♭, the flat 3", "in F, home", "in F minor", "in C♯ minor, the sharp 5",
    ]  # fmt: skip
    assert all("bar 9" not in lands or "1st" in lands for lands in sheet.blocks[0].lands)
    assert [row.name for row in sheet.idioms] == ["the plain way home"]
    assert [(v.name, [run.place for run in v.runs]) for v in sheet.variants] == [("other", ["bar 11"])]


def test_a_pattern_that_cannot_be_read_does_no_harm() -> None:
    class Broken(Named):
        pattern = "((("

    assert memory_of(study_of_text(AABA), [Broken()]).idioms


# --- the pages


@pytest.fixture
def tune(db: None):  # type: ignore[no-untyped-def]
    tune = factories.make_tune(key="C major")
    factories.make_version(tune, ONE, name="agreed one")
    factories.make_version(tune, TWO, name="harbour version")
    return tune


@pytest.fixture
def player(db: None) -> Client:
    client = Client()
    client.force_login(factories.make_player(factories.make_ensemble(), instrument="alto-sax"))
    return client


def test_the_page_is_in_the_players_own_key(tune: Any, player: Client) -> None:
    page = player.get(reverse("tunes:compare", args=[tune.pk]))
    assert "Written for alto saxophone in A major" in page.content.decode()
    assert "A dominant replaced by the one a tritone away." in page.content.decode()
    concert = player.get(reverse("tunes:compare", args=[tune.pk]), {"for": CONCERT.key}).content.decode()
    assert "guide tones F, C♭" in concert
    for junk in ({"v": "x"}, {"v": ["1", "2", "999999"]}, {"key": "H", "for": "nose flute"}, {"all": "yes"}):
        assert player.get(reverse("tunes:compare", args=[tune.pk]), junk).status_code == 200


def test_a_bar_that_only_another_version_has_is_named(db: None, player: Client) -> None:
    """A tag stands between the bars of the first version; its line says so, to the ear as well."""
    tune = factories.make_tune("Tagged", key="F major")
    factories.make_version(tune, "key: F\nA:\n| Fmaj7 | Dm7 | Gm7 | C7 |")
    factories.make_version(tune, "key: F\nA:\n| Fmaj7 | Dm7 | Gm7 | C7 |\nTag:\n| Bbmaj7 | Eb7 |")
    page = player.get(reverse("tunes:compare", args=[tune.pk]), {"for": CONCERT.key}).content.decode()
    assert "in this added bar" in page
    assert "None" not in page


def test_how_many_play_what(tune: Any, player: Client) -> None:
    factories.make_version(tune, TWO, name="third")
    page = player.get(reverse("tunes:compare", args=[tune.pk])).content.decode()
    assert "How many play what" in page
    assert re.search(r"<strong>2</strong> <span class=\"quiet small\">harbour version, third", page)


def test_the_quiz_is_marked_and_kept(tune: Any, player: Client) -> None:
    address = reverse("tunes:variants-quiz", args=[tune.pk])
    page = player.get(address)
    questions = page.context["questions"]
    right = {question.id: question.answer for question in questions}
    done = player.post(address, {"sheet": page.context["sheet"]} | right)
    assert done.context["right"] == len(questions) == 2
    assert EarResult.objects.get().score == 1
    assert player.post(address, {"sheet": page.context["sheet"]}).context["right"] == 0
    for junk in ("", "x", page.context["sheet"][:-2]):
        assert player.post(address, {"sheet": junk}).status_code == 422
    assert EarResult.objects.count() == 2


def test_the_quiz_is_in_the_players_pitch(tune: Any, player: Client) -> None:
    """An alto saxophone sounds a major sixth lower than written (Adler, *The Study of Orchestration*)."""
    address = reverse("tunes:variants-quiz", args=[tune.pk]) + "?for=alto-saxophone"
    page = player.get(address)
    assert "Written for alto saxophone in A major (concert C major)" in page.content.decode()
    told = [f"{question.prompt} {' '.join(question.options)}" for question in page.context["questions"]]
    concert = [
        f"{question.prompt} {' '.join(question.options)}"
        for question in player.get(address.replace("alto-saxophone", "concert")).context["questions"]
    ]
    assert "E7" in " ".join(told)
    assert told != concert
    right = {question.id: question.answer for question in page.context["questions"]}
    done = player.post(address, {"sheet": page.context["sheet"]} | right)
    assert done.context["right"] == len(page.context["questions"])


def test_a_quiz_on_charts_that_changed_is_drawn_anew(tune: Any, player: Client) -> None:
    address = reverse("tunes:variants-quiz", args=[tune.pk])
    sheet = player.get(address).context["sheet"]
    factories.make_version(tune, TWO.replace("C6", "Cmaj9"), name="newer")
    answer = player.post(address, {"sheet": sheet})
    assert answer.status_code == 422
    assert b"charts have changed" in answer.content


def test_the_memory_sheet_is_held_back_while_a_quiz_is_open(tune: Any, player: Client) -> None:
    address = reverse("tunes:memory-sheet", args=[tune.pk])
    assert b"fold__bars" in player.get(address).content
    test = hold_from_players(lambda user, ids: {tune.pk: Hold("Held back until your quiz is in.")})
    try:
        page = player.get(address).content
    finally:
        _HOLDS.remove(test)
    assert b"Held back until your quiz is in." in page
    assert b"fold__bars" not in page


def test_a_tune_without_charts(db: None, player: Client) -> None:
    tune = factories.make_tune()
    for name in ("compare", "variants-quiz", "jam-card", "memory-sheet"):
        assert player.get(reverse(f"tunes:{name}", args=[tune.pk])).status_code == 200


@pytest.mark.parametrize("name", ["compare", "jam-card", "memory-sheet", "variants-quiz"])
def test_queries_do_not_grow(db: None, player: Client, name: str) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    counts = []
    for many in (2, 12):
        tune = factories.make_tune()
        for number in range(many):
            factories.make_version(tune, TWO if number % 2 else ONE)
        with CaptureQueriesContext(connection) as caught:
            assert player.get(reverse(f"tunes:{name}", args=[tune.pk])).status_code == 200
        counts.append(len(caught))
    assert counts[0] == counts[1]
    assert counts[1] <= 15


@pytest.mark.parametrize(
    ("text", "up", "moved"), [("Cm6/Eb", 1, "C#m6/E"), ("G7", 1, "Ab7"), ("Bb7", 1, "B7"), ("Dm7", 2, "Em7")]
)
def test_wrong_choices_are_spelled_as_charts_are(text: str, up: int, moved: str) -> None:
    """No chart writes F flat or B double flat where E and A will do (common practice, no source)."""
    assert _moved(parse_symbol(text).symbol, Interval(1, up)).text == moved  # type: ignore[union-attr]
