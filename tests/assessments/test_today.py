"""The plan for today, rule by rule as a table; then that the desk follows it and a missed day costs nothing.

That recalling shortly before forgetting keeps longest, and that mixing helps, is cited in `assessments.today.RULES`; the
rest is common practice, no source.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from assessments.models import DeskHabit, Recall
from assessments.selectors.today import desk_of
from assessments.services.desk import set_habit
from assessments.services.recall import recalled
from assessments.templatetags.work import counted
from assessments.today import (
    ANSWER,
    BRING_BACK,
    CHOICES,
    HEAR,
    PLAY,
    RULES,
    SING,
    VERBS,
    Work,
    plan,
    week,
    whole_phrases,
)
from drills.models import PracticeCue, PracticeItem
from tests import factories

DAY = dt.date(2030, 3, 4)


def work(
    name: str, verb: str = ANSWER, minutes: int = 5, *, due: int | None = None, tune: int = 0, **more: Any
) -> Work:
    day = None if due is None else DAY + dt.timedelta(days=due)
    return Work(name, verb, tune or ord(name[0]), name, "", "", minutes, "/", due=day, **more)


# What there is, minutes, what is planned in its order, and the rule that is meant.
TABLE = [
    ("overdue", [work("a", due=-2), work("b", due=1)], 5, ["a"]),
    ("overdue", [work("a", due=-2, minutes=30), work("b", due=-1, minutes=30)], 10, ["a", "b"]),  # never dropped
    ("due", [work("late", due=6), work("soon", due=1)], 5, ["soon"]),
    ("due", [work("far", due=30), work("weak", weak=True)], 5, ["weak"]),  # a date a month away is not urgent yet
    ("missed", [work("new"), work("weak", weak=True)], 5, ["weak"]),
    ("missed", [work("weak", weak=True), work("due", due=2)], 5, ["due"]),
    ("fades", [work("new", BRING_BACK), work("old", BRING_BACK, rest=30)], 5, ["old"]),
    ("fades", [work("less", BRING_BACK, rest=22), work("more", BRING_BACK, rest=60)], 5, ["more"]),
    ("mixed", [work("a", due=1), work("b", due=2), work("c", HEAR, due=3)], 10, ["c", "a"]),
    ("mixed", [work("a", tune=1, due=1), work("b", tune=1, due=2), work("c", tune=2, due=3)], 10, ["a", "c"]),
    ("order", [work("e", BRING_BACK), work("d", PLAY), work("c"), work("b", SING), work("a", HEAR)], 40, list("abcde")),
    ("fits", [work("long", due=1, minutes=12), work("short", due=2, minutes=4)], 10, ["short"]),
    ("fits", [], 20, []),
]


@pytest.mark.parametrize(("rule", "works", "minutes", "planned"), TABLE)
def test_rules(rule: str, works: list[Work], minutes: int, planned: list[str]) -> None:
    assert rule in {row.id for row in RULES}
    assert [line.work.name for line in plan(works, minutes, DAY).lines] == planned
    assert [
        line.work.name for line in plan(works[::-1], minutes, DAY).lines
    ] == planned  # the order they come in is nothing


works_of_any_kind = st.lists(
    st.builds(
        work,
        st.text("abcdefgh", min_size=1, max_size=3),
        st.sampled_from(VERBS),
        st.integers(1, 15),
        due=st.one_of(st.none(), st.integers(-9, 20)),
        weak=st.booleans(),
        rest=st.one_of(st.none(), st.integers(0, 90)),
    ),
    max_size=12,
)


@given(works_of_any_kind, st.sampled_from(CHOICES))
def test_a_plan_fits_its_minutes_but_for_what_is_overdue(works: list[Work], minutes: int) -> None:
    made = plan(works, minutes, DAY)
    overdue = sum(line.work.minutes for line in made.lines if line.overdue)
    assert made.minutes <= max(minutes, overdue)
    assert len({line.work.name for line in made.lines}) == len(made.lines)
    assert len(made.lines) + made.left == len({w.name for w in works})
    assert [VERBS.index(line.work.verb) for line in made.lines] == sorted(
        VERBS.index(line.work.verb) for line in made.lines
    )


def test_what_is_left_out_waits_and_comes_again() -> None:
    works = [work("a", due=1), work("b", due=2)]
    out = plan(works, 20, DAY, {"a"})
    assert ([line.work.name for line in out.lines], [w.name for w in out.out]) == (["b"], ["a"])


@pytest.mark.parametrize(
    ("bars", "phrases", "whole"),
    [
        ((3, 6), [(1, 4), (5, 8), (9, 12)], (1, 8)),
        ((5, 5), [(1, 4), (5, 8)], (5, 8)),
        ((3, 30), [(1, 16), (17, 32)], (3, 30)),  # longer than can be kept in mind: left as it is
        ((3, 3), [], (3, 3)),
    ],
)
def test_phrases_stay_whole(bars: tuple[int, int], phrases: list[tuple[int, int]], whole: tuple[int, int]) -> None:
    assert whole_phrases(*bars, phrases) == whole


def test_the_week_ahead() -> None:
    days, after = week(
        [(DAY, "now", ""), (DAY + dt.timedelta(6), "last", ""), (DAY + dt.timedelta(7), "then", "")], DAY
    )
    assert [(day.date.day, [text for text, _ in day.lines]) for day in days if day.lines] == [
        (4, ["now"]),
        (10, ["last"]),
    ]
    assert after == ((DAY + dt.timedelta(7), "then"),)


@pytest.fixture
def player() -> Any:
    return factories.make_player(factories.make_ensemble())


def lines(player: Any) -> dict[str, str]:
    return {w.name.split("-")[0]: w.verb for w in desk_of(player).works}


@pytest.mark.django_db
def test_the_desk_offers_what_there_is_to_do(player: Any, client: Any) -> None:
    ensemble, now = player.memberships.get().ensemble, timezone.now()
    revision, other = factories.make_chart_revision("Asked"), factories.make_chart_revision("Known")
    due = now + dt.timedelta(days=2)
    factories.make_assignment(
        ensemble, kinds=("listening", "function", "hand-in", "sign-off", "by-heart"), revision=revision, due=due
    )
    PracticeCue.objects.create(user=player, revision=other, bar=3, why="Missed in the quiz: function", source="x")
    PracticeItem.objects.create(
        user=player, revision=other, digest="d", title="Scales", wish={"kind": "scales"}, tempo=100, last_went="steady",
        due=now, last_practised=now,
    )  # fmt: skip
    recalled(player_id=player.pk, tune_id=other.version.tune_id, what="changes", percent=90, key="F major", now=now)
    Recall.objects.update(due=now - dt.timedelta(days=1))
    works = desk_of(player).works
    assert {w.verb for w in works} == set(VERBS)
    scales = next(w for w in works if w.name.startswith("drill"))
    assert "♩ = 104" in scales.what  # steady at 100: a little faster, from the last note
    assert "1 of twelve keys" in next(w for w in works if w.name.startswith("recall")).why
    client.force_login(player)
    page = client.get(reverse("work:desk")).content.decode()
    assert "Asked" in page
    assert page.count('class="button"') == 1  # one filled button


@pytest.mark.django_db
def test_a_missed_day_is_not_counted_and_a_choice_is_kept(player: Any, client: Any) -> None:
    ensemble = player.memberships.get().ensemble
    factories.make_assignment(ensemble, kinds=("function", "form"), due=timezone.now() + dt.timedelta(days=9))
    works = desk_of(player).works
    today = timezone.localdate()
    first, later = plan(works, 20, today), plan(works, 20, today + dt.timedelta(days=5))
    assert [w.work.name for w in first.lines] == [w.work.name for w in later.lines]
    client.force_login(player)
    name = first.lines[0].work.name
    client.post(reverse("work:desk-habit"), {"minutes": "40", "out": name})
    client.post(reverse("work:desk-habit"), {"minutes": "7", "words": "yes"})
    habit = DeskHabit.objects.get(player=player)
    assert (habit.minutes, habit.in_words, list(habit.left_out)) == (40, True, [name])
    assert "not again until tomorrow" in client.get(reverse("work:desk")).content.decode()
    set_habit(player=player, take_back=name)
    assert DeskHabit.objects.get(player=player).left_out == {}


@pytest.mark.django_db
def test_what_was_sung_is_done_for_today_though_it_is_overdue(player: Any, client: Any) -> None:
    ensemble = player.memberships.get().ensemble
    late = timezone.now() - dt.timedelta(days=2)
    step = factories.make_assignment(ensemble, kinds=("sign-off",), due=late).steps.get()
    client.force_login(player)
    for address in (reverse("work:desk"), reverse("work:step", args=[step.pk])):
        assert "Sung" in client.get(address).text
    client.post(reverse("work:desk-habit"), {"out": f"step-{step.pk}"})
    assert "roots of one chorus" not in client.get(reverse("work:desk")).text.split("Leave something out")[0]


@pytest.mark.parametrize(("times", "asked", "words"), [(2, 3, "2 of 3"), (3, 3, "3 of 3"), (6, 3, "6 times, 3 asked")])
def test_more_than_is_asked_is_no_fault(times: int, asked: int, words: str) -> None:
    assert counted(times, asked) == words


@pytest.mark.django_db
def test_the_signs_say_how_far_each_step_is(player: Any, client: Any) -> None:
    ensemble = player.memberships.get().ensemble
    made = factories.make_assignment(
        ensemble, kinds=("function", "form", "sign-off"), due=timezone.now() - dt.timedelta(days=2), title="Late one"
    )
    steps = {step.kind: step for step in made.steps.all()}
    factories.make_attempt(steps["form"], player, answers={}, hand_in=True)
    factories.make_attempt(steps["function"], player, answers={"function:0": "1"})
    client.force_login(player)
    page = client.get(reverse("work:desk")).content.decode()
    for sign, words in (
        ("begun", "Function of every chord: begun, 1 answered, late"),
        ("done", "Form: done, 0%"),
        ("to-do", "Sign-off in person: to do, late"),
    ):
        assert f"sign--{sign}" in page
        assert words in page
    assert "2 days ago" in page
    assert "missing" not in page
