"""The frame around every page."""

from __future__ import annotations

import pytest
from django.test import Client

from tests import factories

pytestmark = pytest.mark.django_db


def test_home_sends_a_visitor_to_the_sign_in_page(client: Client) -> None:
    response = client.get("/", follow=True)
    assert response.redirect_chain[0][0].startswith("/account/login/")
    assert b"<h1>Sign in</h1>" in response.content


def test_a_person_signs_in_by_e_mail_and_password(client: Client) -> None:
    user = factories.make_user("Ada Quill")
    response = client.post(
        "/account/login/", {"login": user.email.upper(), "password": factories.PASSWORD}, follow=True
    )
    assert not list(response.context["messages"])  # whoever signs in sees the desk; that says enough
    assert b"Welcome, Ada Quill" in response.content


def test_nothing_inline_is_allowed(client: Client) -> None:
    policy = client.get("/account/login/").headers["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert "default-src 'self'" in policy


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/people/?q=%00", 400),
        ("/invitation/a%00b/", 400),
        (f"/people/{2**63}/", 404),
        (f"/people/{2**63 - 1}/", 404),
    ],
)
def test_addresses_that_no_page_has(client: Client, address: str, status: int) -> None:
    client.force_login(factories.make_director())
    assert client.get(address).status_code == status


def test_a_form_from_before_signing_in_is_explained() -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(factories.make_user())
    response = client.post("/me/", {"name": "Ada"})
    assert response.status_code == 403
    assert "what you typed is still there" in response.content.decode()
