"""A passkey on a phone, by keyboard: set up, asked for, and enough by itself."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

from studio.models import Programme
from tests import factories
from tests.browser.conftest import assert_accessible

DEVICE = {
    "protocol": "ctap2",
    "transport": "internal",
    "hasResidentKey": True,
    "hasUserVerification": True,
    "isUserVerified": True,
    "automaticPresenceSimulation": True,
}


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).press("Enter")


def test_a_passkey_by_keyboard(phone: Page, sign_in: Callable[[Page, Any], None]) -> None:
    Programme.objects.create(name="Harbour Jazz")
    user = factories.make_user("Ada Quill")
    tools = phone.context.new_cdp_session(phone)
    tools.send("WebAuthn.enable")
    tools.send("WebAuthn.addVirtualAuthenticator", {"options": DEVICE})
    phone.goto("/account/login/")
    phone.get_by_label("E-mail").fill(user.email)
    phone.get_by_label("Password").fill(factories.PASSWORD)
    press(phone, "Sign in")
    expect(phone.get_by_role("heading", name="Welcome, Ada Quill")).to_be_visible()
    phone.goto("/account/second-factor/passkey/")
    phone.get_by_label("Name").fill("phone")
    press(phone, "Add it")
    expect(phone.get_by_role("heading", name="Recovery codes")).to_be_visible()
    expect(phone.locator(".codes li")).to_have_count(10)
    assert_accessible(phone)
    for alone in (False, True):
        press(phone, "Sign out")
        expect(phone.get_by_label("E-mail")).to_be_visible()
        if alone:
            press(phone, "Use a passkey")
        else:
            phone.get_by_label("E-mail").fill(user.email)
            phone.get_by_label("Password").fill(factories.PASSWORD)
            press(phone, "Sign in")
            assert_accessible(phone)
            press(phone, "Use a passkey")
        expect(phone.get_by_role("heading", name="Welcome, Ada Quill")).to_be_visible()
