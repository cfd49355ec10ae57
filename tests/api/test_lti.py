"""LTI 1.3 against a platform that follows the published messages (`course_platform`): what is let in, who is known, what goes
back. Section numbers: 1EdTech LTI Core 1.3, Security Framework 1.0, Deep Linking 2.0, Assignment and Grade Services 2.0."""

from __future__ import annotations

import base64
import datetime as dt
import json
import time
from collections.abc import Callable, Iterator
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from django.test import Client
from django.utils import timezone
from joserfc import jwt
from joserfc.jwk import KeySet

from api.campus.lti import keys, login, marks
from api.models import CampusPerson, CourseLink, CourseMark, Launch, Platform
from assessments.models import Attempt, Leeway
from assessments.services import review
from studio.models import Notice, User
from tests import factories
from tests.api.course_platform import KEY, LTI, OTHER_KEY, ROLES, CoursePlatform

pytestmark = pytest.mark.django_db
DL = "https://purl.imsglobal.org/spec/lti-dl/claim/"


@pytest.fixture
def campus(settings: Any) -> Iterator[CoursePlatform]:
    settings.INNER_NETWORK = True
    made = CoursePlatform()
    made.tool_keys = keys.public_set()
    Platform.objects.create(deployments=[made.deployment], **made.registration())
    yield made
    made.server.shutdown()
    made.server.server_close()


def begin(client: Client, campus: CoursePlatform, **more: str) -> dict[str, str]:
    """Login initiation (5.1.1.1); what the tool asks of the platform (5.1.1.2)."""
    sent = {
        "iss": campus.url,
        "login_hint": "hint",
        "target_link_uri": "https://tool.example/",
        "lti_message_hint": "m",
    }
    answer = client.post("/api/lti/login", sent | more)
    assert answer.status_code == 302, answer.content
    asked = {name: values[0] for name, values in parse_qs(urlsplit(answer["Location"]).query).items()}
    fixed = {"scope": "openid", "response_type": "id_token", "response_mode": "form_post", "prompt": "none"}
    assert fixed.items() <= asked.items()
    assert asked["login_hint"] == "hint"
    assert asked["lti_message_hint"] == "m"
    assert asked["client_id"] == campus.client
    return asked


def launch(client: Client, campus: CoursePlatform, **claims: Any) -> Any:
    """The whole way; the answer of the page after it, or the refusal."""
    asked = begin(client, campus)
    token = campus.sign(campus.claims(asked["nonce"], **claims))
    answer = client.post("/api/lti/launch", {"state": asked["state"], "id_token": token})
    return client.get(answer["Location"]) if answer.status_code == 303 else answer


def none_signed(claims: dict[str, Any]) -> str:
    parts = [json.dumps(part).encode() for part in ({"alg": "none", "kid": KEY.kid}, claims)]
    return ".".join(base64.urlsafe_b64encode(part).rstrip(b"=").decode() for part in parts) + "."


def tampered(claims: dict[str, Any]) -> str:
    first, _, last = CoursePlatform.sign(claims).split(".")
    return f"{first}.{CoursePlatform.sign(claims | {'sub': 'somebody-else'}).split('.')[1]}.{last}"


Now = int(time.time())
HOSTILE: list[tuple[str, dict[str, Any], Callable[[dict[str, Any]], str] | None]] = [
    ("alg none", {}, none_signed),
    ("HS256 with the public key", {}, CoursePlatform.sign_with_public_key),
    ("another key under the same id", {}, lambda claims: CoursePlatform.sign(claims, key=OTHER_KEY)),
    ("an unknown key id", {}, lambda claims: CoursePlatform.sign(claims, kid="unknown")),
    ("claims changed after signing", {}, tampered),
    ("no token", {}, lambda claims: "abc"),
    ("a header that is no JSON", {}, lambda claims: "e.e.e"),
    ("wrong nonce", {"nonce": "another"}, None),
    ("no nonce", {"nonce": None}, None),
    ("wrong issuer", {"iss": "https://elsewhere.example"}, None),
    ("wrong audience", {"aud": "client-2"}, None),
    ("several audiences, made for another", {"aud": ["client-1", "client-2"], "azp": "client-2"}, None),
    ("several audiences, for nobody", {"aud": ["client-1", "client-2"]}, None),
    ("unknown deployment", {LTI + "deployment_id": "deployment-2"}, None),
    ("no deployment", {LTI + "deployment_id": None}, None),
    ("expired", {"exp": Now - 3600, "iat": Now - 7200}, None),
    ("from the future", {"iat": Now + 7200, "exp": Now + 9000}, None),
    ("not before later", {"nbf": Now + 7200}, None),
    ("very old, never expires", {"iat": Now - 7200, "exp": Now + 10**8}, None),
    ("no expiry", {"exp": None}, None),
    ("expiry as words", {"exp": "tomorrow"}, None),
    ("no subject", {"sub": None}, None),
    ("a subject no database keeps", {"sub": "a\x00b"}, None),
    ("LTI 1.1", {LTI + "version": "LTI-1p0"}, None),
    ("no roles", {LTI + "roles": None}, None),
    ("no message type", {LTI + "message_type": None}, None),
    ("unknown message type", {LTI + "message_type": "LtiSubmissionReviewRequest"}, None),
    ("no resource link", {LTI + "resource_link": None}, None),
    ("no target", {LTI + "target_link_uri": None}, None),
    ("deep linking without settings", {LTI + "message_type": "LtiDeepLinkingRequest"}, None),
]


