"""Which goes a later one has overtaken: stored with the hand-in, found again in old rows by the migration."""

from __future__ import annotations

import uuid
from importlib import import_module

import pytest
from django.apps import apps

from assessments.models import Attempt
from assessments.selectors.review import latest_sheets, queue
from assessments.services.hand_in import send, start_attempt
from tests import factories

pytestmark = pytest.mark.django_db


def marks() -> list[tuple[int, bool]]:
    return list(Attempt.objects.order_by("player", "number").values_list("number", "superseded"))


def test_a_later_go_takes_the_place_of_the_one_before() -> None:
    ensemble = factories.make_ensemble()
    leader = factories.make_instructor(ensemble)
    made = factories.make_assignment(ensemble, by=leader, kinds=("function", "hand-in"), attempts_allowed=3)
    quiz, sent = made.steps.get(kind="function"), made.steps.get(kind="hand-in")
    player, other = factories.make_player(ensemble), factories.make_player(ensemble)
    first = factories.make_attempt(quiz, player, hand_in=True)
    start_attempt(step=quiz, player=player)
    assert marks() == [(1, False), (2, False)]  # still being written: the first one waits for review
    assert [row.pk for row in queue(leader)] == [first.pk]
    second = factories.make_attempt(quiz, player, hand_in=True)
    theirs = factories.make_attempt(quiz, other, hand_in=True)
    assert marks() == [(1, True), (2, False), (1, False)]
    assert (
        {row.pk for row in queue(leader)}
        == set(latest_sheets(quiz).values_list("pk", flat=True))
        == {second.pk, theirs.pk}
    )
    for note in ("So", "Better so"):
        send(step=sent, player=player, token=uuid.uuid4(), note=note)
    assert list(Attempt.objects.filter(step=sent).order_by("number").values_list("superseded", flat=True)) == [
        True,
        False,
    ]
    before = list(Attempt.objects.order_by("pk").values_list("pk", "superseded"))
    Attempt.objects.update(superseded=False)
    import_module("assessments.migrations.0008_superseded").mark_superseded(apps, None)
    assert list(Attempt.objects.order_by("pk").values_list("pk", "superseded")) == before
