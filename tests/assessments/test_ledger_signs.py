"""The signs of the ledger and of the queue: what each says of a step, told apart in words."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assessments.models import Attempt, Leeway, Step
from assessments.selectors.step_signs import StepSigns, step_signs
from assessments.services.answer import Save, save_answers
from studio.models import Ensemble, User
from tests import factories

pytestmark = pytest.mark.django_db


@dataclass
class Cast:
    """An ensemble with its leader and two players, signed in."""

    ensemble: Ensemble
    leader: User
    player: User
    other: User
    lead: Client
    play: Client

    def assigned(self, *kinds: str) -> dict[str, Step]:
        made = factories.make_assignment(self.ensemble, by=self.leader, kinds=kinds)
        return {step.kind: step for step in made.steps.select_related("assignment")}


@pytest.fixture
def cast() -> Cast:
    ensemble = factories.make_ensemble()
    leader = factories.make_instructor(ensemble, "Leo Leader")
    player, other = (factories.make_player(ensemble, name) for name in ("Pia Player", "Ola Other"))
    lead, play = Client(), Client()
    lead.force_login(leader)
    play.force_login(player)
    return Cast(ensemble, leader, player, other, lead, play)


def answered(attempt: Attempt) -> None:
    """One answer typed."""
    saves = [Save("function:0", "1", 1)]
    save_answers(attempt_id=attempt.pk, player_id=attempt.player_id, client=uuid.uuid4(), saves=saves)


def words(cast: Cast, *, own: bool = False) -> dict[str, str]:
    """Kind of step → sign, as the leader's ledger or the player's own page has it."""
    from assessments.templatetags.work import standing_sign

    if own:
        ((_, found, _),) = cast.play.get(reverse("work:my-tunes")).context["rows"]
    else:
        rows = cast.lead.get(reverse("work:ledger")).context["rows"]
        ((_, found),) = next(row for row in rows if row.player == cast.player).cells
    return {step.kind: standing_sign(step) for step in found.steps}


@pytest.mark.parametrize("own", [False, True])
def test_every_state_has_its_sign(cast: Cast, own: bool) -> None:
    steps = cast.assigned("function", "key-areas", "form", "sign-off")
    assert words(cast, own=own) == {
        "listening": "none", "form": "to-do", "function": "to-do", "key-areas": "to-do", "sign-off": "to-do",
    }  # fmt: skip
    Step.objects.filter(pk__in=[steps[kind].pk for kind in ("key-areas", "form", "sign-off")]).update(
        due=timezone.now() - timedelta(days=2)
    )
    for kind in ("function", "form"):
        steps[kind].refresh_from_db()
    written = factories.make_attempt(steps["function"], cast.player)
    assert words(cast, own=own)["function"] == "to-do"  # its page was opened, nothing is answered
    answered(written)
    factories.make_attempt(steps["form"], cast.player, hand_in=True)
    Leeway.objects.create(
        step=steps["sign-off"], player=cast.player, due=timezone.now() + timedelta(days=3), by=cast.leader
    )
    assert words(cast, own=own) == {
        "listening": "none", "form": "sent", "function": "begun", "key-areas": "late", "sign-off": "to-do",
    }  # fmt: skip
    page = cast.lead.get(reverse("work:ledger"))
    assert (page.context["late"], page.context["waiting"]) == (4, 1)  # three of the other player's are late as well
    assert "Key areas: was due" in page.text
    by_tune = cast.lead.get(reverse("work:ledger") + "?by=tune")
    assert "Key areas: was due" in by_tune.text


def test_the_queue_says_how_far_the_ensemble_is(cast: Cast) -> None:
    step = cast.assigned("function")["function"]
    factories.make_attempt(step, cast.player, hand_in=True)
    assert step_signs([step])[step.pk] == StepSigns((("sent", 1), ("to-do", 1)))
    Attempt.objects.update(status=Attempt.Status.REVIEWED)
    written = factories.make_attempt(step, cast.other)
    assert step_signs([step])[step.pk].words == "1 reviewed, 1 not begun"
    answered(written)
    (found,) = step_signs([step]).values()
    assert found.words == "1 reviewed, 1 being written"
    assert StepSigns((("sent", 25),)).signs == ()


def test_the_queue_lists_sheets_under_their_step(cast: Cast) -> None:
    steps = cast.assigned("function", "form")
    for kind in ("function", "form"):
        factories.make_attempt(steps[kind], cast.player, hand_in=True)
    factories.make_attempt(steps["function"], cast.other, hand_in=True)
    groups = cast.lead.get(reverse("work:queue")).context["groups"]
    assert [(group["step"].kind, len(group["rows"])) for group in groups] == [("function", 2), ("form", 1)]