def test_hostile_tokens_open_nothing(campus: CoursePlatform) -> None:
    """Security Framework 1.0, 5.1.3 (authentication response validation); RFC 8725, 3.1 (algorithms)."""
    factories.make_user("Ada", email="ada@school.example")
    client, let_in = Client(), []
    for name, claims, sign in HOSTILE:
        asked = begin(client, campus)
        token = (sign or campus.sign)(campus.claims(asked["nonce"], **claims))
        answer = client.post("/api/lti/launch", {"state": asked["state"], "id_token": token})
        if answer.status_code != 403 or b"could not be opened" not in answer.content:
            let_in.append((name, answer.status_code))
    assert let_in == []
    assert not Launch.objects.exists()
    asked = begin(client, campus)
    good = campus.sign(campus.claims(asked["nonce"]))
    for state in ("", "x", asked["state"][:-1] + ("A" if asked["state"][-1] != "A" else "B")):
        assert client.post("/api/lti/launch", {"state": state, "id_token": good}).status_code == 403, "another state"
    first = client.post("/api/lti/launch", {"state": asked["state"], "id_token": good})
    assert first.status_code == 303, "the same message unharmed is let in"
    assert client.post("/api/lti/launch", {"state": asked["state"], "id_token": good}).status_code == 403, "replayed"
    assert Client().get(first["Location"]).status_code == 403, "another browser has not begun it"
    assert client.get(first["Location"]).status_code == 302
    assert client.get(first["Location"]).status_code == 403, "the address works once"
    refused = client.post("/api/lti/launch", {"error": "login_required", "state": asked["state"]})
    assert refused.status_code == 403
    assert b"login_required" in refused.content
    assert Platform.objects.get().refused, "the director is told why"
    for sent in ({}, {"iss": "https://elsewhere.example", "login_hint": "x"}, {"iss": campus.url}):
        assert client.get("/api/lti/login", sent).status_code == 403
    Platform.objects.update(ended=timezone.now())
    assert client.get("/api/lti/login", {"iss": campus.url, "login_hint": "x"}).status_code == 403


