"""Who hears which take, and who says what about it."""

from __future__ import annotations

import uuid
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from assessments.services.hand_in import send
from drills.takes import services
from drills.takes.making import plan_named
from drills.takes.played import Spot
from drills.takes.services import Circumstances, looked_at
from tests import factories
from tests.access import DIRECTOR, INSTRUCTORS, MEMBERS, SIGN_IN, Access, World, roles
from tests.sounds import tone

GIVEN = roles(SIGN_IN, others=404, player=200, instructor=200, director=200)
OWN = roles(SIGN_IN, others=404, player=200)
LEADS = roles(SIGN_IN, others=404, player=403, instructor=302, director=302)
PLAYS = roles(SIGN_IN, others=404, player=302, instructor=403, director=403)


def make_take(
    player: Any, revision: Any, *, kind: str = "chorus", query: str = "", ensemble: Any = None, **about: Any
) -> Any:
    """A take of two seconds of a tone."""
    tempo = about.pop("tempo", 240)
    plan = plan_named(player, kind=kind, revision=revision.pk, line=None, query=query, tempo=tempo)
    take = services.keep_take(
        player=player,
        plan=plan,
        heard=looked_at(SimpleUploadedFile("x", tone())),
        about=Circumstances(tempo=tempo, starts_at=0.5, **about),
        token=uuid.uuid4(),
    )
    if ensemble is not None:
        services.give(take=take, ensemble=ensemble)
    return take


def build(world: World) -> None:
    revision = factories.make_version(factories.make_tune("Tune of takes"))
    player, instructor = world.people["player"], world.people["instructor"]
    take = world["take"] = make_take(player, revision, ensemble=world.ensemble)
    world["own_take"] = make_take(player, revision, kind="drill", query="kind=guide-tones")
    spoken = looked_at(SimpleUploadedFile("x", tone(1.0)))
    world["take_comment"] = services.comment(
        take=take, by=instructor, spot=Spot(1, 2, 1.5), token=uuid.uuid4(), text="Lean on the 3rd", spoken=spoken
    )

    step = factories.make_assignment(world.ensemble, by=instructor, kinds=("hand-in",), revision=revision).steps.get()
    world["take_sheet"] = send(step=step, player=player, token=uuid.uuid4(), take=take)
    world["take_step"] = step


def grow(world: World, players: Any) -> None:
    """Each gave a take and has one of their own."""
    revision = world["take"].revision
    from drills.models import Take

    kept = world["take"]
    Take.objects.bulk_create(
        Take(
            player=player, ensemble=ensemble, kind="chorus", revision=revision, title="Solo", tempo=120, starts_at=1,
            played=kept.played, media_type="audio/wav", size=1000, duration=2, digest="0" * 64, token=uuid.uuid4(),
        )
        for player in players
        for ensemble in (world.ensemble, None)
    )  # fmt: skip


def take(world: World) -> dict[str, object]:
    return {"pk": world["take"].pk}


def own(world: World) -> dict[str, object]:
    return {"pk": world["own_take"].pk}


def said(world: World) -> dict[str, object]:
    return {"pk": world["take_comment"].pk}


def spot(world: World) -> dict[str, Any]:
    return {"chorus": 1, "bar": 1, "beat": "2", "text": "Later", "token": str(uuid.uuid4())}


HEARD = roles(401, others=404, player=200, instructor=200, director=200)


def _call(route: str, kwargs: Any = None, *, content_type: str = "application/json", **more: Any) -> Access:
    """A call with a token."""
    named = {"kwargs": kwargs} if kwargs else {}
    return Access(f"api:{route}", content_type=content_type, token=True, **named, **more)


ROWS = [
    Access("drills:takes", get=MEMBERS),
    Access("drills:take-new", post=roles(SIGN_IN, others=422), data=lambda w: {"kind": "chorus"}),
    Access("drills:recorder", lambda w: {"revision": w["take"].revision_id}, get=MEMBERS),
    Access("drills:take", take, get=GIVEN),
    Access("drills:take", own, get=OWN),
    Access("drills:take-sound", take, get=GIVEN),
    Access("drills:take-sound", own, get=OWN),
    # 204: not drawn yet
    Access("drills:take-wave", take, get=roles(SIGN_IN, others=404, player=204, instructor=204, director=204)),
    Access("drills:take-wave", own, get=roles(SIGN_IN, others=404, player=204)),
    Access("drills:take-spoken", said, get=GIVEN),
    Access("drills:take-comment", take, post=LEADS, data=spot),
    Access("drills:take-comment", own, post=roles(SIGN_IN, others=404, player=403), data=spot),
    Access("drills:take-whole", take, post=roles(SIGN_IN, players=403, others=404, instructor=302, director=302)),
    Access("drills:take-answer", said, post=PLAYS, data=lambda w: {"text": "I will"}),
    Access("drills:take-comment-back", said, post=roles(SIGN_IN, others=404, player=403, director=403, instructor=302)),
    Access("drills:take-delete", own, post=roles(SIGN_IN, others=404, player=302)),
    Access("drills:take-delete", take, post=roles(SIGN_IN, others=404, player=302, instructor=403, director=403)),
    Access(
        "drills:quick-words",
        get=INSTRUCTORS,
        post=roles(SIGN_IN, players=403, instructors=302),
        data=lambda w: {"words": "time"},
    ),
    Access(
        "drills:take-rule", get=DIRECTOR, post=roles(SIGN_IN, others=403, director=302), data=lambda w: {"months": 6}
    ),
    _call("takes", get=roles(401, others=200), post=roles(401, others=400), content_type=""),
    _call("take", take, get=HEARD, delete=roles(401, others=404, player=204, instructor=403, director=403)),
    _call("take", own, get=roles(401, others=404, player=200), delete=roles(401, others=404, player=204)),
    _call("take-sound", take, get=HEARD),
    _call(
        "take-comments",
        take,
        get=HEARD,
        post=roles(401, others=404, player=403, instructor=201, director=201),
        data=spot,
    ),
    _call(
        "take-answer",
        said,
        put=roles(401, others=404, player=200, instructor=403, director=403),
        data=lambda w: {"answer": "I will"},
    ),
    _call("take-comment", said, delete=roles(401, others=404, player=403, director=403, instructor=204)),
]
