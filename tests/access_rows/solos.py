"""Who gets what of the solos written out: their writer, the ensemble that a solo is shared with, nobody else.

Built after `recordings` (by name), on a tune of its own.
"""

from __future__ import annotations

import json
from typing import Any

from drills.kept_lines import line_of
from drills.services.lines import keep_line
from drills.vocabulary import VocabularyIndex
from tests import factories
from tests.access import MEMBERS, SIGN_IN, Access, World, roles
from tests.access_rows.api import ALL, MEMBERS_OF, call
from tests.access_rows.api import MINE as MINE_CALLED
from tunes.models import Solo
from tunes.solos import services, taken
from tunes.solos.bars import Covers
from tunes.solos.notes import read_notes
from tunes.study import study_chart

MINE = roles(SIGN_IN, others=404, player=200)
MINE_GOES_ON = roles(SIGN_IN, others=404, player=302)
MINE_AGAIN = roles(SIGN_IN, others=404, player=422)
SHARED = roles(SIGN_IN, others=404, player=200, classmate=200, instructor=200, director=200)
NOTES = {"version": 1, "notes": [
    {"bar": 1, "at": "0", "length": "1/2", "pitch": "Eb4"}, {"bar": 1, "at": "1/2", "length": "1/2", "pitch": "F4"},
    {"bar": 1, "at": "1", "length": "1", "pitch": "Bb4", "tie": True}, {"bar": 1, "at": "2", "length": "2", "pitch": "Bb4"},
    {"bar": 2, "at": "0", "length": "1/3", "pitch": "A4", "tuplet": [3, 2]},
    {"bar": 2, "at": "1/3", "length": "1/3", "pitch": "Bb4", "tuplet": [3, 2]},
    {"bar": 2, "at": "2/3", "length": "1/3", "pitch": "D5", "tuplet": [3, 2], "ghost": True}, {"bar": 2, "at": "1", "length": "1"},
]}  # fmt: skip


def make_solo(world: World, tune: Any, revision: Any, *, shared: bool) -> Solo:
    player = world.people["player"]
    solo = services.begin(
        by=player, revision=revision, recording=factories.make_recording(tune), player="Ada Invented", instrument="trumpet",
        covers=Covers(1, 1, 1, 4), bars=4,
    )  # fmt: skip
    services.keep(solo=solo, bars=read_notes(NOTES, 4), by=player)
    if shared:
        services.share(solo=solo, ensemble=world.ensemble, url=f"/tunes/solos/{solo.pk}/")
    return solo


def build(world: World) -> None:
    tune = world["solo_tune"] = factories.make_tune("A tune played over")
    revision = world["solo_revision"] = factories.make_version(tune, name="as played")
    world["solo"] = make_solo(world, tune, revision, shared=True)
    services.ask(solo=world["solo"], bars={1}, by=world.people["instructor"])
    world["solo_ask"] = world["solo"].asks.get()
    world["own_solo"] = make_solo(world, tune, revision, shared=False)
    cut_from = make_solo(world, tune, revision, shared=True)
    world["word"] = services.say(
        solo=cut_from, by=world.people["player"], kind="role", first="0", last="0", role="passing"
    )
    world["taken"] = taken.take(user=world.people["player"], solo=cut_from, what="notes 0-2", words="A4", notes=[])
    world["line"] = keep_line(solo=cut_from, first=0, last=2, by=world.people["player"])


def tune(world: World) -> dict[str, Any]:
    return {"tune": world["solo_tune"].pk}


def solo(world: World) -> dict[str, Any]:
    return {"pk": world["solo"].pk}


def own(world: World) -> dict[str, Any]:
    return {"pk": world["own_solo"].pk}


def at_home(world: World) -> dict[str, Any]:
    """The place that the line was cut from."""
    revision = world["solo_revision"]
    study = study_chart(revision)
    index: VocabularyIndex[int] = VocabularyIndex()
    index.add(revision.pk, study.chart, study.analysis)
    _, place = index.find(line_of(world["line"]))[0]
    return {"pk": world["line"].pk, "revision": revision.pk, "event": place.first}


def sent(world: World) -> dict[str, Any]:
    return {"notes": json.dumps(NOTES), "serial": 0, "client": "a window", "over": "on"}


def begun(world: World) -> dict[str, Any]:
    return {
        "revision": world["solo_revision"].pk,
        "player": "Ada",
        "first_chorus": 1,
        "first_bar": 1,
        "last_chorus": 2,
        "last_bar": 4,
    }


