"""Who gets which page of assignments, quizzes, review and the ledger.

Objects that belong to one player belong to `player` of `ensemble`. `instructor` leads it; the director
leads every ensemble. A foreign object answers 404, a page of another role 403.
"""

from __future__ import annotations

import datetime
import uuid
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from assessments.models import AcceptedAnswer, Leeway
from assessments.own_quiz import Wish
from assessments.selectors.old_keys import remarking
from assessments.services.hand_in import send, start_attempt
from assessments.services.objections import question_mark
from assessments.services.own_quiz import start as start_own
from assessments.services.plan import plan_tune
from assessments.services.readings import question_reading
from assessments.services.set_lists import add_tune, make_set_list
from assessments.services.sign_off import sign_off
from tests import factories
from tests.access import DIRECTOR, INSTRUCTORS, MEMBERS, SIGN_IN, Access, World, roles
from tunes.models import Solo, SoloRevision

WAV = b"RIFF\x24\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\x40\x1f\x00\x00\x80\x3e\x00\x00\x02\x00\x10\x00data\x00\x00\x00\x00"


def build(world: World) -> None:
    """An assignment with every kind of step, one attempt open, one handed in, one file, one sign-off."""
    kinds = ("function", "listening", "hand-in", "sign-off", "form")
    made = factories.make_assignment(world.ensemble, by=world.people["instructor"], kinds=kinds, release="by-hand")
    steps = {step.kind: step for step in made.steps.all()}
    player = world.people["player"]
    world |= {"assignment": made, "steps": steps}
    world["done"] = factories.make_attempt(steps["function"], player, answers={"function:0": "1"}, hand_in=True)
    world["accepted"] = AcceptedAnswer.objects.create(
        step=steps["function"],
        question="function:0",
        answer="the start",
        points=1,
        reason="Said so",
        by=made.created_by,
    )
    world["open"] = start_attempt(step=steps["function"], player=player)
    world["objection"] = question_mark(
        attempt=world["done"], question="function:0", about="mark", text="It rests there.", token=uuid.uuid4()
    )
    world["reading_question"] = question_reading(
        revision=factories.make_version(),
        event=0,
        read_as="C in bar 1, I in C",
        bar="bar 1",
        player=player,
        text="Rests.",
        token=uuid.uuid4(),
    )
    world["leeway"] = Leeway.objects.create(
        step=steps["form"], player=world.people["classmate"], excused=True, by=made.created_by
    )
    world["sent"] = send(
        step=steps["hand-in"],
        player=player,
        token=uuid.uuid4(),
        media_type="audio/wav",
        file=SimpleUploadedFile("take.wav", WAV, "audio/wav"),
    )
    world["file"] = world["sent"].submissions.get()
    world["own"] = start_own(player=player, wish=Wish("tune", "function", 0, tune=_free().version.tune_id), seed=1)
    _build_by_ear(world)
    _build_solo(world)
    _build_plan(world)
    world["set_list"] = make_set_list(
        ensemble=world.ensemble, on=datetime.date(2030, 5, 31), where="The foyer", by=world.people["instructor"]
    )
    for revision in (made.revision, world["by_ear_step"].assignment.revision):
        world["set_tune"] = add_tune(set_list=world["set_list"], revision=revision)
    world["signed"] = sign_off(
        step=steps["sign-off"], players=[player], by=world.people["instructor"], evidence="Played it"
    )[0]


def _free() -> Any:
    """A chart that no assignment asks for, so that a player may test themselves on it."""
    return factories.make_chart_revision("Free to be asked")


