"""Who sees what the machine heard of a take, and who contests it."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from drills.advice.models import TakeAdvice
from drills.hearing.result import Advice, NoteAdvice
from tests import factories
from tests.access import SIGN_IN, Access, World, roles
from tests.access_rows.takes import make_take

GIVEN = roles(SIGN_IN, others=404, player=200, instructor=200, director=200)
PLAYERS = roles(SIGN_IN, others=404, player=302, instructor=403, director=403)


def keep(take: Any, data: dict[str, Any]) -> None:
    """Advice instead of what a worker may have heard already."""
    TakeAdvice.objects.update_or_create(
        take=take, defaults={"state": "heard", "data": data, "reason": "", "heard": timezone.now()}
    )


def build(world: World) -> None:
    revision = factories.make_version(factories.make_tune("Tune of advice"))
    player = world.people["player"]
    take = world["heard_take"] = make_take(
        player, revision, kind="drill", query="kind=guide-tones", ensemble=world.ensemble
    )
    said = Advice("heard", tempo=240, notes=(NoteAdvice(0, 1, 0, "another", "F", 65, second=0.5), NoteAdvice(1, 1, 0, "as-written", timing="late", off_ms=130, cents=-31, second=1.0)))  # fmt: skip
    keep(take, said.to_json())
    solo = world["heard_solo"] = make_take(player, revision, ensemble=world.ensemble)
    rows = [[0.5, 0.2, 65, 3, 0.95, True], [0.75, 0.2, 67, 3, 0.6, False]]
    keep(solo, {"version": 1, "solo": rows})


def heard(world: World) -> dict[str, object]:
    return {"pk": world["heard_take"].pk}


def solo(world: World) -> dict[str, object]:
    return {"pk": world["heard_solo"].pk}


ROWS = [
    Access("drills:take", heard, get=GIVEN),
    Access("drills:take", solo, get=GIVEN),
    Access("drills:take-advice", heard, get=GIVEN),
    Access("drills:take-contest", heard, post=PLAYERS, data=lambda w: {"note": "1:0"}),
    Access(
        "drills:take-advice-again", heard, post=roles(SIGN_IN, others=404, player=302, instructor=302, director=302)
    ),
    Access("drills:take-write-down", solo, post=PLAYERS),
]
