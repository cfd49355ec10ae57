"""Taking an assignment or a step back, and what players are told of changes after the fact."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assessments.models import Assignment, Attempt, Evidence
from assessments.selectors.desk import states_of, undone_steps
from assessments.selectors.review import missing
from assessments.services import review
from assessments.services.assign import StepPlan as Plan
from assessments.services.assign import ask_again, assign, close_assignment, edit_assignment
from assessments.services.hand_in import NoMoreGoes, start_attempt
from studio.models import Notice
from tests import factories
from tunes.access import held_back, unnamed_forms

pytestmark = pytest.mark.django_db
KINDS = ("form", "function", "hand-in", "listening", "sign-off")
PAST = timezone.now() - timedelta(days=2)


class Cast:
    def __init__(self) -> None:
        self.ensemble = factories.make_ensemble()
        self.leader = factories.make_instructor(self.ensemble)
        self.player, self.other = (factories.make_player(self.ensemble) for _ in range(2))
        self.lead, self.play = Client(), Client()
        self.lead.force_login(self.leader)
        self.play.force_login(self.player)
        self.made: Assignment = assign(
            by=self.leader,
            ensemble=self.ensemble,
            revision=factories.make_chart_revision(),
            title="Ballroom",
            steps=[Plan(kind, due=PAST) for kind in KINDS],
            release="by-hand",
        )

    def step(self, kind: str) -> Any:
        return self.made.steps.select_related("assignment__ensemble").get(kind=kind)

    def edit(self, **change: Any) -> None:
        self.made.refresh_from_db()
        edit_assignment(
            **{"assignment_id": self.made.pk, "version": self.made.version, "fields": {}, "dues": {}} | change
        )

    def told(self, user: Any = None) -> list[str]:
        return list(Notice.objects.filter(user=user or self.player).order_by("pk").values_list("text", flat=True))

    def reads(self) -> None:
        Notice.objects.filter(user=self.player).update(seen=timezone.now())


@pytest.fixture
def cast() -> Cast:
    return Cast()


def seen(cast: Cast) -> dict[str, Any]:
    """Everything that asks for, or holds back because of, the assignment."""
    tune = cast.made.tune_id
    return {
        "next": undone_steps(cast.player).count(),
        "missing": missing(cast.leader).count(),
        "held": bool(held_back(cast.player, [tune])),
        "unnamed": bool(unnamed_forms(cast.player, [tune])),
        "desk": "Ballroom" in cast.play.get(reverse("work:desk")).content.decode().split("<main")[1],
        "page": cast.play.get(reverse("work:assignment", args=[cast.made.pk])).status_code,
    }


def test_an_assignment_is_taken_back_and_put_back(cast: Cast) -> None:
    before = seen(cast)
    assert before == {"next": 5, "missing": 10, "held": True, "unnamed": True, "desk": True, "page": 200}
    page = cast.lead.get(reverse("work:assignment", args=[cast.made.pk])).content.decode()
    assert "Take it back" in page
    closed = cast.lead.post(reverse("work:close", args=[cast.made.pk]), follow=True).content.decode()
    assert "Put it back" in closed
    assert seen(cast) == {"next": 0, "missing": 0, "held": False, "unnamed": False, "desk": False, "page": 404}
    assert cast.play.post(reverse("work:start", args=[cast.step("form").pk])).status_code == 404
    cast.lead.post(reverse("work:close", args=[cast.made.pk]), {"undo": "1"})
    assert seen(cast) == before


def test_what_was_begun_stays_with_its_player_and_can_be_finished(cast: Cast) -> None:
    done = factories.make_attempt(cast.step("form"), cast.player, hand_in=True)
    opened = start_attempt(step=cast.step("function"), player=cast.player)
    assert "Close it" in cast.lead.get(reverse("work:assignment", args=[cast.made.pk])).content.decode()
    close_assignment(assignment_id=cast.made.pk)
    text = cast.play.get(reverse("work:assignment", args=[cast.made.pk])).content.decode()
    assert "no longer asked" in text
    assert "Hand-in" not in text  # never begun
    for attempt in (done, opened):
        assert cast.play.get(reverse("work:attempt", args=[attempt.pk])).status_code == 200
    cast.play.post(reverse("work:hand-in", args=[opened.pk]))
    assert Evidence.objects.filter(player=cast.player).count() == 2
    with pytest.raises(NoMoreGoes, match="no longer asked"):
        start_attempt(step=cast.step("form"), player=cast.player)
    assert (
        "no longer asked"
        in cast.play.post(reverse("work:start", args=[cast.step("form").pk]), follow=True).content.decode()
    )


def test_answers_of_a_closed_step_come_when_nothing_more_can_be_handed_in() -> None:
    cast = Cast()
    Assignment.objects.filter(pk=cast.made.pk).update(release="last")
    cast.made.steps.update(due=None)
    factories.make_attempt(cast.step("form"), cast.player, hand_in=True)
    assert not states_of(cast.player, [cast.step("form")])[0].out
    close_assignment(assignment_id=cast.made.pk)
    assert states_of(cast.player, [cast.step("form")])[0].out


def test_a_step_is_taken_back_on_the_edit_page_and_asked_again(cast: Cast) -> None:
    address, step = reverse("work:edit", args=[cast.made.pk]), cast.step("form")
    data = {"title": "Ballroom", "instructions": "", "attempts_allowed": 2, "release": "by-hand", "version": 1}
    data |= {f"due-{s.pk}": timezone.localdate(s.due).isoformat() for s in cast.made.steps.all()}
    assert cast.lead.post(address, data | {f"back-{step.pk}": "on"}).status_code == 302
    assert seen(cast) | {"desk": 0} == {"next": 4, "missing": 8, "held": True, "unnamed": False, "desk": 0, "page": 200}
    assert f'name="back-{step.pk}" checked' in cast.lead.get(address).content.decode()
    assert cast.told()[-1] == "Ballroom: Form is no longer asked"
    assert cast.lead.post(address, data | {"version": 2}).status_code == 302
    assert seen(cast)["unnamed"]
    assert cast.told()[-1] == "Ballroom: Form is asked again"
    assert cast.step("form").due == PAST  # the hour of the same day stays


# --- what players are told


def test_who_has_read_nothing_yet_is_not_troubled_by_the_undo(cast: Cast) -> None:
    close_assignment(assignment_id=cast.made.pk)
    assert cast.told() == []
    ask_again(assignment_id=cast.made.pk)
    assert cast.told() == [f"Asked of {cast.ensemble.name}: Ballroom"]


def test_who_knew_of_it_is_told_that_it_is_gone(cast: Cast) -> None:
    cast.reads()
    close_assignment(assignment_id=cast.made.pk)
    close_assignment(assignment_id=cast.made.pk)
    assert cast.told()[1:] == ["No longer asked: Ballroom"]
    assert cast.play.get(Notice.objects.latest("pk").url).status_code == 200
    ask_again(assignment_id=cast.made.pk)
    assert len(cast.told()) == 1  # nobody read it: it is as if it had not been
    assert len(cast.told(cast.other)) == 1


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({}, None),
        ({"fields": {"title": "Ballroom", "instructions": "Sing"}}, None),
        (
            {"dues": {"form": "2030-03-05", "function": "2030-03-05"}},
            "Ballroom: Form, Function of every chord now due Tue 5 Mar",
        ),
        ({"dues": {"form": None}}, "Ballroom: Form now without a date"),
        ({"more": [Plan("key-areas"), Plan("hand-in", title="The bridge")]}, "Ballroom: new: Key areas, The bridge"),
        ({"closed": ["form"]}, "Ballroom: Form is no longer asked"),
        ({"closed": ["form"], "dues": {"form": "2030-03-05"}}, "Ballroom: Form is no longer asked"),
    ],
)
def test_what_players_are_told_of_an_edit(cast: Cast, change: dict[str, Any], said: str | None) -> None:
    ids = {step.kind: step.pk for step in cast.made.steps.all()}
    day = timezone.make_aware
    if "dues" in change:
        change = change | {
            "dues": {
                ids[k]: d and day(timezone.datetime.fromisoformat(d + "T23:59")) for k, d in change["dues"].items()
            }
        }
    if "closed" in change:
        change = change | {"closed": {ids[k] for k in change["closed"]}}
    cast.edit(**change)
    assert cast.told()[1:] == ([said] if said else [])
    assert cast.told(cast.other) == cast.told()


def comment(cast: Cast, attempt: Attempt) -> None:
    review.comment(attempt=attempt, by=cast.leader, text="Listen again", token=uuid.uuid4())


def override(cast: Cast, attempt: Attempt) -> None:
    attempt.refresh_from_db()
    review.override(
        attempt_id=attempt.pk,
        by=cast.leader,
        version=attempt.version,
        question="function:0",
        points=1.0,
        reason="Sound",
    )


@pytest.mark.parametrize(
    ("act", "said"),
    [
        (comment, "A new comment on Function of every chord: Ballroom"),
        (override, "A mark was changed in Function of every chord: Ballroom"),
    ],
)
@pytest.mark.parametrize("first", [review.accept, review.return_for_another_go])
def test_what_comes_after_the_review_is_told_once_until_it_is_read(cast: Cast, act: Any, said: str, first: Any) -> None:
    attempt = factories.make_attempt(cast.step("function"), cast.player, hand_in=True)
    act(cast, attempt)
    assert cast.told()[1:] == []  # the review will tell of it
    attempt.refresh_from_db()
    first(attempt_id=attempt.pk, by=cast.leader, version=attempt.version)
    attempt.refresh_from_db()
    told = len(cast.told())
    act(cast, attempt)
    act(cast, attempt)
    assert cast.told()[told:] == [said]
    cast.reads()
    act(cast, attempt)
    assert cast.told()[told:] == [said, said]
    assert Notice.objects.filter(text=said).latest("pk").url == reverse("work:attempt", args=[attempt.pk])


def test_the_same_comment_sent_twice_tells_once(cast: Cast) -> None:
    attempt = factories.make_attempt(cast.step("function"), cast.player, hand_in=True)
    review.accept(attempt_id=attempt.pk, by=cast.leader, version=attempt.version)
    attempt.refresh_from_db()
    token = uuid.uuid4()
    for _ in range(2):
        review.comment(attempt=attempt, by=cast.leader, text="So", token=token)
        cast.reads()
    assert sum("A new comment" in text for text in cast.told()) == 1