ROWS = [
    Access("tunes:solos", tune, get=MEMBERS),
    Access("tunes:solos", lambda w: {"tune": 987654}, get=roles(SIGN_IN, others=404)),
    Access("tunes:solo-new", tune, get=MEMBERS, post=roles(SIGN_IN, others=302), data=begun),
    Access("tunes:solo-new", tune, get=MEMBERS, post=roles(SIGN_IN, others=422)),
    Access("tunes:solo", solo, get=SHARED),
    Access("tunes:solo", own, get=MINE),
    Access("tunes:solo-write", solo, get=MINE),
    Access("tunes:solo-file", solo, get=MINE, post=MINE_AGAIN),
    Access("tunes:solo-draft", solo, post=MINE, data=sent),
    Access("tunes:solo-draft", solo, post=MINE_AGAIN, data=lambda w: {"notes": "{"}),
    Access("tunes:solo-keep", solo, post=MINE, data=sent),
    Access("tunes:solo-head", own, get=MINE, post=MINE_AGAIN),
    Access("tunes:solo-head", own, get=MINE, post=MINE_GOES_ON, data=lambda w: begun(w) | {"last_chorus": 1}),
    Access("tunes:solo-placed", own, post=MINE_AGAIN, data=lambda w: {"onsets": '[{"at": 1}]'}),
    Access("tunes:solo-share", own, post=MINE_GOES_ON),
    Access(
        "tunes:solo-say",
        solo,
        post=roles(SIGN_IN, others=404, player=302, classmate=403, instructor=302, director=302),
        data=lambda w: {"kind": "role", "first": "1/2", "last": "1/2", "role": "passing"},
    ),
    Access(
        "tunes:solo-take",
        own,
        post=MINE_GOES_ON,
        data=lambda w: {"first": "0", "last": "3"},
    ),
    Access(
        "tunes:solo-take",
        solo,
        post=roles(SIGN_IN, others=404, player=404, classmate=404, instructor=404, director=404),
        data=lambda w: {"back": "987654"},
    ),
    Access(
        "tunes:solo-ask",
        solo,
        post=roles(SIGN_IN, others=404, player=302, classmate=403, instructor=302, director=302),
        data=lambda w: {"bars": "2"},
    ),
    Access(
        "tunes:solo-answer",
        lambda w: {"pk": w["solo_ask"].pk},
        data=lambda w: {"role": "passing"},
        post=roles(SIGN_IN, others=404, player=302, classmate=302, instructor=302, director=302),
    ),
    Access("drills:solo-file", lambda w: {**solo(w), "form": "pdf"}, get=SHARED),
    Access("drills:solo-file", lambda w: {**solo(w), "form": "midi"}, get=SHARED, query="?under=degrees"),
    Access("drills:solo-file", lambda w: {**own(w), "form": "musicxml"}, get=MINE),
    Access("drills:solo-file", lambda w: {**own(w), "form": "doc"}, get=roles(SIGN_IN, others=404)),
    Access(
        "drills:solo-beside",
        lambda w: {"pk": w["solo"].pk, "other": w["line"].solo_id},
        get=roles(SIGN_IN, others=404, player=302, classmate=302, instructor=302, director=302),
        post=roles(SIGN_IN, others=404, player=302, classmate=302, instructor=302, director=302),
    ),
    Access("drills:lines", get=MEMBERS),
    Access("drills:line", lambda w: {"pk": w["line"].pk}, get=SHARED),
    Access("drills:line", lambda w: {"pk": w["line"].pk}, get=SHARED, query="?for=alto-sax&key=3"),
    Access("drills:line-place", at_home, get=SHARED),
    Access("drills:line-place", lambda w: {**at_home(w), "event": 9999}, get=roles(SIGN_IN, others=404)),
    Access(
        "drills:line-cut",
        lambda w: {"solo": w["line"].solo_id},
        post=roles(SIGN_IN, others=404, player=302, classmate=302, instructor=302, director=302),
        data=lambda w: {"first": "0", "last": "2"},
    ),
    Access("drills:lines", get=MEMBERS, query="?degrees=3+b9&contour=up&played=60+64&functions=x"),
    Access("drills:line-paper", lambda w: {"pk": w["line"].pk}, get=SHARED, query="?for=tuba"),
    Access("drills:line-through", lambda w: {"pk": w["line"].pk, "revision": w["solo_revision"].pk}, get=SHARED),
    Access(
        "drills:line-practised",
        lambda w: {"pk": w["line"].pk},
        post=roles(SIGN_IN, others=404, player=302, classmate=302, instructor=302, director=302),
        data=lambda w: {"tempo": 90, "went": "steady", "token": "6a3f3c39-4f0a-44a5-8a53-5cf2d0a6a1a1"},
    ),
    Access(
        "drills:line-heard",
        lambda w: {"pk": w["line"].pk},
        get=roles(SIGN_IN, others=404, player=403, classmate=403, instructor=200, director=200),
        post=roles(SIGN_IN, others=404, player=403, classmate=403, instructor=302, director=302),
        data=lambda w: {"player": w.people["player"].pk, "tonic": "3", "tempo": 90},
    ),
    Access(
        "drills:line-pack",
        lambda w: {"pk": w["line"].pk},
        post=roles(SIGN_IN, others=404, player=403, classmate=403, instructor=302, director=302),
    ),
    Access(
        "drills:line-name",
        lambda w: {"pk": w["line"].pk},
        post=roles(SIGN_IN, others=404, player=302, classmate=403, instructor=302, director=302),
        data=lambda w: {"name": "The turn home"},
    ),
    Access("tunes:solo-remove", own, get=MINE, post=MINE_GOES_ON),
    call("solos", lambda w: {"pk": w["solo_tune"].pk}, get=ALL, post=roles(401, others=201), data=begun),
    call(
        "solo",
        solo,
        get=MEMBERS_OF,
        patch=MINE_CALLED,
        delete=roles(401, others=404, player=204),
        data=lambda w: {"shared_with": None},
    ),
    call(
        "solo",
        own,
        get=MINE_CALLED,
        patch=MINE_CALLED,
        delete=roles(401, others=404, player=204),
        data=lambda w: {"shared_with": None},
    ),
    call("solo-notes", solo, get=MEMBERS_OF, post=roles(401, others=404, player=201), data=lambda w: NOTES),
    call("solo-placed", own, post=roles(401, others=404, player=422), data=lambda w: {"onsets": [{"at": 1.5}]}),
    call("lines", get=ALL, query="?degrees=3+b9"),
    call("solo-reading", solo, get=MEMBERS_OF),
    call(
        "solo-words",
        solo,
        get=MEMBERS_OF,
        post=roles(401, others=404, player=201, classmate=403, instructor=201, director=201),
        data=lambda w: {"kind": "role", "first": "1/2", "last": "1/2", "role": "passing"},
    ),
    call(
        "solo-words",
        own,
        get=MINE_CALLED,
        post=roles(401, others=404, player=422),
        data=lambda w: {"kind": "name", "first": "0", "last": "1"},
    ),
    call("solo-word", lambda w: {"pk": w["word"].pk}, delete=roles(401, others=404, player=204)),
    call(
        "solo-asks",
        solo,
        get=MEMBERS_OF,
        put=roles(401, others=404, player=200, classmate=403, instructor=200, director=200),
        data=lambda w: {"bars": [2]},
    ),
    call(
        "solo-practice",
        own,
        get=MINE_CALLED,
        post=roles(401, others=404, player=201),
        data=lambda w: {"first": 0, "last": 5},
    ),
    call(
        "solo-practice",
        solo,
        get=MEMBERS_OF,
        post=roles(401, others=404, player=422, classmate=422, instructor=422, director=422),
        data=lambda w: {"habit": "none of it"},
    ),
    call("practice", lambda w: {"pk": w["taken"].pk}, delete=roles(401, others=404, player=204)),
    call(
        "solo-lines",
        solo,
        post=roles(401, others=404, player=409, classmate=409, instructor=201, director=201),
        data=lambda w: {"first": 0, "last": 2},
    ),
    call(
        "solo-lines",
        lambda w: {"pk": w["line"].solo_id},
        post=roles(401, others=404, player=201, classmate=201, instructor=201, director=201),
        data=lambda w: {"first": 0, "last": 2, "name": "Home"},
    ),
    call(
        "line",
        lambda w: {"pk": w["line"].pk},
        get=MEMBERS_OF,
        delete=roles(401, others=404, player=204, classmate=403, instructor=204, director=204),
        patch=roles(401, others=404, player=200, classmate=403, instructor=200, director=200),
        data=lambda w: {"name": "Home"},
    ),
    call(
        "line-keys",
        lambda w: {"pk": w["line"].pk},
        get=MEMBERS_OF,
        post=roles(401, others=404, player=201, classmate=201, instructor=201, director=201),
        data=lambda w: {"tonic": 3, "tempo": 90, "went": "steady"},
    ),
    call(
        "line-heard",
        lambda w: {"pk": w["line"].pk},
        post=roles(401, others=404, player=403, classmate=403, instructor=201, director=201),
        data=lambda w: {"player": w.people["player"].pk, "tonic": 3, "tempo": 90},
    ),
    call("line-places", lambda w: {"pk": w["line"].pk}, get=MEMBERS_OF),
]
