"""A player in a corridor: from signing in to the first answer in three presses; the desk by keyboard."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import BrowserContext, Page, expect

from assessments.models import DeskHabit, OwnQuiz
from tests import factories
from tests.browser.conftest import assert_accessible


@pytest.fixture
def player(transactional_db: None) -> Any:
    """A player with two tunes nobody asks for and one that is assigned."""
    ensemble = factories.make_ensemble()
    factories.make_chart_revision("Free one")
    factories.make_chart_revision("Free two")
    factories.make_assignment(ensemble, kinds=("listening", "form"), title="Asked one")
    return factories.make_player(ensemble, "Pia Player")


def test_two_minutes_in_the_corridor(
    player: Any, open_context: Callable[..., BrowserContext], sign_in: Callable[[Page, Any], None]
) -> None:
    phone = open_context(390).new_page()
    sign_in(phone, player)  # the first press
    phone.goto(reverse("studio:home"))
    expect(phone.get_by_role("heading", name="Today")).to_be_visible()
    head = phone.locator(".site-header__top").bounding_box()
    assert head is not None
    assert head["height"] < 64  # one row
    phone.get_by_role("button", name="Test me, 2 minutes").click()  # the second
    expect(phone.locator("#quiz[data-ready]")).to_be_attached()
    first = phone.locator("#quiz .ask__in").first
    first.click()  # the third: now the first answer
    first.fill("1")
    expect(phone.locator("[data-status]")).to_contain_text("Saved")
    phone.locator("[data-hand-in]").click()
    phone.locator("[data-hand-in-anyway]").click()
    expect(phone.get_by_role("button", name="Another one like it")).to_be_visible()
    assert OwnQuiz.objects.get().answers

    phone.goto(reverse("work:desk"))
    phone.get_by_role("radio", name="20").focus()
    phone.keyboard.press("ArrowRight")
    expect(phone.get_by_role("radio", name="40")).to_be_checked()
    expect(phone.get_by_role("heading", name="Today")).to_be_visible()
    phone.wait_for_load_state("networkidle")
    assert DeskHabit.objects.get().minutes == 40
    expect(phone.get_by_role("radio", name="40")).to_be_focused()  # the list changed in place
    phone.get_by_role("button", name="in words").click()
    expect(phone.get_by_text(re.compile("to do")).first).to_be_visible()
    assert_accessible(phone)
