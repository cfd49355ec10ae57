"""Course platforms and webhooks: what platforms call is open and refuses what they did not sign; the rest is the director's."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils import timezone

from api.campus.lti.keys import public_set
from api.models import CampusPerson, ChangeState, Course, CourseLink, CourseMark, Delivery, Hook, Platform, Token
from api.scopes import SERVICE_SCOPES
from api.tokens import make_token
from tests import factories
from tests.access import DIRECTOR, SIGN_IN, Access, World, roles


def build(world: World) -> None:
    public_set()  # makes our key, as the first platform that reads it does
    addresses = {name: f"https://campus.example/{name}" for name in ("login_url", "token_url", "keys_url")}
    platform = Platform.objects.create(
        name="Campus", issuer="https://campus.example", client_id="one", deployments=["1"], **addresses
    )
    player = world.people["player"]
    world["lti_platform"] = platform
    world["lti_match"] = CampusPerson.objects.create(platform=platform, subject="person-1", user=player)
    world["lti_course"] = Course.objects.create(platform=platform, deployment="1", context="course-1", title="Combo")
    link = CourseLink.objects.create(course=world["lti_course"], resource="link-1", title="Week one")
    link.assignment = factories.make_assignment(world.ensemble, by=world.people["instructor"])
    link.save()
    CourseMark.objects.create(link=link, player=player, score=80, state="failed", status=422)
    world["service"], key = make_token(
        owner=None, by=world.people["director"], name="Registry", scopes=EVERYTHING, days=9
    )
    Token.objects.filter(pk=world["service"].pk).update(used=timezone.now())
    world["service_key"] = {"Authorization": f"Bearer {key}"}
    # What looking costs is measured by its own test; here nothing is kept of a call, so each would look.
    ChangeState.objects.create(pk=1, looked=timezone.now() + dt.timedelta(days=1))
    world["hook"] = Hook.objects.create(name="Registry", url="https://10.0.0.1/told", events=["roster.changed"])
    Delivery.objects.create(hook=world["hook"], event="roster.changed", body="{}", tries=2, status=500, answer="no")


def grow(world: World, players: list[Any]) -> None:
    platform, link = world["lti_platform"], CourseLink.objects.get(resource="link-1")
    CampusPerson.objects.bulk_create(CampusPerson(platform=platform, subject=f"s{p.pk}", user=p) for p in players)
    CourseMark.objects.bulk_create(CourseMark(link=link, player=player, score=50) for player in players)


def of(name: str) -> Any:
    return lambda w: {"pk": w[name].pk}


EVERYTHING = [scope.id for scope in SERVICE_SCOPES]
NOBODY = roles(403, others=403)
DOES = roles(SIGN_IN, others=403, director=302)

ROWS = [
    Access("api:lti-keys", get=roles(200, others=200)),
    Access("api:lti-login", get=NOBODY, post=NOBODY),
    Access("api:lti-launch", post=NOBODY),
    Access("api:lti-arrive", lambda w: {"key": "none"}, get=NOBODY),
    Access("api:lti-choose", get=roles(SIGN_IN, others=404), post=roles(SIGN_IN, others=404)),
    Access("api:lti-no-chair", get=roles(SIGN_IN, others=403)),
    Access(
        "api:lti-register",
        query="?openid_configuration=https%3A%2F%2Fcampus.example%2Fabout",
        get=DIRECTOR,
        post=roles(SIGN_IN, others=403, director=422),
    ),
    Access("api:lti-platforms", get=DIRECTOR, post=roles(SIGN_IN, others=403, director=422)),
    Access("api:lti-platform", of("lti_platform"), get=DIRECTOR, post=roles(SIGN_IN, others=403, director=422)),
    Access("api:lti-end", of("lti_platform"), post=DOES),
    Access("api:lti-match-end", of("lti_match"), post=DOES),
    Access("api:lti-course", of("lti_course"), get=DIRECTOR),
    Access("api:lti-members", of("lti_course"), post=DOES),
    Access("api:lti-again", of("lti_course"), post=DOES),
    Access("api:services", get=DIRECTOR, post=roles(SIGN_IN, others=403, director=422)),
    Access("api:service-end", of("service"), post=DOES),
    Access("api:hooks", get=DIRECTOR, post=roles(SIGN_IN, others=403, director=422)),
    Access("api:hook", of("hook"), get=DIRECTOR, post=roles(SIGN_IN, others=403, director=422)),
    Access("api:hook-test", of("hook"), post=DOES),
    Access("api:hook-roll", of("hook"), post=roles(SIGN_IN, others=403, director=200)),
    Access("api:hook-on", of("hook"), post=DOES),
    Access("api:hook-end", of("hook"), post=DOES),
]
