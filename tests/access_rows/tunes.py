"""Who gets which page of the repertoire."""

from __future__ import annotations

from typing import Any

from tests import factories
from tests.access import EDITORS, MEMBERS, SIGN_IN, Access, World, roles
from tunes.harmony.analysis.pipeline import Function
from tunes.harmony.pitch.spelling import Key
from tunes.services import charts as services
from tunes.services import overrules

EDITORS_POST = roles(SIGN_IN, players=403, former=403, instructors=302)
NAMES = roles(SIGN_IN, players=422, former=403, instructors=422)  # players propose, editors name
EDITORS_FORM = roles(SIGN_IN, players=403, former=403, instructors=422)  # an empty form comes back with what is missing


def build(world: World) -> None:
    tune = world["tune"] = factories.make_tune()
    revision = world["revision"] = factories.make_version(tune)
    world["version"] = revision.version
    world["recording"] = factories.make_recording(tune)
    by = world.people["instructor"]
    function = Function("1", "maj7", "tonic", "diatonic")
    world["label"] = overrules.overrule(
        revision=revision, event=0, key=Key.parse("Bb"), function=function, why="", by=by
    )
    world["area"] = overrules.overrule_area(revision=revision, first=0, last=1, key=Key.parse("Bb"), why="", by=by)
    world["idiom"] = factories.make_idiom()
    for person in world.people.values():
        services.keep_draft(user=person, tune=tune, version=revision.version, text="| C |", serial=0)
        services.keep_draft(user=person, tune=tune, version=None, text="| C |", serial=0)


def tune(world: World) -> dict[str, Any]:
    return {"pk": world["tune"].pk}


def recording(world: World) -> dict[str, Any]:
    return tune(world) | {"recording": world["recording"].pk}


def version(world: World) -> dict[str, Any]:
    return tune(world) | {"version": world["version"].pk}


def chord(world: World) -> dict[str, Any]:
    return {"revision": world["revision"].pk, "event": 1}


def idiom(world: World) -> dict[str, Any]:
    return {"pk": world["idiom"].pk}


ROWS = [
    Access("tunes:index", get=MEMBERS),
    Access("tunes:tune", tune, get=MEMBERS),
    Access("tunes:tune", lambda w: {"pk": 987654}, get=roles(SIGN_IN, others=404)),
    Access("tunes:tune_new", get=EDITORS, post=EDITORS_FORM),
    Access("tunes:tune_edit", tune, get=EDITORS, post=EDITORS_FORM),
    Access("tunes:tune_delete", tune, get=EDITORS, post=EDITORS_POST),
    Access("tunes:recording_new", tune, get=EDITORS, post=EDITORS_FORM),
    Access("tunes:recording_edit", recording, get=EDITORS, post=EDITORS_FORM),
    Access("tunes:recording_delete", recording, post=EDITORS_POST),
    Access("tunes:chart_new", tune, get=EDITORS, post=EDITORS_FORM),
    Access(
        "tunes:draft_new",
        tune,
        post=roles(SIGN_IN, players=403, former=403, instructors=200),
        data=lambda w: {"text": "| D |", "serial": "1"},
    ),
    Access("tunes:discard_new", tune, post=EDITORS_POST),
    Access("tunes:take_back_new", tune, post=roles(SIGN_IN, players=403, former=403, instructors=404)),
    Access("tunes:version", version, get=MEMBERS),
    Access("tunes:revision", lambda w: version(w) | {"number": 1}, get=MEMBERS),
    Access("tunes:chart_edit", version, get=EDITORS, post=EDITORS_FORM),
    Access(
        "tunes:draft",
        version,
        post=roles(SIGN_IN, players=403, former=403, instructors=200),
        data=lambda w: {"text": "| D |", "serial": "1"},
    ),
    Access("tunes:discard", version, post=EDITORS_POST),
    Access("tunes:take_back", version, post=roles(SIGN_IN, players=403, former=403, instructors=404)),
    Access("tunes:agree", version, post=EDITORS_POST),
    Access("tunes:event", chord, get=MEMBERS),
    Access("tunes:event", lambda w: chord(w) | {"event": 99}, get=roles(SIGN_IN, others=404)),
    Access("tunes:overrule", chord, post=EDITORS_FORM),
    Access("tunes:area", chord, get=MEMBERS),
    Access("tunes:overrule_area", chord, post=EDITORS_FORM),
    Access("tunes:withdraw_label", lambda w: {"pk": w["label"].pk}, post=EDITORS_POST),
    Access("tunes:restore_label", lambda w: {"pk": w["label"].pk}, post=EDITORS_POST),
    Access("tunes:restore_area", lambda w: {"pk": w["area"].pk}, post=EDITORS_POST),
    Access("tunes:withdraw_area", lambda w: {"pk": w["area"].pk}, post=EDITORS_POST),
    Access("tunes:idioms", get=MEMBERS),
    Access("tunes:idiom_new", get=EDITORS, post=EDITORS_FORM),
    Access("tunes:idiom", idiom, get=MEMBERS),
    Access("tunes:naming", lambda w: {"revision": w["revision"].pk}, get=MEMBERS, post=NAMES),
    Access("tunes:naming", lambda w: {"revision": w["revision"].pk}, get=MEMBERS, post=NAMES, query="?from=1&to=3"),
    Access("tunes:naming", lambda w: {"revision": 987654}, get=roles(SIGN_IN, others=404)),
    Access("tunes:idiom_edit", idiom, get=EDITORS, post=EDITORS_FORM),
    Access("tunes:idiom_delete", idiom, post=EDITORS_POST),
]
