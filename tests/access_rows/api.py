"""Who gets what over the REST interface, each role with a token that has every scope.

Objects are those of the pages' tables (`tests.access_rows.assessments`) and a chart of its own.
"""

from __future__ import annotations

import uuid
from fractions import Fraction
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from api.campus.calendar import make_feed
from api.models import Feed, Token
from api.scopes import SCOPE_IDS
from api.tokens import make_token
from assessments.selectors.old_keys import remarking
from tests import factories
from tests.access import MEMBERS, SIGN_IN, Access, World, roles
from tests.access_rows.recordings import tiny_wav
from tunes.harmony.pitch.spelling import Key, Pitch
from tunes.interchange import Extras, MelodyNote, write_musicxml
from tunes.interchange import Melody as NotedMelody
from tunes.models import LabelOverride
from tunes.services.overrules import overrule_area
from tunes.study import study_chart

JSON = "application/json"
MULTIPART = ("lead-sheets", "melodies", "sound")  # calls that take a file


def build(world: World) -> None:
    world["tokens"] = {}
    for role, person in world.people.items():
        token, key = make_token(owner=person, name="all", scopes=sorted(SCOPE_IDS), days=1)
        Token.objects.filter(pk=token.pk).update(used=timezone.now())  # the first call of a day is written in the log
        world["tokens"][role] = {"Authorization": f"Bearer {key}"}
        world["api_token"] = token if role == "player" else world.get("api_token")
    world["api_feed_key"] = make_feed(owner=world.people["player"], ensemble=None)
    world["api_feed"] = Feed.objects.get()
    revision = factories.make_version()
    world["api_revision"], world["api_version"], world["api_tune"] = revision, revision.version, revision.version.tune
    world["api_recording"] = factories.make_recording(revision.version.tune)
    director = world.people["director"]
    world["api_overrule"] = LabelOverride.objects.create(
        revision=revision, event=0, key="Bb major", by=director, function=revision.analysis["readings"][0]["function"]
    )
    world["api_idiom"] = factories.make_idiom("two five one, by api")
    world["api_area"] = overrule_area(revision=revision, first=0, last=1, key=Key.parse("F major"), why="", by=director)


def of(name: str) -> Any:
    return lambda w: {"pk": w[name].pk}


def step(kind: str) -> Any:
    return lambda w: {"pk": w["steps"][kind].pk}


def call(route: str, kwargs: Any = None, *, data: Any = None, query: str = "", **methods: Any) -> Access:
    """A row for one call: JSON body, the role's own token."""
    more = {"kwargs": kwargs} if kwargs else {}
    sent = "" if route in MULTIPART else JSON
    return Access(
        f"api:{route}", data=data or (lambda w: {}), content_type=sent, query=query, token=True, **more, **methods
    )


def chair_of(w: World) -> int:
    return int(w.ensemble.memberships.get(user=w.people["classmate"]).pk)


ALL = roles(401, others=200)
MINE = roles(401, others=404, player=200)
SEATED = roles(401, others=404, player=200, classmate=200)
MEMBERS_OF = roles(401, others=404, player=200, classmate=200, instructor=200, director=200)
LEADS = roles(401, others=404, instructor=200, director=200)
LEADS_MADE = roles(401, others=404, instructor=201, director=201)
LEADS_GONE = roles(401, others=404, instructor=204, director=204)
REVIEWS = roles(401, others=404, player=200, instructor=200, director=200)
EDITS = roles(401, players=403, former=403, instructors=200)
ADDS = roles(401, players=403, former=403, instructors=201)
REMOVES = roles(401, players=403, former=403, instructors=204)
TEXT = {"text": factories.TWO_FIVE_ONE}


def a_file(name: str, content: bytes) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content)


def lead_sheet(w: World) -> bytes:
    study = study_chart(w["heard_revision"])
    return write_musicxml(study.chart, Extras("Written out"))