def test_only_a_matched_person_is_signed_in(campus: CoursePlatform) -> None:
    for name in ("ada", "closed", "head"):
        factories.make_user(
            name, email=f"{name}@school.example", is_active=name != "closed", is_director=name == "head"
        )
    cases: list[tuple[str, dict[str, Any], bool]] = [
        ("verified", {"email": "Ada@School.example"}, True),
        ("nothing said of it", {"email_verified": None}, False),
        ("nothing said of it, but the director trusts", {"email_verified": None}, True),
        ("not verified", {"email_verified": False}, False),
        ("not verified, though the director trusts", {"email_verified": False}, False),
        ("unknown", {"email": "nobody@school.example"}, False),
        ("no address", {"email": None}, False),
        ("closed account", {"email": "closed@school.example"}, False),
        ("a director", {"email": "head@school.example"}, False),
    ]
    for name, claims, let_in in cases:
        CampusPerson.objects.all().delete()
        Platform.objects.update(trusts_addresses="trusts" in name)
        client = Client()
        answer = launch(client, campus, **claims)
        assert answer.status_code == (302 if let_in else 403), name
        assert ("_auth_user_id" in client.session) is let_in, name
    head = User.objects.get(email="head@school.example")
    client = Client()
    client.force_login(head)
    assert launch(client, campus, email=head.email).status_code == 302, "a director who is signed in already"
    # The school id of the LIS claim counts before the address, where the director trusts what the platform says of people.
    lis = {LTI + "lis": {"person_sourcedid": "S1"}}
    User.objects.filter(email="ada@school.example").update(school_id="S1")
    factories.make_user("Bo", email="bo@school.example", school_id="S2")
    for trusts, claims, who in (
        (True, {"email": "nobody@school.example"}, "ada"),
        (True, {"email": None}, "ada"),
        (False, {"email": None}, ""),
        (True, {"email": "bo@school.example", LTI + "lis": {"person_sourcedid": "S9"}}, ""),
        (True, {"email": "bo@school.example", LTI + "lis": ["S1"]}, "Bo"),
    ):
        CampusPerson.objects.all().delete()
        Platform.objects.update(trusts_addresses=trusts)
        client = Client()
        launch(client, campus, **{**lis, **claims})
        into = User.objects.filter(pk=client.session.get("_auth_user_id")).values_list("name", flat=True)
        assert list(into) == ([who] if who else []), (trusts, claims)
    # From now on the id counts, whatever the address: it may change hands (LTI Core 1.3, 5.3.6.1).
    ada = User.objects.get(email="ada@school.example")
    CampusPerson.objects.create(platform=Platform.objects.get(), subject="person-9", user=ada)
    client = Client()
    assert launch(client, campus, sub="person-9", email="closed@school.example").status_code == 302
    assert client.session["_auth_user_id"] == str(ada.pk)
    assert launch(Client(), campus, sub="person-10").status_code == 403, "one account of a platform for each person"


def test_inside_a_frame_a_new_window_is_offered(campus: CoursePlatform) -> None:
    sent = {"iss": campus.url, "login_hint": "hint", "client_id": campus.client}
    answer = Client().post("/api/lti/login", sent, headers={"Sec-Fetch-Dest": "iframe"})
    assert answer.status_code == 200
    assert "lti-browser" not in answer.cookies
    assert "X-Frame-Options" not in answer
    policy = answer["Content-Security-Policy"].split("frame-ancestors")[1].split(";")[0].split()
    assert campus.url in policy
    assert "'none'" not in policy, "it stands alone or not at all (W3C, CSP Level 3, 6.4.2)"
    assert 'target="_blank"' in answer.content.decode()
    assert "login_hint=hint" in answer.content.decode()
    assert Client().get("/").get("X-Frame-Options") == "DENY"


def choose(client: Client, campus: CoursePlatform, assignment: Any, **claims: Any) -> dict[str, Any]:
    """Deep linking: the content item of the answer, its token checked as a platform does (Deep Linking 2.0, 4.5)."""
    asked = {"deep_link_return_url": f"{campus.url}/return", "accept_types": ["ltiResourceLink"], "data": "opaque"}
    kind = {LTI + "message_type": "LtiDeepLinkingRequest", LTI + "roles": [ROLES + "Instructor"]}
    first = launch(client, campus, **(kind | {DL + "deep_linking_settings": asked} | claims))
    assert first["Location"] == "/api/lti/choose/"
    assert assignment.title in client.get("/api/lti/choose/").content.decode()
    page = client.post("/api/lti/choose/", {"assignment": assignment.pk})
    assert campus.url in page["Content-Security-Policy"].split("form-action")[1].split(";")[0]
    token = page.context["token"]
    answer = jwt.decode(token, KeySet.import_key_set(keys.public_set()), algorithms=["RS256"]).claims
    assert (answer["iss"], answer["aud"], answer[DL + "data"]) == (campus.client, campus.url, "opaque")
    assert answer[LTI + "message_type"] == "LtiDeepLinkingResponse"
    assert answer[LTI + "deployment_id"] == campus.deployment
    (item,) = answer[DL + "content_items"]
    assert item["type"] == "ltiResourceLink"
    assert item["lineItem"]["scoreMaximum"] == 100
    return dict(item)


