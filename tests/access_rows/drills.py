"""Who gets which page of the drills."""

from __future__ import annotations

import uuid

from drills.services import packs
from drills.wishes import Wish
from tests import factories
from tests.access import INSTRUCTORS, MEMBERS, SIGN_IN, Access, World, roles

OWN_PACK = roles(SIGN_IN, others=404, player=200, classmate=200, instructor=200, director=200)
LEADS_PACK = roles(SIGN_IN, players=403, instructor=302, other_instructor=404, director=302)


def build(world: World) -> None:
    revision = world["drill_revision"] = factories.make_version(factories.make_tune("Drilled tune"))
    pack = packs.make_pack(
        ensemble=world.ensemble,
        revision=revision,
        wishes=[Wish(functions=True)],
        with_chart=True,
        by=world.people["instructor"],
    )
    packs.share(pack)
    world["pack"] = pack


def revision(world: World) -> dict[str, object]:
    return {"revision": world["drill_revision"].pk}


def pack(world: World) -> dict[str, object]:
    return {"pk": world["pack"].pk}


ROWS = [
    Access("drills:index", get=MEMBERS),
    Access(
        "drills:practice", get=MEMBERS, post=roles(SIGN_IN, others=302), data=lambda w: {"rest_every": 30, "session": 4}
    ),
    Access("drills:drill", revision, get=MEMBERS),
    Access("drills:drill", revision, get=MEMBERS, query="?functions=1"),
    Access(
        "drills:practised",
        revision,
        post=roles(SIGN_IN, others=302),
        data=lambda w: {"tempo": 90, "went": "steady", "token": str(uuid.uuid4())},
    ),
    Access("drills:download", lambda w: {**revision(w), "form": "musicxml"}, get=MEMBERS),
    Access("drills:download", lambda w: {**revision(w), "form": "pdf"}, get=MEMBERS, query="?functions=1"),
    Access("drills:band", revision, get=MEMBERS),
    Access("drills:band_chorus", revision, get=MEMBERS, query="?style=four&seed=1&key=Bb"),
    Access("drills:band_download", lambda w: {**revision(w), "form": "midi"}, get=MEMBERS),
    Access("drills:band_download", lambda w: {**revision(w), "form": "pdf"}, get=MEMBERS, query="?part=piano"),
    Access(
        "drills:other_band", revision, get=MEMBERS, post=roles(SIGN_IN, others=422), data=lambda w: {"sheet": "old"}
    ),
    Access("drills:keyboard", revision, get=MEMBERS, post=roles(SIGN_IN, others=422), data=lambda w: {"played": "old"}),
    Access("drills:keyboard_judge", revision, get=MEMBERS, query="?event=0&notes=50,53,60"),
    Access("drills:other_band_chorus", revision, get=roles(SIGN_IN, others=422), query="?sheet=old&number=1"),
    Access("drills:other_band_again", revision, get=roles(SIGN_IN, others=422), query="?shown=old&bar=1"),
    Access("drills:other_band_echo", revision, get=MEMBERS, query="?bar=1&text=Dm7+G7"),
    Access("drills:packs", get=MEMBERS),
    Access(
        "drills:pack_new",
        revision,
        get=INSTRUCTORS,
        # The ensemble of another instructor is no choice in the form.
        post=roles(SIGN_IN, players=403, instructor=302, other_instructor=422, director=302),
        data=lambda w: {"ensemble": w.ensemble.pk, "with_chart": "on", "drills": ["guide-3"]},
    ),
    Access("drills:pack", pack, get=OWN_PACK),
    Access("drills:pack_part", lambda w: {**pack(w), "instrument": "tenor-sax"}, get=OWN_PACK),
    Access(
        "drills:pack_whole",
        pack,
        get=roles(SIGN_IN, players=403, instructor=200, director=200, other_instructor=404),
    ),
    Access("drills:pack_again", pack, post=LEADS_PACK),
    Access("drills:pack_share", pack, post=LEADS_PACK),
]
