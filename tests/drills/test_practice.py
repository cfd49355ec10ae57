"""Planning: order, reasons, tempo; the log and its cues; the demo's own rows."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

import pytest
from django.utils import timezone

from drills import planning, selectors
from drills.lines.build import Recipe
from drills.models import Practice, PracticeCue, PracticeItem
from drills.services import practice
from drills.wishes import Wish
from tests import factories

NOW = dt.datetime(2026, 3, 2, 18, 0, tzinfo=dt.UTC)


def known(
    tune: int, *, due: int, went: str = "steady", tempo: int | None = 100, kind: str = "arpeggios"
) -> planning.Known:
    day = dt.timedelta(days=1)
    return planning.Known(
        tune, tune, f"Tune {tune}", kind, kind, {"kind": kind}, NOW + due * day, NOW - 3 * day, went, tempo
    )


def missed(bar: int, revision: int = 1) -> planning.Missed:
    return planning.Missed(revision, revision, f"Tune {revision}", bar, "Missed in the function quiz")


def test_missed_bars_come_first_as_one_drill_with_their_neighbours() -> None:
    first, *rest = planning.plan([missed(6), missed(7), missed(20)], [known(2, due=-5)], NOW)
    assert (first.wish["first_bar"], first.wish["last_bar"]) == (5, 8)
    assert first.why == "Missed in the function quiz, bars 6 and 7."
    assert [drill.why.split(":")[0].split(",")[0].split(";")[0] for drill in rest] == [
        "Due 5 days ago", "Missed in the function quiz", "New",
    ]  # fmt: skip


def test_what_was_taken_from_a_solo_waits_for_no_more_than_one_missed_drill() -> None:
    taken = [planning.Taken(9, 9, "Tune 9", (3,), "Taken from a solo.")]
    plan = planning.plan([missed(6), missed(12), missed(20)], [known(2, due=-5)], NOW, 3, taken)
    assert sorted(drill.tune for drill in plan) == [1, 1, 9]


def test_the_longest_overdue_comes_first_and_says_so() -> None:
    plan = planning.plan([], [known(1, due=-1), known(2, due=-9)], NOW, size=2)
    assert [drill.tune for drill in plan] == [2, 1]
    assert plan[0].why.startswith("Due 9 days ago")
    assert plan[1].why.startswith("Due 1 day ago")


# Common practice, no source: slower when it fell apart, a little faster when it held.
@pytest.mark.parametrize(
    ("went", "tempo"), [("fell apart", 88), ("with slips", 100), ("steady", 104), ("with ease", 108)]
)
def test_tempo_grows_with_how_it_went(went: str, tempo: int) -> None:
    assert planning.next_tempo(100, went) == tempo
    assert planning.next_tempo(None, went) == planning.FIRST_TEMPO
    assert planning.next_tempo(299, "with ease") == planning.FASTEST


def test_tunes_are_mixed() -> None:
    rows = [known(1, due=-9), known(1, due=-8, kind="scales"), known(2, due=-1), known(2, due=-2, kind="scales")]
    tunes = [drill.tune for drill in planning.plan([], rows, NOW, size=4)]
    assert tunes == [1, 2, 1, 2]


def test_when_nothing_is_due_the_next_kind_of_drill_is_new() -> None:
    plan = planning.plan([], [known(1, due=4)], NOW, size=3)
    assert plan[0].wish["kind"] == "guide-tones"
    assert plan[0].why.startswith("New:")


def test_a_drill_never_comes_back_the_same_evening() -> None:
    """FSRS-6 (py-fsrs): a new card answered Good comes back after days; never within twelve hours here."""
    card: dict[str, Any] = {}
    now, gaps = NOW, []
    for _ in range(4):
        card, due = planning.next_card(card, "steady", now)
        gaps.append((due - now).total_seconds() / 86400)
        now = due
    assert gaps[0] >= 0.5
    assert gaps == sorted(gaps)
    _, soon = planning.next_card(card, "fell apart", now)
    assert soon - now >= dt.timedelta(hours=12)


@pytest.mark.django_db
def test_log_plan_and_cues_together() -> None:
    player = factories.make_user("Rosa")
    revision = factories.make_version(factories.make_tune("Slow Weir"))
    assert practice.cue_bars(user=player, revision=revision, bars=[2, 3, 3], why="Missed", source="attempt:1") == 2
    assert practice.cue_bars(user=player, revision=revision, bars=[2, 3], why="Missed", source="attempt:1") == 0
    plan = practice.plan_for(player, size=5)
    assert (plan[0].wish["first_bar"], plan[0].wish["last_bar"]) == (1, 4)
    wish = Wish.from_query({key: str(value) for key, value in plan[0].wish.items()})
    practice.record(user=player, revision=revision, wish=wish, tempo=70, went="with slips", token=str(uuid.uuid4()))
    assert selectors.open_cues(player).count() == 2, "slips do not settle a bar"
    practice.record(user=player, revision=revision, wish=wish, tempo=70, went="steady", token=str(uuid.uuid4()))
    assert selectors.open_cues(player).count() == 0
    assert PracticeCue.objects.exclude(settled=None).count() == 2
    item = PracticeItem.objects.get(user=player)
    assert (item.times, item.tempo, item.last_went) == (2, 70, "steady")
    row = selectors.practised([player.pk], [revision.version.tune_id])[0]
    assert (row["times"], row["tempo"]) == (2, 70)


@pytest.mark.django_db
def test_the_same_drill_at_another_tempo_is_the_same_item() -> None:
    player = factories.make_user()
    revision = factories.make_version()
    for tempo in (80, 90):
        practice.record(
            user=player, revision=revision, wish=Wish(Recipe("scales", "root", tempo=tempo)), tempo=tempo, went="steady",
            token=str(uuid.uuid4()), now=timezone.now(),
        )  # fmt: skip
    assert PracticeItem.objects.filter(user=player).count() == 1


@pytest.mark.django_db(transaction=True)
def test_what_was_stored_before_is_now_stored_in_the_words_of_the_page() -> None:
    from importlib import import_module

    from django.apps import apps

    player, revision = factories.make_player(factories.make_ensemble()), factories.make_version()
    item = PracticeItem.objects.create(user=player, revision=revision, digest="d", title="t", last_went="hard")
    migration = import_module("drills.migrations.0002_how_it_went")
    migration.forwards(apps, None)
    item.refresh_from_db()
    assert item.last_went == "with slips"
    migration.backwards(apps, None)
    item.refresh_from_db()
    assert item.last_went == "hard"
    assert {value for value, _ in Practice.Went.choices} == set(migration.NOW.values()) == set(planning.RATINGS)
    assert [label.lower() for _, label in Practice.Went.choices] == list(migration.NOW.values())
