"""Signing in, as a person does it."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from tests import factories
from tests.browser.conftest import assert_accessible


def test_sign_in_page_is_accessible_and_works_by_keyboard(desk: Page) -> None:
    user = factories.make_user("Ada Quill")
    desk.goto("/")
    assert_accessible(desk)
    desk.get_by_label("E-mail").focus()
    desk.keyboard.type(user.email)
    desk.keyboard.press("Tab")
    desk.keyboard.type(factories.PASSWORD)
    desk.keyboard.press("Enter")
    expect(desk.get_by_role("heading", name="Welcome, Ada Quill")).to_be_visible()
    assert_accessible(desk)


def test_the_theme_switch_changes_the_page_and_is_kept(phone: Page, sign_in) -> None:  # type: ignore[no-untyped-def]
    user = factories.make_user()
    sign_in(phone, user)
    phone.goto("/")
    with phone.expect_response("**/theme"):
        phone.get_by_label("Light or dark").select_option("dark")
    expect(phone.locator("html")).to_have_attribute("data-theme", "dark")
    phone.reload()
    expect(phone.locator("html")).to_have_attribute("data-theme", "dark")
    user.refresh_from_db()
    assert user.theme == "dark"


def test_errors_of_the_sign_in_form_are_said_in_words(desk: Page) -> None:
    desk.goto("/account/login/")
    desk.get_by_label("E-mail").fill("nobody@example.org")
    desk.get_by_label("Password").fill("wrong password")
    desk.get_by_role("button", name="Sign in").click()
    expect(desk.get_by_role("alert")).to_contain_text("not correct")
    assert_accessible(desk)
