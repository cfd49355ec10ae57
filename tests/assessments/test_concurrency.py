"""Many writers at once, with real transactions: nothing lost, nothing doubled. Run on both databases.

Threads stand for server processes: each has its own connection. On PostgreSQL lost updates would show,
on SQLite locked databases would.
"""

from __future__ import annotations

import json
import threading
import uuid
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from assessments.models import Answer, AnswerHistory, Attempt, Comment, Evidence, Mark, MarkOverride, SignOff
from assessments.services import review
from assessments.services.answer import Save, save_answers
from assessments.services.hand_in import hand_in, start_attempt
from assessments.services.sign_off import sign_off
from studio.models import Notice
from tests import factories

pytestmark = [pytest.mark.concurrency, pytest.mark.django_db(transaction=True)]
PLAYERS, FIELDS, WORKERS = 40, 32, 8
LONG = "key: F major\n[A]\n" + "| Fmaj7 | Dm7 | Gm7 | C7 |\n" * (FIELDS // 4)


def together(jobs: list[Callable[[], Any]], workers: int = WORKERS) -> list[Any]:
    """Run all jobs in threads that start as one; the exception of any is raised."""
    gate = threading.Barrier(min(workers, len(jobs)))
    started = threading.local()

    def run(job: Callable[[], Any]) -> Any:
        if not getattr(started, "yes", False):
            started.yes = True
            gate.wait(10)
        try:
            return job()
        finally:
            connection.close()

    with ThreadPoolExecutor(min(workers, len(jobs))) as pool:
        return [future.result() for future in [pool.submit(run, job) for job in jobs]]


@pytest.fixture(autouse=True)
def patience(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """A process of the site has no more threads than connections; these tests have, and wait for one."""
    if connection.vendor == "postgresql" and connection.pool:  # type: ignore[attr-defined]
        monkeypatch.setattr(connection.pool, "timeout", 20.0)  # type: ignore[attr-defined]


@pytest.fixture
def step() -> Any:
    ensemble = factories.make_ensemble()
    made = factories.make_assignment(ensemble, revision=factories.make_chart_revision(text=LONG), ask_repeats=True)
    return made.steps.select_related("quiz", "assignment").get()


def questions(step: Any) -> list[str]:
    ids: list[str] = step.quiz.ids
    assert len(ids) == FIELDS
    return ids


def test_forty_players_save_thirty_two_answers_each_at_once(step: Any) -> None:
    """Through the pages themselves: 1,280 requests, every third one sent twice, as a shaky connection does."""
    ids = questions(step)
    players = [factories.make_player(step.assignment.ensemble) for _ in range(PLAYERS)]
    attempts = {p.pk: start_attempt(step=step, player=p) for p in players}
    clients = {p.pk: Client() for p in players}
    for player in players:
        clients[player.pk].force_login(player)

    def one(player: int, n: int) -> int:
        body = json.dumps(
            {
                "client": str(uuid.UUID(int=player)),
                "saves": [{"q": ids[n], "text": f"{n % 7 + 1}", "seq": n + 1, "base": 0}],
            }
        )
        url = reverse("work:save", args=[attempts[player].pk])
        answers = [clients[player].post(url, body, "application/json") for _ in range(2 if n % 3 == 0 else 1)]
        return max(a.status_code for a in answers)

    jobs = [lambda p=p.pk, n=n: one(p, n) for n in range(FIELDS) for p in players]
    assert set(together(jobs)) == {200}
    assert Answer.objects.count() == AnswerHistory.objects.count() == PLAYERS * FIELDS
    for player in players:
        found = dict(Answer.objects.filter(attempt=attempts[player.pk]).values_list("question", "text"))
        assert found == {q: f"{n % 7 + 1}" for n, q in enumerate(ids)}


def test_two_tabs_on_one_attempt_lose_nothing(step: Any) -> None:
    """Both windows write every field without having seen the other: one stands, the other is kept and told."""
    player = factories.make_player(step.assignment.ensemble)
    attempt = start_attempt(step=step, player=player)

    def tab(client: int, n: int, question: str) -> str:
        _, (result,) = save_answers(
            attempt_id=attempt.pk,
            player_id=player.pk,
            client=uuid.UUID(int=client),
            saves=[Save(question, f"tab {client}", n + 1)],
        )
        return result.outcome

    jobs = [lambda c=c, n=n, q=q: tab(c, n, q) for n, q in enumerate(questions(step)) for c in (1, 2)]
    assert Counter(together(jobs)) == {"saved": FIELDS, "conflict": FIELDS}
    assert AnswerHistory.objects.filter(attempt=attempt).count() == 2 * FIELDS
    for answer in Answer.objects.filter(attempt=attempt):
        saved = AnswerHistory.objects.get(attempt=attempt, question=answer.question, outcome="saved")
        assert (answer.text, answer.version) == (saved.text, 1)


def test_one_field_written_by_many_windows_that_look_first(step: Any) -> None:
    """No lost update: every accepted save raises the version by one."""
    player = factories.make_player(step.assignment.ensemble)
    attempt = start_attempt(step=step, player=player)
    question = questions(step)[0]

    def window(number: int) -> list[int]:
        base, sequence, versions = 0, 0, []
        while len(versions) < 12:
            sequence += 1
            _, (result,) = save_answers(
                attempt_id=attempt.pk,
                player_id=player.pk,
                client=uuid.UUID(int=number),
                saves=[Save(question, f"window {number}, {sequence}", sequence, base)],
            )
            if result.outcome == "saved":
                versions.append(result.version)
            base = result.version
        return versions

    versions = together([lambda n=n: window(n) for n in range(1, 9)])
    assert sorted(v for found in versions for v in found) == list(range(1, 97))
    assert Answer.objects.get(attempt=attempt).version == 96


def test_a_double_click_starts_and_hands_in_once(step: Any) -> None:
    player = factories.make_player(step.assignment.ensemble)
    attempts = together([lambda: start_attempt(step=step, player=player) for _ in range(8)])
    assert len({a.pk for a in attempts}) == Attempt.objects.count() == 1
    together([lambda: hand_in(attempt_id=attempts[0].pk, player_id=player.pk) for _ in range(8)])
    assert Mark.objects.count() == FIELDS
    assert Evidence.objects.count() == 1


def test_saving_while_handing_in_counts_or_is_kept_as_late(step: Any) -> None:
    player = factories.make_player(step.assignment.ensemble)
    attempt = start_attempt(step=step, player=player)

    def save(n: int, question: str) -> str:
        _, (result,) = save_answers(
            attempt_id=attempt.pk, player_id=player.pk, client=uuid.UUID(int=1), saves=[Save(question, "1", n + 1)]
        )
        return result.outcome

    jobs: list[Callable[[], Any]] = [lambda n=n, q=q: save(n, q) for n, q in enumerate(questions(step))]
    jobs.insert(FIELDS // 2, lambda: hand_in(attempt_id=attempt.pk, player_id=player.pk).status)
    outcomes = Counter(together(jobs))
    marked = Mark.objects.filter(attempt=attempt).exclude(answer="").count()
    assert marked == outcomes["saved"] == Answer.objects.filter(attempt=attempt).count()
    assert AnswerHistory.objects.filter(attempt=attempt).count() == FIELDS


def test_two_reviewers_on_one_sheet(step: Any) -> None:
    """Comments of both stand; of overrides and outcomes from the same reading only one does, the other is told."""
    player = factories.make_player(step.assignment.ensemble)
    done = factories.make_attempt(step, player, hand_in=True)
    reviewers = [factories.make_instructor(step.assignment.ensemble) for _ in range(2)]
    ids = questions(step)

    def say(by: Any, n: int) -> str:
        review.comment(attempt=done, by=by, text=f"{by.name} {n}", token=uuid.uuid4(), bar=n)
        return "said"

    def mark(by: Any, n: int) -> str:
        try:
            review.override(attempt_id=done.pk, by=by, version=done.version, question=ids[n], points=1.0, reason="Why")
        except review.Stale:
            return "stale"
        return "given"

    jobs = [lambda b=b, n=n, act=act: act(b, n) for n in range(16) for b in reviewers for act in (say, mark)]
    outcomes = Counter(together(jobs))
    assert outcomes == {"said": 32, "given": 1, "stale": 31}
    assert Comment.objects.filter(attempt=done).count() == 32
    assert MarkOverride.objects.filter(attempt=done).count() == 1
    done.refresh_from_db()
    assert done.points == 1.0
    assert Evidence.objects.filter(attempt=done, withdrawn_by__isnull=True, withdraws__isnull=True).count() == 1


def test_two_instructors_accept_and_sign_off_once(step: Any) -> None:
    ensemble = step.assignment.ensemble
    player = factories.make_player(ensemble)
    done = factories.make_attempt(step, player, hand_in=True)
    leaders = [factories.make_instructor(ensemble) for _ in range(2)]

    def accept(by: Any) -> str:
        try:
            review.accept(attempt_id=done.pk, by=by, version=done.version)
        except review.Stale:
            return "stale"
        return "accepted"

    assert sorted(together([lambda b=b: accept(b) for b in leaders])) == ["accepted", "stale"]
    assert Notice.objects.filter(user=player, kind="reviewed").count() == 1
    signing = factories.make_assignment(ensemble, kinds=("sign-off",)).steps.get()
    together([lambda b=b: sign_off(step=signing, players=[player], by=b, evidence="Played") for b in leaders * 4])
    assert SignOff.objects.filter(player=player).count() == 1
    assert Evidence.objects.filter(player=player, kind="sign-off").count() == 1
