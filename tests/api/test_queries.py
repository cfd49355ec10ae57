"""Queries of every list: at most 15, and the same number with 10 players as with 60."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assessments.models import PlannedTune
from studio.models import Membership
from tests import factories
from tests.api.test_calls import Caller

pytestmark = pytest.mark.django_db
MOST = 15


def grow(ensemble: Any, step: Any, players: int) -> None:
    for _ in range(players):
        player = factories.make_player(ensemble)
        factories.make_attempt(step, player, answers={"function:0": "1"}, hand_in=True)
        factories.make_recording(factories.make_tune())
        PlannedTune.objects.create(ensemble=ensemble, tune=factories.make_tune(), position=1)


@pytest.mark.parametrize(
    "path",
    [
        "me",
        "people",
        "terms",
        "tunes",
        "tunes/{tune}/recordings",
        "tunes/{tune}/versions",
        "assignments",
        "attempts",
        "ensembles",
        "ensembles/{ensemble}/chairs",
        "ensembles/{ensemble}/ledger",
        "ensembles/{ensemble}/known",
        "ledger",
        "ensembles/{ensemble}/plan",
        "ensembles/{ensemble}/plan?show=progressions",
        "revisions/{revision}/analysis",
        "attempts/{attempt}",
        "desk",
        "review",
        "review?state=open",
        "review/missing",
        "assignments/{assignment}/progress",
        "steps/{step}/ensemble-sheet",
        "steps/{step}/sign-offs",
        "players/{player}/ledger",
        "requirements",
        "marking-rules",
        "idioms",
        "idioms/{idiom}/places",
        "revisions/{revision}/checks",
        "disputes",
        "revisions/{revision}/overrules",
        "versions/{version}",
        "tunes/{tune}/melodies",
    ],
)
def test_queries_do_not_grow(path: str) -> None:
    ensemble = factories.make_ensemble()
    instructor = factories.make_instructor(ensemble)
    made = factories.make_assignment(ensemble, by=instructor)
    step = made.steps.get()
    grow(ensemble, step, 10)
    caller = Caller(instructor)
    attempt = step.attempts.first()
    address = path.format(
        tune=made.tune_id,
        ensemble=ensemble.pk,
        revision=made.revision_id,
        attempt=attempt.pk,
        step=step.pk,
        assignment=made.pk,
        player=attempt.player_id,
        idiom=factories.make_idiom().pk,
        version=made.revision.version_id,
    )
    caller("get", address)  # the token's last use is written now, and charts are read
    few = count(caller, address)
    grow(ensemble, step, 50)
    assert Membership.objects.filter(ensemble=ensemble).count() == 61
    assert count(caller, address) == few <= MOST


def count(caller: Caller, address: str) -> int:
    """Queries for the answer itself; counting the calls of a token (the shared cache) is the same for every call."""
    with CaptureQueriesContext(connection) as caught:
        caller("get", address)
    return sum("studio_cache" not in q["sql"] and "SAVEPOINT" not in q["sql"] for q in caught)