def a_melody(w: World) -> dict[str, Any]:
    """The chart of a version with one note in it."""
    notes = NotedMelody((MelodyNote(0, Fraction(0), Fraction(1), Pitch.parse("Bb4")),))
    content = write_musicxml(study_chart(w["heard_revision"]).chart, Extras("Sung", melody=notes))
    return {
        "version": w["heard_revision"].version_id,
        "rights": "Written by our own class",
        "allowed": "true",
        "file": a_file("melody.musicxml", content),
    }


def decision(w: World) -> dict[str, Any]:
    w["done"].refresh_from_db()
    return {"version": w["done"].version, "decision": "accept"}


def override(w: World) -> dict[str, Any]:
    w["done"].refresh_from_db()
    return {"version": w["done"].version, "question": "function:0", "points": 0.5, "reason": "Sound enough"}


def assignment(w: World) -> dict[str, Any]:
    return {"ensemble": w.ensemble.pk, "revision": w["api_revision"].pk, "title": "By API", "steps": [{"kind": "form"}]}


def change(w: World) -> dict[str, Any]:
    w["assignment"].refresh_from_db()
    return {"version": w["assignment"].version, "title": "Renamed"}


def answers(w: World) -> dict[str, Any]:
    return {"client": str(uuid.uuid4()), "saves": [{"question": "function:0", "text": "1", "sequence": 1}]}


def remarked(w: World) -> dict[str, Any]:
    return {"stamp": remarking(w["steps"]["function"]).stamp}


