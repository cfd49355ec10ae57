"""Nobody can lock another person out, and a new password can end what programs hold (common practice, no source)."""

from __future__ import annotations

import re
from types import SimpleNamespace

import pytest
from django.core import mail
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from api.tokens import make_token, recognise
from studio import waits
from studio.models import User
from tests import factories

pytestmark = pytest.mark.django_db
NEW = "another long phrase 7"


@pytest.fixture
def owner() -> User:
    cache.clear()
    return factories.make_user("Ada", email="ada@example.org")


def sign_in(password: str, address: str) -> Client:
    client = Client(REMOTE_ADDR=address)
    client.post(reverse("account_login"), {"login": "Ada@example.org", "password": password})
    return client


def is_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def link(address: str = "10.0.0.9") -> Client:
    """In by the letter of a reset, with a new password."""
    client = Client(REMOTE_ADDR=address)
    client.post(reverse("account_reset_password"), {"email": "ada@example.org"})
    path = re.search(r"http://[^/]+(/\S*/password/reset/\S+)", mail.outbox[-1].body)
    assert path
    form = client.get(path[1], follow=True)
    client.post(form.request["PATH_INFO"], {"password1": NEW, "password2": NEW})
    return client


def test_a_stranger_waits_and_the_owner_does_not(owner: User) -> None:
    for _ in range(30):
        assert not is_in(sign_in("wrong", "10.0.0.1"))
    assert "Wait" in waits.refusal(owner.email, "10.0.0.1")
    assert not is_in(sign_in(factories.PASSWORD, "10.0.0.1"))
    assert is_in(sign_in(factories.PASSWORD, "10.0.0.2"))


def test_the_wait_grows_and_ends(owner: User, monkeypatch: pytest.MonkeyPatch) -> None:
    now = [1_000_000.0]
    monkeypatch.setattr(waits, "time", SimpleNamespace(time=lambda: now[0]))
    found = []
    for _ in range(14):
        waits.failed(owner.email, "10.0.0.1")
        before = now[0]
        while waits.refusal(owner.email, "10.0.0.1"):
            now[0] += 1
        found.append(now[0] - before)
    assert found == [0] * 4 + [5, 10, 20, 40, 80, 160, 300, 300, 300, 300]
    assert is_in(sign_in(factories.PASSWORD, "10.0.0.1"))


def test_from_everywhere_the_link_still_lets_the_owner_in(owner: User) -> None:
    assert is_in(sign_in(factories.PASSWORD, "10.0.0.2"))
    for number in range(waits.FROM_EVERYWHERE):
        waits.failed(owner.email, f"10.1.{number}.1")
    assert not is_in(sign_in(factories.PASSWORD, "10.0.0.3"))
    assert is_in(sign_in(factories.PASSWORD, "10.0.0.2"))  # a place of theirs
    for number in range(waits.FROM_EVERYWHERE):
        waits.failed(owner.email, f"10.2.{number}.1")
    assert is_in(link("10.0.0.3"))
    assert is_in(sign_in(NEW, "10.0.0.3"))


def test_a_reset_ends_every_token_of_the_person(owner: User) -> None:
    _, key = make_token(owner=owner, name="mine", scopes=["tunes:read"], days=9)
    _, other = make_token(owner=factories.make_user(), name="theirs", scopes=["tunes:read"], days=9)
    assert is_in(link())
    assert recognise(key) is None
    assert recognise(other) is not None


@pytest.mark.parametrize("end", [True, False])
def test_a_change_of_password_asks_about_tokens(owner: User, end: bool) -> None:
    client = sign_in(factories.PASSWORD, "10.0.0.2")
    address = reverse("account_change_password")
    assert "End my API tokens" not in client.get(address).content.decode()
    _, key = make_token(owner=owner, name="mine", scopes=["tunes:read"], days=9)
    assert "End my API tokens" in client.get(address).content.decode()
    form = {"oldpassword": factories.PASSWORD, "password1": NEW, "password2": NEW} | (
        {"end_tokens": "on"} if end else {}
    )
    assert client.post(address, form).status_code == 302
    assert (recognise(key) is None) is end