def _build_solo(world: World) -> None:
    """A solo to write out, handed in by the player."""
    player, revision = world.people["player"], factories.make_chart_revision("Written out")
    solo = Solo.objects.create(
        revision=revision, player="Invented", instrument="tenor-sax", last_bar=2, written_by=player
    )
    notes = {"version": 1, "notes": [{"bar": 1, "at": "0", "length": "1", "pitch": "A4"}]}
    kept = SoloRevision.objects.create(solo=solo, number=1, notes=notes, count=1, by=player)
    made = factories.make_assignment(
        world.ensemble, by=world.people["instructor"], kinds=("write-out",), revision=revision
    )
    world["solo_step"] = made.steps.get()
    world["solo_sent"] = send(step=world["solo_step"], player=player, token=uuid.uuid4(), solo=kept).submissions.get()
    mate = world.people["classmate"]
    other = Solo.objects.create(revision=revision, player="Invented", last_bar=2, written_by=mate)
    theirs = SoloRevision.objects.create(solo=other, number=1, notes=notes, count=1, by=mate)
    sent = send(step=world["solo_step"], player=mate, token=uuid.uuid4(), solo=theirs)
    world["solo_sent_too"] = sent.submissions.get()


def _build_plan(world: World) -> None:
    """Two tunes of which the ensemble is to play one after the other, and a progression with a name."""
    factories.make_idiom("homecoming")
    for title in ("Planned", "Planned after it"):
        world["planned"] = plan_tune(
            ensemble=world.ensemble,
            tune=factories.make_chart_revision(title).version.tune,
            known_by=None,
            by=world.people["instructor"],
        )


def _build_by_ear(world: World) -> None:
    """A tune of its own, its changes to be taken down by ear: one attempt open, one handed in, its answers out."""
    player = world.people["player"]
    revision = factories.make_chart_revision("Heard by ear")
    factories.make_recording(
        revision.version.tune, "The reference", is_reference=True, link="https://example.org/heard"
    )
    made = factories.make_assignment(
        world.ensemble, by=world.people["instructor"], kinds=("changes",), revision=revision
    )
    world["by_ear_step"] = made.steps.get()
    world["by_ear_done"] = factories.make_attempt(
        world["by_ear_step"], world.people["classmate"], answers={"changes:0": "Fmaj7"}, hand_in=True
    )
    world["by_ear_open"] = start_attempt(step=world["by_ear_step"], player=player)


def of(name: str) -> Any:
    return lambda w: {"pk": w[name].pk}


def step(kind: str) -> Any:
    return lambda w: {"pk": w["steps"][kind].pk}


PLAYS = roles(SIGN_IN, others=404, player=200, classmate=200)  # a page of the ensemble's players
BEGINS = roles(SIGN_IN, others=404, player=302, classmate=302)
OWN = roles(SIGN_IN, others=404, player=200)  # the player's own work, nobody else's
LED = roles(SIGN_IN, players=403, instructor=200, director=200, other_instructor=404)
ACTS = roles(SIGN_IN, players=403, instructor=302, director=302, other_instructor=404)


def outcome(w: World) -> dict[str, Any]:
    w["done"].refresh_from_db()
    return {"act": "accept", "version": w["done"].version}


def override(w: World) -> dict[str, Any]:
    return outcome(w) | {"question": "function:0", "points": "1", "reason": "Sound enough"}


def one_save(w: World) -> dict[str, Any]:
    return {"client": str(uuid.UUID(int=7)), "saves": [{"q": "function:0", "text": "2", "seq": 1, "base": 0}]}


def own_save(w: World) -> dict[str, Any]:
    return {"client": str(uuid.UUID(int=7)), "saves": [{"q": "0.function:0", "text": "2", "seq": 1, "base": 0}]}


def heard(w: World) -> dict[str, Any]:
    return {"client": str(uuid.UUID(int=8)), "saves": [{"q": "changes:0", "text": "Fmaj7", "seq": 1, "base": 0}]}


def editing(w: World) -> dict[str, Any]:
    a = w["assignment"]
    a.refresh_from_db()
    return {"title": "New title", "instructions": "", "attempts_allowed": 2, "release": "due", "version": a.version}