ROWS = [
    Access("api:docs", get=MEMBERS),
    call("changes", get=roles(401, others=403, director=200)),
    Access("api:schema", get=roles(200, others=200)),
    Access("api:tokens", get=MEMBERS, post=roles(SIGN_IN, others=422)),
    Access("api:calendars", get=MEMBERS, post=roles(SIGN_IN, others=200), data=lambda w: {"about": "own"}),
    Access("api:calendar-end", of("api_feed"), post=roles(SIGN_IN, others=404, player=302)),
    Access("api:calendar", lambda w: {"key": w["api_feed_key"]}, get=roles(200, others=200)),
    Access("api:revoke", of("api_token"), post=roles(SIGN_IN, others=404, player=302)),
    call("me", get=ALL),
    call("bulk-attempts", get=ALL),
    call("bulk-evidence", get=ALL),
    call("bulk-ledger", get=ALL),
    call("no-such-call", lambda w: {"rest": "nothing"}, get=roles(404, others=404), post=roles(404, others=404)),
    call("ensembles", get=ALL),
    call("people", get=ALL),
    call("terms", get=ALL),
    call(
        "chairs",
        lambda w: {"pk": w.ensemble.pk},
        get=LEADS,
        post=roles(401, others=403, director=201),
        data=lambda w: {"person": w.people["stranger"].email, "instrument": "flute"},
    ),
    call("chair", lambda w: {"pk": chair_of(w)}, delete=roles(401, others=403, director=204)),
    call("ledger", lambda w: {"pk": w.ensemble.pk}, get=LEADS),
    call("ledger-csv", lambda w: {"pk": w.ensemble.pk}, get=LEADS),
    call("known", lambda w: {"pk": w.ensemble.pk}, get=LEADS),
    call(
        "plan",
        lambda w: {"pk": w.ensemble.pk},
        get=LEADS,
        post=LEADS_MADE,
        data=lambda w: {"tune": w["api_tune"].pk, "known_by": "2031-05-01"},
    ),
    # What only a list understands is refused elsewhere, before anybody is looked at.
    call("plan", lambda w: {"pk": w.ensemble.pk}, get=LEADS, post=roles(401, others=400), query="?show=progressions"),
    call("planned", of("planned"), patch=LEADS, delete=LEADS_GONE, data=lambda w: {"place": 1, "known_by": None}),
    call("my-ledger", get=ALL),
    call("player-ledger", lambda w: {"pk": w.people["player"].pk}, get=LEADS),
    call(
        "requirements",
        get=ALL,
        put=roles(401, others=403, director=200),
        data=lambda w: {"requirements": [{"kind": "function", "pass_mark": 70}]},
    ),
    call("evidence", lambda w: {"pk": w.people["player"].pk}, get=roles(401, others=404)),
    call("analyse", post=EDITS, data=lambda w: TEXT),
    call("tunes", get=ALL, post=ADDS, data=lambda w: {"title": "Made by a program"}),
    call("tune", of("api_tune"), get=ALL, patch=EDITS, delete=REMOVES, data=lambda w: {"feel": "slow"}),
    call("recordings", of("api_tune"), get=ALL, post=ADDS, data=lambda w: {"leader": "Somebody Invented"}),
    call("recording", of("api_recording"), get=ALL, patch=EDITS, delete=REMOVES, data=lambda w: {"album": "Another"}),
    call("versions", of("api_tune"), get=ALL, post=ADDS, data=lambda w: TEXT | {"name": "third"}),
    call(
        "version", of("api_version"), get=ALL, patch=EDITS, data=lambda w: {"name": "another name", "is_agreed": True}
    ),
    call("musicxml", of("heard_revision"), get=ALL),
    call("plain-text", of("heard_revision"), get=ALL),
    call(
        "checks",
        of("heard_revision"),
        get=ALL,
        post=roles(401, others=201),
        data=lambda w: {"bar": 0, "state": "agreed"},
    ),
    call("checks-rest", of("heard_revision"), post=ALL, data=lambda w: {"recording": w["heard_recording"].pk}),
    call("check", of("dispute"), delete=roles(401, others=404, player=204)),
    call("disputes", get=EDITS),
    call("settle", of("dispute"), post=EDITS, data=lambda w: {"decision": "change", "chords": "Gm7"}),
    call("lead-sheets", post=EDITS, data=lambda w: {"file": a_file("sheet.musicxml", lead_sheet(w))}),
    call("melodies", lambda w: {"pk": w["heard_tune"].pk}, get=ALL, post=ADDS, data=a_melody),
    call("melody", of("melody"), delete=REMOVES),
    call(
        "sound",
        of("heard_recording"),
        get=ALL,
        post=ADDS,
        delete=REMOVES,
        data=lambda w: {
            "rights": "Our own ensemble in the hall",
            "allowed": "true",
            "file": a_file("hall.wav", tiny_wav()),
        },
    ),
    call(
        "heard",
        of("heard_recording"),
        get=ALL,
        post=roles(401, others=201),
        data=lambda w: {"heard_on": "2024-05-01T12:00:00Z", "noticed": "Brushes on the bridge"},
    ),
    call(
        "form-map",
        of("heard_recording"),
        get=ALL,
        put=EDITS,
        data=lambda w: {"moments": [{"chorus": 1, "bar": 1, "seconds": 0.1, "label": "A"}]},
    ),
    call("idioms", get=ALL, post=ADDS, data=lambda w: {"name": "the slide", "pattern": "2min 5dom 1maj"}),
    call("idiom", of("api_idiom"), get=ALL, patch=EDITS, delete=REMOVES, data=lambda w: {"notes": "Both ways"}),
    call("places", of("api_idiom"), get=ALL),
    call("revisions", of("api_version"), get=ALL, post=ADDS, data=lambda w: {"text": "key: C major\n| C |"}),
    call("revision", of("api_revision"), get=ALL),
    call("analysis", of("api_revision"), get=ALL),
    call(
        "overrules",
        of("api_revision"),
        get=EDITS,
        post=ADDS,
        data=lambda w: {"event": 0, "key": "Bb major", "answer": "2"},
    ),
    call("overrule", of("api_overrule"), delete=REMOVES),
    call("restore-overrule", of("api_overrule"), post=EDITS),
    call("restore-area-overrule", of("api_area"), post=EDITS),
    call(
        "area-overrules",
        of("api_revision"),
        get=EDITS,
        post=ADDS,
        data=lambda w: {"first": 0, "last": 1, "key": "F major"},
    ),
    call("area-overrule", of("api_area"), delete=REMOVES),
    call("assignments", get=ALL, post=LEADS_MADE, data=assignment),
    call("assignment", of("assignment"), get=MEMBERS_OF, patch=LEADS, data=change),
    call("release", of("assignment"), put=LEADS_GONE, delete=LEADS_GONE),
    call("progress", of("assignment"), get=LEADS),
    call("states", of("assignment"), get=SEATED),
    call("ensemble-sheet", step("function"), get=LEADS),
    call("mark-again", step("function"), get=LEADS, post=LEADS, data=remarked),
    # What only the question understands is refused when something is accepted, before anybody is looked at.
    call(
        "accepted",
        step("function"),
        get=LEADS,
        post=roles(401, others=400),
        query="?question=function:0&answer=1",
    ),
    call(
        "accepted",
        step("function"),
        get=roles(401, others=404, instructor=422, director=422),  # of which answer?
        post=LEADS,
        data=lambda w: {"question": "function:0", "answer": "1", "reason": "Heard so"},
    ),
    call("accepted-list", step("function"), get=LEADS),
    call(
        "attempt-questions",
        of("by_ear_done"),
        get=roles(401, others=404, classmate=200, instructor=200, director=200),
        post=roles(401, others=404, classmate=201),
        data=lambda w: {"question": "changes:0", "text": "Why?", "token": str(uuid.uuid4())},
    ),
    call("questions", get=ALL),
    call("question-answer", of("objection"), post=LEADS, data=lambda w: {"outcome": "kept", "answer": "It goes on."}),
    call(
        "revision-questions",
        of("api_revision"),
        get=ALL,
        post=roles(401, others=201),
        data=lambda w: {"event": 1, "text": "It rests there.", "token": str(uuid.uuid4())},
    ),
    call("reading-questions", get=ALL),
    call(
        "reading-answer",
        of("reading_question"),
        post=LEADS,
        data=lambda w: {"outcome": "kept", "answer": "It goes on."},
    ),
    call(
        "leeways",
        of("assignment"),
        get=LEADS,
        post=LEADS_MADE,
        data=lambda w: {"player": w.people["classmate"].pk, "excused": True, "reason": "Ill"},
    ),
    call("leeway", of("leeway"), delete=LEADS_GONE),
    call("accepted-one", of("accepted"), delete=LEADS),
    call("desk", get=ALL),
    call("queue", get=ALL),
    call("missing", get=ALL),
    call("marking-rules", get=ALL),
    call("echo", get=ALL, query="?q=5+of+2&key=F"),
    call("closed", of("assignment"), put=LEADS_GONE, delete=LEADS_GONE),
    call("start", step("form"), post=SEATED),
    call(
        "send",
        step("hand-in"),
        post=roles(401, others=404, player=201, classmate=201),
        data=lambda w: {"token": str(uuid.uuid4()), "note": "Heard it"},
    ),
    call(
        "listening",
        step("listening"),
        get=SEATED,
        post=roles(401, others=404, player=201, classmate=201),
        data=lambda w: {"token": str(uuid.uuid4()), "heard": "The reference", "on": "2020-01-01"},
    ),
    call(
        "sign-offs",
        step("sign-off"),
        get=LEADS,
        post=LEADS_MADE,
        data=lambda w: {"players": [w.people["classmate"].pk], "evidence": "Played it"},
    ),
    call("sign-off", of("signed"), delete=LEADS_GONE),
    call("file", of("file"), get=REVIEWS),
    call("attempts", get=ALL),
    call("attempt", of("done"), get=REVIEWS),
    call("attempt", of("open"), get=MINE),
    call("attempt", of("sent"), get=REVIEWS),
    call("answers", of("open"), put=MINE, data=answers),
    call("hand-in", of("open"), post=MINE),
    call("start", of("by_ear_step"), post=SEATED),
    call("attempt", of("by_ear_open"), get=MINE),
    call("hand-in", of("by_ear_open"), post=MINE),
    call("comments", of("done"), post=LEADS_MADE, data=lambda w: {"token": str(uuid.uuid4()), "text": "Good"}),
    call("overrides", of("done"), post=LEADS_MADE, data=override),
    call("decision", of("done"), post=LEADS, data=decision),
]
