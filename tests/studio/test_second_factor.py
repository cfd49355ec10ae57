"""Second factors: set up, used, taken away, asked of roles; and that nothing goes around them."""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import hmac
import io
import json
import re
import struct
import time
from types import SimpleNamespace
from typing import Any

import pytest
from allauth.account.utils import user_pk_to_url_str
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal import auth
from django.core.cache import cache
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from api.campus.calendar import make_feed
from api.tokens import make_token
from studio.entry import factor, library, rules
from studio.models import AuditEntry, Programme, User
from studio.services.invitations import invite
from tests import factories
from tests.passkeys import Device

HOME = "studio:account"


# RFC 6238, appendix B, the rows of SHA-1: the last six of its eight digits.
@pytest.mark.parametrize(
    ("seconds", "code"),
    [
        (59, "287082"),
        (1111111109, "081804"),
        (1111111111, "050471"),
        (1234567890, "005924"),
        (2000000000, "279037"),
        (20000000000, "353130"),
    ],
)
def test_codes_are_those_of_the_standard(seconds: int, code: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(auth, "time", SimpleNamespace(time=lambda: seconds))
    secret = base64.b32encode(b"12345678901234567890").decode()
    assert auth.validate_totp_code(secret, code)
    assert not auth.validate_totp_code(secret, f"{(int(code) + 1) % 10**6:06}")


def app_shows(secret: str, steps: int = 0) -> str:
    """What an authenticator app shows now, written after RFC 4226, section 5.3."""
    digest = hmac.digest(base64.b32decode(secret), struct.pack(">Q", int(time.time()) // 30 + steps), hashlib.sha1)
    at = digest[-1] & 15
    return f"{(struct.unpack('>I', digest[at : at + 4])[0] & 0x7FFFFFFF) % 10**6:06}"


@pytest.fixture
def ada(db: None) -> User:
    cache.clear()
    Programme.objects.create(name="Harbour Jazz")
    return factories.make_user("Ada Quill", email="ada@example.org")


def sign_in(user: User, password: str = factories.PASSWORD) -> Client:
    client = Client(HTTP_HOST="localhost")
    client.post(reverse("account_login"), {"login": user.email, "password": password})
    return client


def is_in(client: Client) -> bool:
    return client.get(reverse(HOME)).status_code == 200


def set_up_app(client: Client) -> tuple[str, list[str]]:
    """The secret of the app and the recovery codes."""
    page = client.get(reverse("mfa_activate_totp")).content.decode()
    secret = re.search(r'value="([A-Z2-7]{32})"', page)
    assert secret
    answer = client.post(reverse("mfa_activate_totp"), {"code": app_shows(secret[1])})
    assert answer.status_code == 302
    return secret[1], re.findall(r"<code>(\d{8})</code>", client.get(answer.url).content.decode())


def give_code(client: Client, code: str) -> str:
    answer = client.post(reverse("mfa_authenticate"), {"code": code})
    return answer.content.decode() if answer.status_code == 200 else "in"


def said_in_log(user: User) -> list[str]:
    return list(AuditEntry.objects.filter(about=user).order_by("pk").values_list("text", flat=True))


@pytest.mark.django_db(transaction=True)  # the library tells and writes when the transaction holds
def test_an_app_is_set_up_and_asked_for(ada: User, mailoutbox: list[Any]) -> None:
    client = sign_in(ada)
    secret, codes = set_up_app(client)
    assert len(set(codes)) == 10
    assert "<code>" not in client.get(reverse("mfa_view_recovery_codes")).content.decode()  # shown once
    assert [letter.subject for letter in mailoutbox] == ["Harbour Jazz: an authenticator app was set up"]
    ada.refresh_from_db()
    assert ada.second_factor

    again = sign_in(ada)
    assert not is_in(again)
    assert "not right" in give_code(again, "000000")
    assert give_code(again, app_shows(secret)) == "in"
    assert is_in(again)
    replay = sign_in(ada)
    assert "used before" in give_code(replay, app_shows(secret))
    assert not is_in(replay)
    assert give_code(replay, app_shows(secret, 1)) == "in"  # a clock that is half a minute fast
    assert give_code(sign_in(ada), codes[0]) == "in"
    assert "not right" in give_code(sign_in(ada), codes[0])
    assert give_code(sign_in(ada), codes[1]) == "in"
    assert said_in_log(ada).count("Sign-in refused: wrong code of a second factor") == 3
    assert "Authenticator app: set up" in said_in_log(ada)
    assert "A recovery code used" in said_in_log(ada)


def test_codes_cannot_be_tried_out(ada: User, monkeypatch: pytest.MonkeyPatch) -> None:
    secret, _codes = set_up_app(sign_in(ada))
    thief = sign_in(ada)
    for guess in range(6):
        give_code(thief, f"{guess:06}")
    assert "Too many wrong codes. Wait" in give_code(thief, app_shows(secret))
    now = time.time() + 400
    monkeypatch.setattr(library.waits, "time", SimpleNamespace(time=lambda: now))
    assert give_code(thief, app_shows(secret)) == "in"


def ask(client: Client, route: str, kind: str) -> str:
    """The challenge on a page."""
    page = client.get(reverse(route)).content.decode()
    found = re.search(r'id="passkey-options"[^>]*>(.*?)</script>', page, re.S)
    assert found, page
    return str(json.loads(found[1])["publicKey"]["challenge"])


def test_a_passkey_is_the_second_factor_or_the_whole_sign_in(ada: User) -> None:
    client, device = sign_in(ada), Device()
    made = device.create(ask(client, "mfa_add_webauthn", "create"))
    assert (
        client.post(reverse("mfa_add_webauthn"), {"name": "phone", "credential": json.dumps(made)}).status_code == 302
    )
    handle = user_pk_to_url_str(ada)

    second = sign_in(ada)
    answer = device.get(ask(second, "mfa_authenticate", "get"), handle)
    second.post(reverse("mfa_authenticate"), {"credential": json.dumps(answer)})
    assert is_in(second)
    # Sent again, for another site, by another key, or without having asked its owner: not taken.
    for other, why in (
        (device, "an old answer"),
        (Device(origin="https://elsewhere.example", key=device.key, number=device.number), "another site"),
        (Device(number=device.number), "another key"),
    ):
        third = sign_in(ada)
        challenge = ask(third, "mfa_authenticate", "get")
        wrong = answer if why == "an old answer" else other.get(challenge, handle)
        third.post(reverse("mfa_authenticate"), {"credential": json.dumps(wrong)})
        assert not is_in(third), why

    for verifies in (True, False):
        alone = Client(HTTP_HOST="localhost")
        asked = alone.get(reverse("mfa_login_webauthn"), headers={"Accept": "application/json"}).json()
        device.verifies = verifies
        given = device.get(asked["request_options"]["publicKey"]["challenge"], handle)
        alone.post(reverse("mfa_login_webauthn"), {"credential": json.dumps(given)})
        assert is_in(alone) is verifies


def require(role: str, *, grace: int, now: dt.datetime | None = None) -> None:
    asked = {name: {"factor": name == role, "grace": grace, "hours": None} for name in rules.ROLES}
    factor.set_rules(asked=asked, by=factories.make_director())


def test_who_needs_one_reaches_nothing_else(ada: User) -> None:
    ensemble = factories.make_ensemble()
    factories.make_instructor(ensemble, user=ada)
    player = factories.make_player(ensemble)
    client, pupil = sign_in(ada), sign_in(player)
    key, token = make_feed(owner=ada, ensemble=None), make_token(owner=ada, name="x", scopes=["tunes:read"], days=1)[1]
    require("instructor", grace=3)
    page = client.get(reverse(HOME))
    assert page.status_code == 200
    assert b"Your role needs a second factor by" in page.content
    User.objects.filter(pk=ada.pk).update(factor_asked=timezone.now() - dt.timedelta(days=4))
    assert client.get(reverse(HOME)).status_code == 200  # the rule is younger: the whole term from then
    kept = Programme.current()
    past = (timezone.now() - dt.timedelta(days=4)).isoformat()
    kept.sign_in_rules["instructor"]["factor_since"] = past
    kept.save()
    assert client.get(reverse("tunes:index")).url == reverse("mfa_index")
    assert client.get(reverse("tunes:index"), headers={"HX-Request": "true"}).status_code == 403
    assert client.post(reverse(HOME), {"name": "Other"}).status_code == 403
    assert b"Nothing else can be opened" in client.get(reverse("mfa_index")).content
    assert is_in(pupil)
    assert client.get(reverse("api:calendar", args=[key])).status_code == 200
    assert client.get(reverse("api:me"), headers={"Authorization": f"Bearer {token}"}).status_code == 200
    set_up_app(client)
    assert is_in(client)
    take_away = client.post(reverse("mfa_deactivate_totp"))
    assert take_away.status_code == 200
    assert b"Your role needs a second factor" in take_away.content
    assert Authenticator.objects.filter(user=ada, type="totp").exists()


def test_a_lost_device(ada: User) -> None:
    director = factories.make_director("Dora")
    client, boss = sign_in(ada), sign_in(director)
    set_up_app(client)
    assert boss.post(reverse("studio:factor_reset", args=[ada.pk])).status_code == 302
    assert not is_in(client)
    assert is_in(sign_in(ada))
    entry = AuditEntry.objects.get(text="Second factor reset by a director")
    assert (entry.by, entry.about) == (director, ada)
    set_up_app(sign_in(ada))
    out = io.StringIO()
    call_command("rescue", "ADA@example.org", stdout=out)
    assert not Authenticator.objects.filter(user=ada).exists()
    path = re.search(r"http://[^/]+(/\S+)", out.getvalue())
    assert path
    new = Client()
    new.post(path[1], {"password": "seven violet herons"})
    assert is_in(new)


def test_a_link_for_a_new_password_does_not_go_around_it(ada: User) -> None:
    secret, _codes = set_up_app(sign_in(ada))
    client = Client(HTTP_HOST="localhost")
    client.post(reverse("studio:accept", args=[invite(ada, by=None).token]), {"password": "seven violet herons"})
    assert not is_in(client)
    assert give_code(client, app_shows(secret, 1)) == "in"
    assert is_in(client)


NOW = dt.datetime(2026, 9, 1, 12, tzinfo=dt.UTC)


def days(number: int) -> dt.datetime:
    return NOW + dt.timedelta(days=number)


@pytest.mark.parametrize(
    ("held", "asked", "due"),
    [
        ([rules.RoleRule()], NOW, None),
        ([rules.RoleRule(NOW, 14)], days(-100), days(14)),
        ([rules.RoleRule(NOW, 14)], days(30), days(44)),
        ([rules.RoleRule(NOW, 0)], NOW, NOW),
        ([rules.RoleRule(NOW, 14), rules.RoleRule(days(-20), 21)], days(-100), days(1)),
        ([rules.RoleRule(NOW, 14), rules.RoleRule()], NOW, days(14)),
    ],
)
def test_when_it_is_due(held: list[rules.RoleRule], asked: dt.datetime, due: dt.datetime | None) -> None:
    assert rules.factor_due(held, asked) == due
    kept = dict.fromkeys(rules.ROLES, held[0])
    assert rules.read(json.loads(json.dumps(rules.written(kept)))) == kept


def hostile(answer: dict[str, Any]) -> list[str]:
    """A device's answer, wrong in one place each, and what is none at all."""
    found = [
        "[]",
        "{}",
        "1",
        "null",
        "x",
        '{"response": []}',
        '{"response": null, "id": "x", "type": "public-key"}',
        "[" * 9000,
    ]
    wrong: tuple[Any, ...] = (None, [], "\u00e9\0", "AAAA")
    for value in wrong:
        found += [json.dumps(answer | {name: value}) for name in answer]
        found += [json.dumps(answer | {"response": answer["response"] | {name: value}}) for name in answer["response"]]
    return found


def test_what_no_device_sends(ada: User) -> None:
    client, device, handle = sign_in(ada), Device(), user_pk_to_url_str(ada)
    made = device.create(ask(client, "mfa_add_webauthn", "create"))
    client.post(reverse("mfa_add_webauthn"), {"name": "phone", "credential": json.dumps(made)})
    half, alone = sign_in(ada), Client(HTTP_HOST="localhost")
    answer = device.get("abc", handle)
    for way, route, kinds in (
        (client, "mfa_add_webauthn", hostile(made)),
        (half, "mfa_authenticate", hostile(answer)[:40]),
        (alone, "mfa_login_webauthn", hostile(answer)),
    ):
        for kind in kinds:
            cache.clear()
            assert way.post(reverse(route), {"credential": kind, "name": "x"}).status_code < 500, kind[:200]
    assert Authenticator.objects.filter(user=ada, type="webauthn").count() == 1
    assert not is_in(half)
    assert not is_in(alone)
