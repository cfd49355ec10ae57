"""Tokens: what they open, what they cannot, how they end. RFC 6750 is the source of the header and of 401."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from api.models import Token
from api.scopes import SCOPES
from api.tokens import make_token, recognise, revoke
from studio.models import AuditEntry
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def player() -> Any:
    return factories.make_player(factories.make_ensemble(), "Pia Player")


def ask(key: str, address: str = "/api/v1/me", **more: Any) -> Any:
    return Client().get(address, headers={"Authorization": f"Bearer {key}"}, **more)


def test_only_a_digest_is_kept(player: Any) -> None:
    token, key = make_token(owner=player, name="export", scopes=["tunes:read"], days=30)
    assert key not in "".join(str(value) for value in Token.objects.filter(pk=token.pk).values().get().values())
    assert recognise(key) == token


@pytest.mark.parametrize(("scopes", "days"), [([], 30), (["everything"], 30), (["teach"], 0), (["teach"], 367)])
def test_a_token_needs_known_scopes_and_an_end(player: Any, scopes: list[str], days: int) -> None:
    with pytest.raises(ValueError):
        make_token(owner=player, name="x", scopes=scopes, days=days)


def test_expired_revoked_and_inactive_stop_working(player: Any) -> None:
    token, key = make_token(owner=player, name="x", scopes=["tunes:read"], days=1)
    assert ask(key).status_code == 200
    Token.objects.filter(pk=token.pk).update(expires=timezone.now() - timedelta(seconds=1))
    assert ask(key).status_code == 401
    _, key = make_token(owner=player, name="y", scopes=["tunes:read"], days=1)
    player.is_active = False
    player.save()
    assert ask(key).status_code == 401


def test_only_the_owner_revokes(player: Any) -> None:
    token, key = make_token(owner=player, name="x", scopes=["tunes:read"], days=1)
    assert not revoke(token_id=token.pk, owner=factories.make_user())
    assert ask(key).status_code == 200
    assert revoke(token_id=token.pk, owner=player)
    answer = ask(key)
    assert answer.status_code == 401
    assert answer.headers["WWW-Authenticate"].startswith("Bearer")


@pytest.mark.parametrize("header", ["Bearer", "Bearer a b", "Bearer topform_made-up", "Basic YTpi", "Bearer \xff"])
def test_bad_headers_are_401(header: str) -> None:
    assert Client().get("/api/v1/me", headers={"Authorization": header}).status_code == 401


def test_a_session_is_no_token(player: Any) -> None:
    client = Client()
    client.force_login(player)
    assert client.get("/api/v1/me").status_code == 401


@pytest.mark.parametrize("scope", [s.id for s in SCOPES])
def test_a_scope_opens_only_its_calls(player: Any, scope: str) -> None:
    _, key = make_token(owner=player, name="x", scopes=[scope], days=1)
    needed = {"/api/v1/tunes": "tunes:read", "/api/v1/assignments": "work:read", "/api/v1/ledger": "ledger:read"}
    for address, wanted in needed.items():
        assert ask(key, address).status_code == (200 if scope == wanted else 403), address


def test_calls_are_throttled_per_token(player: Any, settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from api.security import PerToken

    monkeypatch.setattr(PerToken, "rate", "3/min", raising=False)
    _, key = make_token(owner=player, name="x", scopes=["tunes:read"], days=1)
    _, other = make_token(owner=player, name="y", scopes=["tunes:read"], days=1)
    assert [ask(key).status_code for _ in range(4)] == [200, 200, 200, 429]
    assert "Retry-After" in ask(key).headers
    assert ask(other).status_code == 200


def test_the_page_shows_a_new_key_once(player: Any) -> None:
    client = Client()
    client.force_login(player)
    made = client.post("/api/tokens/", {"name": "export", "scopes": ["tunes:read"], "days": "30"})
    key = made.context["key"]
    assert key in made.content.decode()
    assert key not in client.get("/api/tokens/").content.decode()
    assert ask(key).status_code == 200


def test_the_page_keeps_what_was_typed(player: Any) -> None:
    client = Client()
    client.force_login(player)
    answer = client.post("/api/tokens/", {"name": "my export", "days": "9999"})
    assert answer.status_code == 422
    assert "my export" in answer.content.decode()
    assert not Token.objects.exists()


def test_a_services_token_is_nobodys() -> None:
    """Made by a director, who may leave; it stands in the log under its own name; it signs nothing."""
    director, ensemble = factories.make_director("Dora"), factories.make_ensemble()
    player = factories.make_user("Pia", email="pia@x.example")
    client = Client()
    client.force_login(director)
    form = {"name": "Student registry", "scopes": ["people:read", "people:write", "teach"], "days": 90}
    page = client.post("/api/services/", form)
    key, token = page.context["key"], Token.objects.get(owner=None)
    assert key not in client.get("/api/services/").content.decode(), "shown once"
    assert client.post("/api/services/", form | {"scopes": ["people:read"]}).status_code == 422, (
        "one name in the log, one service"
    )
    for scopes in (["work:write"], ["tunes:write"]):
        assert client.post("/api/services/", form | {"name": "Other", "scopes": scopes}).status_code == 422
    director.is_active = False
    director.save()
    assert [row["email"] for row in ask(key, "/api/v1/people?q=Pia").json()["results"]] == ["pia@x.example"]
    body = {"data": {"person": "pia@x.example"}, "content_type": "application/json"}
    headers = {"Authorization": f"Bearer {key}"}
    chair = Client().post(f"/api/v1/ensembles/{ensemble.pk}/chairs", headers=headers, **body)
    assert chair.status_code == 201
    assert Client().delete(f"/api/v1/chairs/{chair.json()['id']}", headers=headers).status_code == 204
    told = AuditEntry.objects.filter(service="Student registry", about=player)
    assert [(row.by, row.by_program, row.text[:12]) for row in told.order_by("id")] == [
        (None, True, "Chair given:"),
        (None, True, "Chair taken "),
    ]
    assert AuditEntry.objects.filter(by=director, text__contains="“Student registry” made").count() == 1
    refused = Client().post("/api/v1/analyse", headers=headers, data={"text": "C"}, content_type="application/json")
    assert refused.status_code == 403
    other = factories.make_director()
    client.force_login(other)
    assert client.post(f"/api/services/{token.pk}/end").status_code == 302
    assert ask(key, "/api/v1/people").status_code == 401
    assert b"Student registry (service)" in client.get("/people/log/?person=registry").content