def test_a_mark_goes_back_when_it_is_reviewed_and_released_and_never_before(campus: CoursePlatform) -> None:
    ensemble = factories.make_ensemble()
    teacher = factories.make_instructor(ensemble, user=factories.make_user("Tea", email="tea@school.example"))
    player = factories.make_player(ensemble, user=factories.make_user("Ada", email="ada@school.example"))
    work = factories.make_assignment(ensemble, by=teacher, release="by-hand", title="Copper Lanterns, functions")
    foreign = factories.make_assignment(factories.make_ensemble())
    there = {"sub": "teacher-1", "email": teacher.email, LTI + "roles": [ROLES + "Instructor"]}
    desk = Client()
    item = choose(desk, campus, work, **there)
    assert desk.post("/api/lti/choose/", {"assignment": foreign.pk}).status_code == 404, "only what one leads"
    custom = {LTI + "custom": item["custom"]}
    other = {LTI + "context": {"id": "course-2"}, LTI + "resource_link": {"id": "link-2"}}
    assert launch(Client(), campus, **custom, **other)["Location"] == "/api/lti/choose/", "not in another course"
    assert launch(Client(), campus, **custom)["Location"] == f"/work/assignments/{work.pk}/"

    def sent() -> list[Any]:
        """What the platform got in a round of the worker."""
        campus.scores.clear()
        CourseMark.objects.filter(state="waiting").update(next_try=timezone.now())
        marks.refresh(timezone.now())
        marks.send_waiting(timezone.now())
        assert all(
            score["userId"] == "person-1" and score["scoreMaximum"] == 100
            for score in campus.scores
            if "scoreGiven" in score
        )
        return [(score.get("scoreGiven"), score["gradingProgress"]) for score in campus.scores]

    assert sent() == []
    attempt = factories.make_attempt(work.steps.get(), player, hand_in=True)
    assert sent() == [], "handed in is not reviewed"
    attempt = review.accept(attempt_id=attempt.pk, by=teacher, version=attempt.version)
    assert sent() == [], "reviewed is not released"
    work.released_at = timezone.now()
    work.save()
    assert sent() == [(attempt.percent, "FullyGraded")]
    (line,) = campus.lines
    assert line["resourceLinkId"] == "link-1"
    assert line["resourceId"] == f"assignment-{work.pk}"
    assert sent() == [], "the same mark goes once"
    question = attempt.marks.first().question
    review.override(
        attempt_id=attempt.pk, by=teacher, version=attempt.version, question=question, points=1, reason="Sound"
    )
    attempt.refresh_from_db()
    campus.refuse = 503
    before = timezone.now()
    assert sent() == []
    waiting = CourseMark.objects.get(state="waiting")
    assert (waiting.tries, waiting.status, waiting.score) == (1, 503, attempt.percent)
    assert waiting.next_try > before, "later, and later again"
    campus.refuse = 0
    assert sent() == [(attempt.percent, "FullyGraded")]
    assert len(campus.lines) == 1, "one column"
    campus.refuse = 422
    attempt = review.reopen(attempt_id=attempt.pk, by=teacher, version=attempt.version)
    factories.make_director()
    assert sent() == []
    assert CourseMark.objects.filter(state="failed", score=None, status=422).count() == 1
    assert Notice.objects.filter(text__contains="did not take a mark").count() == 1
    campus.refuse = 0
    marks.again(CourseMark.objects.values_list("pk", flat=True))
    assert sent() == [(None, "PendingManual")], "a review that is taken back takes the mark back"
    attempt = review.accept(attempt_id=attempt.pk, by=teacher, version=attempt.version)
    marks.refresh(timezone.now())
    attempt = review.reopen(attempt_id=attempt.pk, by=teacher, version=attempt.version)
    campus.scores.clear()
    marks.send_waiting(timezone.now())
    assert campus.scores == [], "looked at once more right before it goes"
    assert all("@" not in json.dumps(score) and player.name not in json.dumps(score) for score in campus.scores)


def test_what_a_mark_is(campus: CoursePlatform) -> None:
    """The mean of the marked steps, once all that is asked is reviewed. Common practice, no source."""
    ensemble = factories.make_ensemble()
    teacher, player = factories.make_instructor(ensemble), factories.make_player(ensemble)
    work = factories.make_assignment(ensemble, by=teacher, kinds=("function", "guide-tones", "hand-in"))
    steps = list(work.steps.all())

    def reviewed(step: Any, percent: float | None, status: str = "reviewed") -> Attempt:
        number = Attempt.objects.filter(step=step, player=player).count() + 1
        points = None if percent is None else percent / 10
        out_of = 0 if percent is None else 10
        return Attempt.objects.create(
            step=step, player=player, number=number, status=status, points=points, out_of=out_of
        )

    def mark() -> int | None:
        return marks.standing_marks(work, timezone.now()).get(player.pk)

    reviewed(steps[0], 40)
    reviewed(steps[1], 80)
    assert mark() is None, "a step is missing"
    waiting = reviewed(steps[2], None, "handed-in")
    assert mark() is None, "a step waits for review"
    Attempt.objects.filter(pk=waiting.pk).update(status="reviewed")
    assert mark() == 60
    again = reviewed(steps[0], 100, "handed-in")
    assert mark() == 60, "the reviewed go stands until the next one is reviewed"
    Attempt.objects.filter(pk=again.pk).update(status="reviewed", after_answers=True)
    assert mark() == 60, "a go after the answers does not count by itself"
    Attempt.objects.filter(pk=again.pk).update(after_answers=False)
    assert mark() == 90
    Attempt.objects.filter(pk=again.pk).update(status="returned")
    assert mark() is None
    Leeway.objects.create(step=steps[0], player=player, by=teacher, excused=True)
    assert mark() == 80, "an excused step is left out"


