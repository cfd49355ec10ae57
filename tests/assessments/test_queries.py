"""Every page: at most 15 queries, the same number with 10 and with 400 players."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from assessments.models import Answer, Attempt, Comment, Evidence, Listening, Mark, SignOff, Submission
from studio.models import Membership, User
from studio.statistics import refresh
from tests import factories

pytestmark = pytest.mark.django_db
MOST = 15
KINDS = ("function", "listening", "hand-in", "sign-off", "form")


class Programme:
    """An ensemble of `size` players that have all done everything of three assignments."""

    def __init__(self, size: int) -> None:
        self.ensemble = factories.make_ensemble()
        self.leader = factories.make_instructor(self.ensemble)
        self.players = self._players(size)
        past = timezone.now() - timezone.timedelta(days=1)
        self.made = [factories.make_assignment(self.ensemble, by=self.leader, kinds=KINDS, due=past) for _ in range(3)]
        self.made.append(factories.make_assignment(self.ensemble, by=self.leader, kinds=KINDS, due=past))  # missing
        for assignment in self.made[:3]:
            for step in assignment.steps.select_related("quiz", "assignment"):
                self._everyone_does(step)
        self.steps = {s.kind: s for s in self.made[0].steps.all()}

    def _players(self, size: int) -> list[User]:
        users = User.objects.bulk_create(
            [
                User(email=f"{uuid.uuid4().hex}@example.org", name=f"Player {n:03}", instrument="alto-sax")
                for n in range(size)
            ]
        )
        Membership.objects.bulk_create(
            [Membership(user=u, ensemble=self.ensemble, instrument="alto-sax") for u in users]
        )
        return users

    def _everyone_does(self, step: Any) -> None:
        at, now = step.assignment, timezone.now()
        common = {"tune_id": at.tune_id, "ensemble_id": at.ensemble_id}
        attempts: dict[int, Attempt] = {}
        if step.kind == "sign-off":
            SignOff.objects.bulk_create(
                [SignOff(player=p, by=self.leader, step=step, evidence="Played", **common) for p in self.players]
            )
        elif step.kind == "listening":
            Listening.objects.bulk_create(
                [
                    Listening(step=step, player=p, heard="It", on=now.date(), token=uuid.uuid4())
                    for p in self.players
                    for _ in range(3)
                ]
            )
        else:
            attempts = self._attempts(step)
        Evidence.objects.bulk_create(
            [
                Evidence(
                    player=p,
                    kind=step.kind,
                    what="Done",
                    on=now,
                    by=self.leader,
                    step=step,
                    attempt=attempts.get(p.pk),
                    **common,
                )
                for p in self.players
                for _ in range(3 if step.kind == "listening" else 1)
            ]
        )

    def _attempts(self, step: Any) -> dict[int, Attempt]:
        quiz = step.kind != "hand-in"
        rows = Attempt.objects.bulk_create(
            [
                Attempt(
                    step=step,
                    player=p,
                    status="handed-in",
                    handed_in=timezone.now(),
                    instrument="alto-sax",
                    written="M6",
                    points=1.0 if quiz else None,
                    out_of=4 if quiz else 0,
                )
                for p in self.players
            ]
        )
        Comment.objects.bulk_create(
            [Comment(attempt=a, by=self.leader, text="So", token=uuid.uuid4(), bar=1) for a in rows]
        )
        if quiz:
            Mark.objects.bulk_create(
                [
                    Mark(attempt=a, question=q, position=n, answer=f"{a.player_id % 7}", points=0.5, rule="degree-only")
                    for a in rows
                    for n, q in enumerate(step.quiz.ids)
                ]
            )
            Answer.objects.bulk_create(
                [
                    Answer(attempt=a, question=step.quiz.ids[0], text="1", client=uuid.uuid4(), saved=timezone.now())
                    for a in rows
                ]
            )
        else:
            Submission.objects.bulk_create([Submission(attempt=a, note="Here") for a in rows])
        return {a.player_id: a for a in rows}

    def attempt(self, kind: str) -> int:
        return Attempt.objects.get(step=self.steps[kind], player=self.players[0]).pk


def led(route: str, *args: Callable[[Programme], Any], query: str = "") -> Any:
    return pytest.param(
        lambda p: (p.leader, reverse(route, args=[a(p) for a in args]) + query), id=f"led {route}{query}"
    )


def own(route: str, *args: Callable[[Programme], Any], query: str = "", name: str = "") -> Any:
    return pytest.param(
        lambda p: (p.players[0], reverse(route, args=[a(p) for a in args]) + query), id=f"own {route}{name}"
    )


PAGES = [
    own("work:desk"),
    own("work:my-tunes"),
    own("work:assignment", lambda p: p.made[0].pk),
    *(own("work:step", lambda p, k=k: p.steps[k].pk, name=f" {k}") for k in KINDS),
    own("work:attempt", lambda p: p.attempt("function"), name=" function"),
    own("work:attempt", lambda p: p.attempt("form"), name=" form"),
    own("work:heard", lambda p: p.attempt("function")),
    led("work:ensemble", lambda p: p.ensemble.pk),
    led("work:assignments"),
    led("work:assign"),
    led("work:assignment", lambda p: p.made[0].pk),
    led("work:edit", lambda p: p.made[0].pk),
    led("work:ensemble-sheet", lambda p: p.steps["function"].pk),
    led("work:sign-off", lambda p: p.steps["sign-off"].pk),
    *(led("work:queue", query=f"?state={state}") for state in ("waiting", "late", "missing", "reviewed", "open")),
    led("work:sheet", lambda p: p.attempt("function")),
    led("work:sheet-heard", lambda p: p.attempt("function")),
    led("work:sheet", lambda p: p.attempt("hand-in")),
    led("work:ledger"),
    led("work:known"),
    led("work:known", query="?show=all"),
    led("work:player", lambda p: p.players[0].pk),
    led("work:evidence", lambda p: p.players[0].pk, lambda p: p.made[0].tune_id),
]


@pytest.fixture(scope="module")
def programmes(django_db_setup: None, django_db_blocker: Any) -> Any:
    """One programme of 10 players and one of 400, made once."""
    with django_db_blocker.unblock():
        atomic = transaction.atomic()
        atomic.__enter__()
        made = [Programme(10), Programme(400)]
        refresh()
        yield made
        transaction.set_rollback(True)
        atomic.__exit__(None, None, None)


def count(user: User, address: str) -> list[str]:
    client = Client()
    client.force_login(user)
    client.get(reverse("work:marking-rules"))
    with CaptureQueriesContext(connection) as caught:
        response = client.get(address)
    assert response.status_code == 200, address
    return [q["sql"] for q in caught]


@pytest.mark.parametrize("page", PAGES)
def test_queries(programmes: list[Programme], page: Callable[[Programme], tuple[User, str]]) -> None:
    small, large = (count(*page(programme)) for programme in programmes)
    assert len(small) == len(large), "\n".join(sorted(set(large) - set(small)))
    assert len(large) <= MOST, "\n".join(large)


@pytest.mark.parametrize(("route", "args"), [("work:queue", ()), ("work:ledger", ()), ("work:known", ("?show=all",))])
def test_no_page_grows_with_the_ensemble(programmes: list[Programme], route: str, args: tuple[str, ...]) -> None:
    """What is sent for 400 players is at most three times what is sent for 10."""
    sizes = []
    for programme in programmes:
        client = Client()
        client.force_login(programme.leader)
        sizes.append(len(client.get(reverse(route) + "".join(args)).content))
    assert sizes[1] < 3 * sizes[0]


@pytest.mark.django_db(transaction=True)
def test_a_first_big_day() -> None:
    """Every table was counted while it was empty but not small (rows of a transaction that was undone): the database
    plans for one row and finds thousands. The statement timeout of the site (15 s) ends what has a quadratic plan."""
    if connection.vendor != "postgresql":
        pytest.skip("SQLite plans without counting rows")
    with transaction.atomic():
        Programme(100)
        transaction.set_rollback(True)
    refresh()
    with transaction.atomic():
        programme = Programme(300)
        with connection.cursor() as cursor:
            cursor.execute("SELECT reltuples FROM pg_class WHERE relname = 'assessments_attempt'")
            assert cursor.fetchone()[0] < 100
        pages = [reverse("work:queue") + f"?state={state}" for state in ("waiting", "late", "missing")]
        pages += [
            reverse("work:ensemble-sheet", args=[programme.steps["function"].pk]),
            reverse("work:known") + "?show=all",
        ]
        for address in pages:
            count(programme.leader, address)
        transaction.set_rollback(True)
