"""From an empty site to players who have signed in, as a director and a player do it."""

from __future__ import annotations

import re
from collections.abc import Callable

from playwright.sync_api import BrowserContext, Page, expect

from studio.models import Membership, User
from studio.services.setup import setup_path
from tests import factories
from tests.browser.conftest import assert_accessible

ROSTER = "name;e-mail;ensemble;instrument\nAda Quill;ada@x.example;Tuesday Combo;Tenor sax\nBo Quist;bo@x.example;Tuesday Como;Bass\n"


def test_setup_term_ensemble_roster_invitation(
    desk: Page,
    open_context: Callable[..., BrowserContext],
    mailoutbox,  # type: ignore[no-untyped-def]
) -> None:
    desk.goto(setup_path() or "")
    assert_accessible(desk)
    desk.get_by_label("Name of the programme").fill("North Hall jazz")
    desk.get_by_label("Your name").fill("Dora Director")
    desk.get_by_label("Your e-mail").fill("dora@north.example")
    desk.get_by_label("Password").fill("short")
    desk.get_by_role("button", name="Begin").click()
    expect(desk.get_by_text("at least 10 characters", exact=False).last).to_be_visible()
    expect(desk.get_by_label("Name of the programme")).to_have_value("North Hall jazz")
    assert_accessible(desk)
    desk.get_by_label("Password").fill("three plain words")
    desk.get_by_role("button", name="Begin").click()

    expect(desk.get_by_role("heading", name="Terms and ensembles")).to_be_visible()
    desk.get_by_label("Name", exact=True).fill("Spring")
    desk.get_by_label("First day").fill("2030-01-07")
    desk.get_by_label("Last day").fill("2030-05-10")
    desk.get_by_role("button", name="Make the term").click()
    desk.get_by_label("Name", exact=True).first.fill("Tuesday Combo")
    desk.get_by_role("button", name="Make the ensemble").click()
    expect(desk.get_by_role("heading", name="Tuesday Combo")).to_be_visible()

    desk.get_by_role("link", name="Roster from a file").click()
    desk.get_by_label("File", exact=False).first.set_input_files(
        {"name": "roster.csv", "mimeType": "text/csv", "buffer": ROSTER.encode("utf-16")}
    )
    desk.get_by_role("button", name="Check the roster").click()
    expect(desk.get_by_text("Line 3:")).to_be_visible()
    expect(desk.get_by_text("Type Tuesday Combo, or make that ensemble first.")).to_be_visible()
    assert_accessible(desk)
    assert not User.objects.filter(email="ada@x.example").exists()
    box = desk.get_by_label("Or the rows themselves")
    box.fill(box.input_value().replace("Tuesday Como;", "Tuesday Combo;"))
    desk.get_by_role("button", name="Check again").click()
    expect(desk.get_by_text("New: 2 people")).to_be_visible()
    assert_accessible(desk)
    desk.get_by_role("button", name="Write the roster").click()
    expect(desk.get_by_text("2 letters sent")).to_be_visible()
    assert Membership.objects.count() == 2

    link = re.search(r"/invitation/\S+", next(letter.body for letter in mailoutbox if letter.to == ["ada@x.example"]))
    assert link
    phone = open_context(390).new_page()
    phone.goto(link[0])
    assert_accessible(phone)
    phone.get_by_label("Password").fill("my own plain words")
    phone.get_by_role("button", name="Save the password and go in").click()
    expect(phone.get_by_role("heading", name="Today")).to_be_visible()  # a player's first page is the desk
    assert_accessible(phone)


def test_chairs_are_given_and_taken_by_keyboard(desk: Page, sign_in: Callable[..., None]) -> None:
    combo = factories.make_ensemble("Tuesday Combo")
    factories.make_user("Ada Quill")
    sign_in(desk, factories.make_director())
    desk.goto(f"/ensembles/{combo.pk}/")
    desk.locator("#id_person").focus()
    desk.keyboard.type("ada quill")
    desk.keyboard.press("Enter")
    expect(desk.get_by_text("Ada Quill is in Tuesday Combo")).to_be_visible()
    desk.get_by_role("button", name="Take away the chair of Ada Quill").focus()
    desk.keyboard.press("Enter")
    expect(desk.get_by_text("has left Tuesday Combo")).to_be_visible()


def test_a_form_is_not_sent_twice_by_a_double_click(desk: Page, sign_in: Callable[..., None]) -> None:
    sign_in(desk, factories.make_director())
    desk.goto("/people/new/")
    desk.get_by_label("Name", exact=True).fill("Ada Quill")
    desk.get_by_label("E-mail").fill("ada@x.example")
    desk.get_by_role("button", name="Add").dblclick()
    expect(desk.get_by_role("heading", name="Ada Quill")).to_be_visible()
    assert User.objects.filter(email="ada@x.example").count() == 1


def test_the_skip_link_leads_to_the_page(desk: Page) -> None:
    desk.goto("/account/login/")
    desk.keyboard.press("Tab")
    expect(desk.get_by_role("link", name="Skip to the page")).to_be_focused()
    desk.keyboard.press("Enter")
    expect(desk.locator("main")).to_be_focused()
