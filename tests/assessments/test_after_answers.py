"""A go handed in after the answers to an earlier one were open is no evidence by itself (our own rule)."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assessments.forms import AssignmentForm
from assessments.models import Assignment, Attempt, Evidence
from assessments.selectors.ledger import standing_rows
from assessments.services import review
from assessments.services.assign import edit_assignment, release_answers, withhold_answers
from studio.models import Ensemble
from tests import factories
from tunes.models import ChartRevision

pytestmark = pytest.mark.django_db
PAST, FUTURE = timezone.now() - timedelta(days=1), timezone.now() + timedelta(days=1)


def named(value: object) -> str:
    """The same name for a case in every process: the hour is left out of it."""
    return str(value).replace(repr(PAST), "past").replace(repr(FUTURE), "future")


class Cast:
    def __init__(self, **fields: Any) -> None:
        self.ensemble = factories.make_ensemble()
        self.leader, self.player = factories.make_instructor(self.ensemble, "Leo"), factories.make_player(self.ensemble)
        self.made = factories.make_assignment(self.ensemble, by=self.leader, **{"attempts_allowed": 3} | fields)
        self.step = self.made.steps.get()

    def go(self) -> Attempt:
        self.step.refresh_from_db()
        self.made = self.step.assignment = Assignment.objects.get(pk=self.made.pk)
        return factories.make_attempt(self.step, self.player, answers={"function:0": "1"}, hand_in=True)

    def counted(self) -> list[int]:
        return sorted(standing_rows(player=self.player).values_list("attempt__number", flat=True))

    def client(self, who: str) -> Client:
        client = Client()
        client.force_login(getattr(self, who))
        return client


@pytest.mark.parametrize(
    ("fields", "counted"),
    [
        ({"release": "hand-in"}, [1]),  # a blank go shows the key; the copy is no evidence
        ({"release": "last"}, [1, 2, 3]),  # nothing is open before the last one is in
        ({"release": "last", "due": FUTURE}, [1, 2, 3]),
        ({"release": "last", "due": PAST}, [1]),  # late goes: the first one still counts
        ({"release": "due", "due": FUTURE}, [1, 2, 3]),
        ({"release": "due", "due": PAST}, [1]),
        ({"release": "due"}, [1, 2, 3]),  # no date: nothing opens
        ({"release": "by-hand"}, [1, 2, 3]),
        ({"release": "hand-in", "kinds": ("form",)}, [1]),
    ],
    ids=named,
)
def test_which_goes_are_evidence(fields: dict[str, Any], counted: list[int]) -> None:
    cast = Cast(**fields)
    goes = [cast.go() for _ in range(3)]
    assert cast.counted() == counted
    assert [go.number for go in goes if not go.after_answers] == counted
    assert all(go.points is not None for go in goes)  # marked all the same


def test_the_default_shows_nothing_while_goes_are_left() -> None:
    assert Assignment().release == Assignment.Release.LAST
    form = AssignmentForm(ensembles=Ensemble.objects.all(), revisions=ChartRevision.objects.all())
    assert (form["release"].value(), form.shows_key_early()) == ("last", False)


def test_what_was_released_by_hand_stays_known_when_it_is_withheld() -> None:
    cast = Cast(release="by-hand")
    cast.go()
    release_answers(assignment=cast.made)
    withhold_answers(assignment=cast.made)
    assert cast.go().after_answers
    assert cast.counted() == [1]


@pytest.mark.parametrize("change", [{"release": "by-hand"}, {}], ids=["another rule", "a later date"])
def test_what_was_open_stays_known_when_the_assignment_is_edited(change: dict[str, Any]) -> None:
    cast = Cast(release="due", due=PAST)
    cast.go()
    edit_assignment(assignment_id=cast.made.pk, version=cast.made.version, fields=change, dues={cast.step.pk: FUTURE})
    assert cast.go().after_answers


def test_a_go_returned_after_the_last_one_still_knows_the_answers() -> None:
    cast = Cast(release="last", attempts_allowed=1)
    first = cast.go()
    review.return_for_another_go(attempt_id=first.pk, by=cast.leader, version=first.version)
    assert cast.go().after_answers
    assert cast.counted() == []


def test_a_go_begun_before_the_date_and_handed_in_after_it_comes_after_the_answers() -> None:
    cast = Cast(release="due", due=FUTURE)
    cast.go()
    second = factories.make_attempt(cast.step, cast.player)
    cast.made.steps.update(due=PAST)
    done = cast.client("player").post(reverse("work:hand-in", args=[second.pk]))
    assert done.status_code == 302
    assert cast.counted() == [1]


def test_another_player_is_not_concerned() -> None:
    cast = Cast(release="hand-in")
    cast.go()
    other = factories.make_player(cast.ensemble)
    assert not factories.make_attempt(cast.step, other, hand_in=True).after_answers


def act(cast: Cast, attempt: Attempt, what: str) -> Any:
    attempt.refresh_from_db()
    return cast.client("leader").post(
        reverse("work:outcome", args=[attempt.pk]), {"act": what, "version": attempt.version}, follow=True
    )


def test_an_instructor_can_let_it_count_in_their_name_and_take_that_back() -> None:
    cast = Cast(release="hand-in")
    cast.go()
    second = cast.go()
    assert "does not count in the ledger unless you say so" in act(cast, second, "accept").content.decode()
    assert cast.counted() == [1]
    assert "counts in the ledger because" in act(cast, second, "count").content.decode()
    act(cast, second, "count")  # the double click
    row = standing_rows(attempt=second).get()
    assert (row.by, "after the answers were shown; counted by Leo" in row.what) == (cast.leader, True)
    act(cast, second, "uncount")
    assert cast.counted() == [1]
    assert Evidence.objects.filter(withdraws=row).count() == 1


@pytest.mark.parametrize("counted", [False, True])
def test_a_changed_mark_counts_only_if_the_go_did(counted: bool) -> None:
    cast = Cast(release="hand-in")
    cast.go()
    second = cast.go()
    if counted:
        act(cast, second, "count")
    second.refresh_from_db()
    review.override(
        attempt_id=second.pk,
        by=cast.leader,
        version=second.version,
        question="function:0",
        points=0.5,
        reason="Half of it",
    )
    assert cast.counted() == ([1, 2] if counted else [1])
    second.refresh_from_db()
    review.return_for_another_go(attempt_id=second.pk, by=cast.leader, version=second.version)
    act(cast, second, "count")  # a returned go can't count
    act(cast, second, "reopen")
    assert cast.counted() == [1]


def test_the_player_is_told_before_and_after() -> None:
    cast = Cast(release="hand-in")
    first, client = cast.go(), cast.client("player")
    assert "Another go is practice" in client.get(reverse("work:attempt", args=[first.pk])).content.decode()
    client.post(reverse("work:start", args=[cast.step.pk]))
    second = Attempt.objects.get(number=2)
    assert "so this one is practice" in client.get(reverse("work:attempt", args=[second.pk])).content.decode()
    client.post(reverse("work:hand-in", args=[second.pk]))
    assert (
        "were open to you when you handed this in"
        in client.get(reverse("work:attempt", args=[second.pk])).content.decode()
    )


@pytest.mark.parametrize(
    ("release", "goes", "warned"), [("hand-in", 2, True), ("hand-in", 1, False), ("last", 2, False)]
)
def test_the_assign_page_says_plainly_when_the_key_comes_early(release: str, goes: int, warned: bool) -> None:
    cast = Cast()
    tune = factories.make_chart_revision().version.tune_id
    data = {"tune": tune, "release": release, "attempts_allowed": goes, "token": str(uuid.uuid4())}
    page = cast.client("leader").post(reverse("work:assign"), data).content.decode()
    assert "What each choice means" in page
    assert ("data-release-note hidden" not in page) is warned