def assigning(w: World) -> dict[str, Any]:
    return {
        "tune": w["assignment"].tune_id,
        "ensemble": w.ensemble.pk,
        "revision": w["assignment"].revision_id,
        "title": "Another",
        "strictness": "quality",
        "alternatives": "part",
        "attempts_allowed": 1,
        "release": "due",
        "pitch_in": "written",
        "token": str(uuid.uuid4()),
        "step-function-on": "on",
    }


MINE = roles(SIGN_IN, others=404, player=302)  # acting on one's own work
MIX = {"source": "mix", "kind": "function", "minutes": "2"}

ROWS = [
    Access("work:desk", get=MEMBERS),
    Access("work:offline", get=MEMBERS),
    Access("work:test-me", get=MEMBERS, post=roles(SIGN_IN, others=302), data=lambda w: MIX),
    Access("work:own-quiz", of("own"), get=OWN),
    Access("work:own-save", of("own"), get=OWN, post=OWN, data=lambda w: own_save(w), content_type="application/json"),
    Access("work:desk-habit", post=roles(SIGN_IN, others=302), data=lambda w: {"minutes": "20"}),
    Access("work:every", get=MEMBERS),
    Access("work:progress", get=MEMBERS),
    Access(
        "work:melody",
        lambda w: {"tune": w["assignment"].tune_id},
        get=MEMBERS,
        post=roles(SIGN_IN, others=200),
        data=lambda w: {"notes-1-8": "C D E", "check": "1-8"},
    ),
    Access(
        "work:own-words",
        lambda w: {"tune": w["assignment"].tune_id},
        get=MEMBERS,
        post=roles(SIGN_IN, others=302),
        data=lambda w: {"act": "lines", "line-1": "She leaves and does not say why"},
    ),
    Access("work:own-hand-in", of("own"), post=MINE),
    Access("work:own-again", of("own"), post=MINE),
    Access("work:overview", get=INSTRUCTORS),
    *(
        Access(
            "work:plan",
            get=INSTRUCTORS,
            query=query,
            post=roles(SIGN_IN, players=403, instructors=302),
            data=lambda w: {"tune": "Planned", "known_by": "2030-05-31"},
        )
        for query in ("", "?show=progressions")
    ),
    Access("work:plan-change", of("planned"), post=ACTS, data=lambda w: {"act": "up"}),
    Access("work:my-tunes", get=MEMBERS),
    Access("work:marking-rules", get=MEMBERS),
    Access("work:echo", get=MEMBERS, query="?kind=function&q=5+of+2&home=F+major"),
    Access(
        "work:assignment",
        of("assignment"),
        get=roles(SIGN_IN, others=404, player=200, classmate=200, instructor=200, director=200),
    ),
    Access(
        "work:step",
        step("listening"),
        get=PLAYS,
        post=BEGINS,
        data=lambda w: {"heard": "The reference", "on": "2020-01-01", "token": str(uuid.uuid4())},
    ),
    Access(
        "work:step",
        step("hand-in"),
        get=PLAYS,
        post=BEGINS,
        data=lambda w: {"note": "Here it is", "token": str(uuid.uuid4())},
    ),
    Access("work:step", step("function"), get=PLAYS),
    Access("work:step", step("sign-off"), get=PLAYS),
    Access("work:start", step("form"), post=BEGINS),
    Access("work:attempt", of("open"), get=OWN),
    Access("work:attempt", of("done"), get=OWN),
    Access("work:heard", of("open"), get=OWN),
    Access("work:heard", of("done"), get=OWN),
    Access("work:save", of("open"), get=OWN, post=OWN, data=one_save, content_type="application/json"),
    Access("work:save", of("done"), get=OWN, post=OWN, data=one_save, content_type="application/json"),
    Access("work:hand-in", of("open"), post=roles(SIGN_IN, others=404, player=302)),
    Access("work:file", of("file"), get=roles(SIGN_IN, others=404, player=200, instructor=200, director=200)),
    Access(
        "work:solos-beside",
        lambda w: {"pk": w["solo_sent"].pk, "other": w["solo_sent_too"].pk},
        get=roles(SIGN_IN, others=404, instructor=200, director=200),
        post=roles(SIGN_IN, others=404, instructor=302, director=302),
    ),
    Access(
        "work:handed-solo", of("solo_sent"), get=roles(SIGN_IN, others=404, player=200, instructor=200, director=200)
    ),
    Access(
        "work:step",
        of("solo_step"),
        get=PLAYS,
        post=BEGINS,
        data=lambda w: {"note": "On paper", "token": str(uuid.uuid4())},
    ),
    Access("work:step", of("by_ear_step"), get=PLAYS),
    Access("work:start", of("by_ear_step"), post=BEGINS),
    Access("work:attempt", of("by_ear_open"), get=OWN),
    Access("work:save", of("by_ear_open"), get=OWN, post=OWN, data=heard, content_type="application/json"),
    Access("work:hand-in", of("by_ear_open"), post=roles(SIGN_IN, others=404, player=302)),
    Access("work:attempt", of("by_ear_done"), get=roles(SIGN_IN, others=404, classmate=200)),
    Access("work:heard", of("by_ear_done"), get=roles(SIGN_IN, others=404, classmate=200)),
    Access("work:sheet", of("by_ear_done"), get=LED),
    Access("work:sheet-heard", of("by_ear_done"), get=LED),
    Access("work:ensemble-sheet", of("by_ear_step"), get=LED),
    Access("work:echo", get=MEMBERS, query="?kind=changes&q=Dm7+G7&metre=4/4"),
    Access("work:ensemble", lambda w: {"pk": w.ensemble.pk}, get=LED),
    Access(
        "work:set-lists",
        lambda w: {"pk": w.ensemble.pk},
        get=LED,
        post=ACTS,
        data=lambda w: {"on": "2030-06-01"},
    ),
    Access(
        "work:set-list",
        of("set_list"),
        get=roles(SIGN_IN, others=404, player=200, classmate=200, instructor=200, director=200),
        post=roles(SIGN_IN, others=404, instructor=302, director=302),
        data=lambda w: {"act": "up", "row": w["set_tune"].pk},
    ),
    # The tune whose changes a player still takes down by ear has no chords on its card.
    Access(
        "work:set-cards",
        of("set_list"),
        get=roles(SIGN_IN, others=404, player=200, classmate=200, instructor=200, director=200),
    ),
    Access("work:set-packs", of("set_list"), post=ACTS),
    Access("work:gradebook", of("assignment"), get=LED),
    Access("work:gradebook-term", lambda w: {"pk": w.ensemble.pk}, get=LED),
    Access(
        "work:new-term",
        get=DIRECTOR,
        post=roles(SIGN_IN, others=403, director=302),
        data=lambda w: {
            "old": w.ensemble.term_id,
            "name": "The term after",
            "starts": "2030-01-01",
            "ends": "2030-05-01",
            "ensembles": [w.ensemble.pk],
            "act": "make",
        },
    ),
    Access("work:remind", of("assignment"), post=ACTS, data=lambda w: {"players": [w.people["classmate"].pk]}),
    Access("work:assignments", get=INSTRUCTORS),
    # A form that names an ensemble one does not lead is refused like any other wrong choice.
    Access(
        "work:assign",
        get=INSTRUCTORS,
        data=assigning,
        post=roles(SIGN_IN, players=403, instructor=302, director=302, other_instructor=422),
    ),
    Access("work:edit", of("assignment"), get=LED, post=ACTS, data=editing),
    Access(
        "work:leeway",
        of("assignment"),
        get=LED,
        post=ACTS,
        data=lambda w: {"leeway-player": w.people["classmate"].pk, "leeway-due": "2030-06-30"},
    ),
    Access("work:release", of("assignment"), post=roles(SIGN_IN, others=404, instructor=302, director=302)),
    Access(
        "work:close",
        of("assignment"),
        post=roles(SIGN_IN, others=404, instructor=302, director=302),
        data=lambda w: {"undo": "1"},
    ),
    Access("work:ensemble-sheet", step("function"), get=LED),
    Access(
        "work:mark-again",
        step("function"),
        get=LED,
        post=ACTS,
        data=lambda w: {"stamp": remarking(w["steps"]["function"]).stamp},
    ),
    Access(
        "work:accept-answer",
        step("function"),
        get=LED,
        query="?question=function:0&answer=1",
        post=ACTS,
        data=lambda w: {"question": "function:0", "answer": "1", "where": "same", "points": "1", "reason": "Heard so"},
    ),
    Access("work:accepted-back", of("accepted"), post=ACTS),
    Access(
        "work:sign-off",
        step("sign-off"),
        get=LED,
        post=ACTS,
        data=lambda w: {"players": [w.people["classmate"].pk], "evidence": "Two choruses"},
    ),
    Access("work:take-back", of("signed"), post=ACTS),
    # Marks that are not out cannot be questioned, by their player either.
    Access(
        "work:question",
        of("done"),
        post=roles(SIGN_IN, others=404),
        data=lambda w: {"question": "function:1", "about": "mark", "text": "Why?", "token": str(uuid.uuid4())},
    ),
    Access(
        "work:question",
        of("by_ear_done"),
        post=roles(SIGN_IN, others=404, classmate=302),
        data=lambda w: {"question": "changes:0", "about": "mark", "text": "Why?", "token": str(uuid.uuid4())},
    ),
    Access(
        "work:objection",
        of("objection"),
        get=LED,
        post=ACTS,
        data=lambda w: {"outcome": "kept", "answer": "It goes on to the next bar."},
    ),
    Access(
        "work:reading-question",
        lambda w: {"revision": w["reading_question"].revision_id, "event": 1},
        get=MEMBERS,
        post=roles(SIGN_IN, others=302),
        data=lambda w: {"text": "It rests there.", "token": str(uuid.uuid4())},
    ),
    Access(
        "work:reading-answer",
        of("reading_question"),
        get=LED,
        post=ACTS,
        data=lambda w: {"outcome": "kept", "answer": "It goes on to the next bar."},
    ),
    Access("work:queue", get=INSTRUCTORS),
    Access("work:queue", get=INSTRUCTORS, query="?state=questions"),
    Access("work:queue", get=INSTRUCTORS, query="?state=missing"),
    # Foreign ids among the ticked ones are simply not there.
    Access(
        "work:accept-many",
        post=roles(SIGN_IN, players=403, instructors=302),
        data=lambda w: {"attempts": [w["done"].pk]},
    ),
    Access("work:sheet", of("done"), get=LED),
    Access("work:sheet", of("open"), get=roles(SIGN_IN, players=403, instructors=404)),
    Access("work:sheet", of("sent"), get=LED),
    Access("work:comment", of("done"), post=ACTS, data=lambda w: {"text": "Listen again", "token": str(uuid.uuid4())}),
    Access("work:mark", of("done"), post=ACTS, data=override),
    Access("work:outcome", of("done"), post=ACTS, data=outcome),
    Access("work:ledger", get=roles(SIGN_IN, players=302, instructors=200)),
    Access("work:ledger-csv", get=INSTRUCTORS),
    Access("work:known", get=INSTRUCTORS),
    Access(
        "work:requirements",
        get=DIRECTOR,
        post=roles(SIGN_IN, others=403, director=302),
        data=lambda w: {"function-on": "on", "function-pass_mark": "70"},
    ),
    Access("work:player", lambda w: {"pk": w.people["player"].pk}, get=LED),
    Access("work:evidence", lambda w: {"pk": w.people["player"].pk, "tune": w["assignment"].tune_id}, get=LED),
]
