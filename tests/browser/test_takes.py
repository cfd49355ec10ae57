"""A take from the microphone to the instructor's ear: recorded, its upload cut once, handed in, commented at a bar, answered.

Chromium's own fake microphone sounds; what the server keeps of it is decoded there.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

from drills.models import Take
from drills.takes import waves
from tests import factories
from tests.access_rows.takes import make_take
from tests.browser.conftest import Complaints, assert_accessible

SHORT = "key: C major\n\nA:\n| Dm7 G7 | C6 |"


def test_a_take_is_recorded_sent_and_heard(
    desk: Page, phone: Page, sign_in: Callable[[Page, Any], None], complaints: Complaints
) -> None:
    ensemble = factories.make_ensemble()
    player, leader = factories.make_player(ensemble, "Noor"), factories.make_instructor(ensemble, "Teodor")
    revision = factories.make_version(factories.make_tune("Quay Light"), SHORT)
    step = factories.make_assignment(ensemble, by=leader, kinds=("hand-in",), revision=revision).steps.get()
    sign_in(phone, player)
    sign_in(desk, leader)

    phone.goto(f"/work/steps/{step.pk}/")
    phone.get_by_text("Record a take").click()
    phone.get_by_role("button", name="Open the microphone").click()
    phone.get_by_label("Tempo").fill("240")
    phone.get_by_label("In the headphones").select_option("click")
    expect(phone.get_by_text("The microphone is open")).to_be_visible()
    phone.get_by_role("button", name="Record", exact=True).click()
    expect(phone.get_by_text("Kept on this device. Listen")).to_be_visible(timeout=15_000)
    assert_accessible(phone, widths=(390,))

    # A take that is nowhere else is asked about before one signs out.
    phone.locator("form[data-asks]").get_by_role("button", name="Sign out").first.click()
    expect(phone.get_by_text("on this device and nowhere else")).to_be_visible()
    phone.get_by_role("button", name="Stay").click()

    # The connection is cut while it goes up, and the tab is closed.
    phone.context.route("**/takes/new/", lambda route: route.abort())
    phone.get_by_role("button", name="Choose this one").click()
    expect(phone.get_by_text("No connection: kept on this device")).to_be_visible()
    assert not Take.objects.exists()
    again = phone.context.new_page()
    phone.close()
    again.context.unroute("**/takes/new/")
    again.goto("/drills/takes/")  # any page sends what waits
    expect(again.get_by_text("kept: it stands in the list")).to_be_visible()
    take = Take.objects.get()
    assert take.media_type == "audio/webm"
    assert abs(take.duration - (0.25 + 1 + 2 + 1.2)) < 0.6  # count-in of a bar, two bars at 240, what rings on
    waves.draw(take.pk)  # as the worker does
    take.refresh_from_db()
    assert max(take.peaks) > 5  # the fake microphone beeps

    again.goto(f"/work/steps/{step.pk}/")
    again.get_by_label("A take").select_option(str(take.pk))
    again.get_by_role("button", name="Hand in").click()
    expect(again.get_by_text("Handed in:")).to_be_visible()

    desk.goto("/work/review/")
    desk.get_by_role("link", name="Noor").click()
    root = desk.locator("[data-take][data-ready]")
    expect(root).to_be_visible()
    assert_accessible(desk, widths=(1280,))
    desk.locator("body").press("Space")
    expect(desk.locator("[data-now]")).to_contain_text("Bar 2", timeout=15_000)
    desk.locator("body").press("c")
    desk.locator("#take-text").type("1 c: land on the 3rd")  # digits and letters are words while one types
    desk.locator("#take-text").press("Control+Enter")
    expect(desk.locator("[data-comments]")).to_contain_text("1 c: land on the 3rd")
    assert take.comments.get().bar == 1
    desk.get_by_role("button", name="Comment here").click()
    desk.locator("#take-text").type("and sing it")  # not kept yet: going on keeps it
    desk.get_by_label("On the whole take").fill("Slower, and all of it")
    desk.locator("[data-accept]").click()
    expect(desk.locator(".state--reviewed")).to_be_visible()
    assert sorted(take.comments.values_list("text", flat=True)) == ["1 c: land on the 3rd", "and sing it"]
    expect(desk.get_by_text("Slower, and all of it")).to_be_visible()

    again.goto(f"/drills/takes/{take.pk}/")
    expect(again.locator("[data-comments]")).to_contain_text("land on the 3rd")
    first = again.locator("[data-comments] li").first
    first.get_by_text("Answer, once").click()
    first.get_by_label("Your answer").fill("I hear it")
    first.get_by_role("button", name="Send the answer").click()
    expect(again.locator(".take__answer")).to_contain_text("I hear it")
    assert complaints.lines == []


def test_a_quick_word_under_the_thumb(phone: Page, sign_in: Callable[..., None]) -> None:
    """Before, the form opened above the staff, whose bar went out of sight, and a quick word took two presses and the keyboard of the screen."""
    ensemble = factories.make_ensemble()
    leader, player = factories.make_instructor(ensemble), factories.make_player(ensemble, "Noor")
    bars = " | ".join(["Cm7 | F7 | Bbmaj7 | Bbmaj7"] * 8)
    take = make_take(player, factories.make_version(factories.make_tune(), f"key: Bb\n| {bars} |"), ensemble=ensemble)
    sign_in(phone, leader)
    phone.goto(f"/drills/takes/{take.pk}/")
    expect(phone.locator("[data-take][data-ready]")).to_be_visible()
    phone.get_by_role("button", name="Comment here").tap()
    form = phone.locator("[data-comment-form]")
    expect(form).to_be_focused()  # and no field: the keyboard of the screen stays away
    bar, over = phone.locator(".bar.is-now").bounding_box(), form.bounding_box()
    assert bar
    assert over
    assert 0 <= bar["y"] < bar["y"] + bar["height"] <= over["y"]
    word = form.locator("[data-quick]").first
    said = word.get_attribute("data-quick") or "?"
    word.tap()
    expect(phone.locator("[data-comments] li")).to_contain_text(said)
    expect(form).to_be_hidden()
    assert_accessible(phone, widths=(390,))