def test_members_are_previewed_as_a_roster(campus: CoursePlatform) -> None:
    """Names and Roles 2.0, section 2.2, over two pages (2.4)."""
    ensemble, director = factories.make_ensemble("Combo"), factories.make_director()
    ada = factories.make_user("Ada Quill", email="ada@school.example")
    factories.make_player(ensemble, user=ada)
    launch(Client(), campus)
    people = (
        ("Bo Quist", "Learner", "Active"),
        ("Tea Holm", ROLES + "Instructor", "Active"),
        ("Old One", "Learner", "Inactive"),
        ("Eve Aid", "Mentor", "Active"),
    )
    campus.members = [
        {
            "user_id": f"u{number}",
            "name": name,
            "email": f"{name[:2].lower()}@school.example",
            "roles": [role],
            "status": status,
            "lis_person_sourcedid": f"S{number}",
        }
        for number, (name, role, status) in enumerate(people)
    ]
    client = Client()
    client.force_login(director)
    link = CourseLink.objects.get()
    page = client.post(f"/api/lti/courses/{link.course_id}/members", {"ensemble": ensemble.pk})
    planned = [
        (row.row.name, row.row.email, row.row.school_id, row.row.role, row.changes) for row in page.context["planned"]
    ]
    new = ("new person", "new chair")
    assert planned == [
        ("Bo Quist", "bo@school.example", "S0", "player", new),
        ("Tea Holm", "te@school.example", "S1", "instructor", new),
    ]
    assert User.objects.filter(email="bo@school.example").count() == 0, "nothing is written before it is confirmed"
    assert "/roster/" in page.content.decode()
    campus.members = [{"user_id": "u1", "roles": ["Learner"]}, {"nonsense": True}]
    assert client.post(f"/api/lti/courses/{link.course_id}/members", {"ensemble": ensemble.pk}).status_code == 422


def test_a_director_registers_a_platform(campus: CoursePlatform, settings: Any) -> None:
    Platform.objects.all().delete()
    client = Client()
    client.force_login(factories.make_director())
    form = {**campus.registration(), "deployments": "one\n two \n\none"}
    settings.INNER_NETWORK = False
    assert client.post("/api/lti/", form).status_code == 422, "not into the site's own network"
    settings.INNER_NETWORK = True
    answer = client.post("/api/lti/", form, follow=True)
    assert "key set was read: 1 key." in answer.content.decode()
    made = Platform.objects.get()
    assert made.deployments == ["one", "two"]
    assert "private" not in json.dumps(made.keys)
    assert "d" not in made.keys["keys"][0]
    assert client.post("/api/lti/", form).status_code == 422, "once each"
    wrong = client.post(f"/api/lti/{made.pk}/", form | {"keys_url": f"{campus.url}/nothing"}, follow=True)
    assert b'<div class="notice notice--warning"><p>Saved. Its key set could not be read' in wrong.content
    made.refresh_from_db()
    shown = client.get("/api/lti/keys").json()["keys"]
    assert all(set(key) <= {"kty", "kid", "n", "e", "use", "alg"} for key in shown), "the private half stays here"
    assert client.post(f"/api/lti/{made.pk}/end").status_code == 302
    assert client.get(f"/api/lti/{made.pk}/").status_code == 404


def test_old_launches_are_forgotten(campus: CoursePlatform) -> None:
    factories.make_user("Ada", email="ada@school.example")
    launch(Client(), campus)
    login.clear_old(timezone.now())
    assert Launch.objects.count() == 1
    login.clear_old(timezone.now() + dt.timedelta(days=3))
    assert not Launch.objects.exists()
