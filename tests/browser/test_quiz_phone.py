"""The quiz on a phone: what is answered is in sight, above the keypad, whatever the page does (boxes are measured)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Locator, Page, expect

from assessments.models import Answer, Attempt
from assessments.services.hand_in import start_attempt
from tests import factories
from tests.browser.conftest import assert_accessible

# 32 bars, the repeated A written once; invented.
LONG = """key: F major
[A]
|: Fmaj7 | Gm7 C7 | Am7 D7 | Gm7 C7 | Fmaj7 F7 | Bbmaj7 Bbm7 | 1. Am7 D7 | Gm7 C7 :| 2. Gm7 C7 | Fmaj7 |
[B]
| Cm7 | F7 | Bbmaj7 | Bbmaj7 | Dm7 | G7 | Gm7 | C7 |
[A]
| Fmaj7 | Gm7 C7 | Am7 D7 | Gm7 C7 | Fmaj7 F7 | Bbmaj7 Bbm7 | Gm7 C7 | Fmaj7 |
"""
BOXES = """() => {
  const box = (node) => { const b = node.getBoundingClientRect(); return { top: b.top, bottom: b.bottom }; };
  const field = document.activeElement;
  return { id: field.id, field: box(field), bar: box(field.closest(".bar") ?? field), dock: box(document.querySelector(".dock")) };
}"""


@pytest.fixture
def player() -> Any:
    return factories.make_player(factories.make_ensemble("Tuesday Combo"), "Pia Player", instrument="piano")


def begin(player: Any, kind: str = "function", text: str = LONG) -> Attempt:
    ensemble = player.memberships.get().ensemble
    made = factories.make_assignment(
        ensemble, revision=factories.make_chart_revision("Harbour Steps", text=text), kinds=(kind,)
    )
    return start_attempt(step=made.steps.get(), player=player)


@pytest.fixture
def quiz(phone: Page, sign_in: Callable[[Page, Any], None], player: Any) -> Callable[..., Attempt]:
    def open_it(kind: str = "function", text: str = LONG) -> Attempt:
        attempt = begin(player, kind, text)
        sign_in(phone, player)
        phone.goto(reverse("work:attempt", args=[attempt.pk]))
        expect(phone.locator("#quiz[data-ready]")).to_be_attached()
        return attempt

    return open_it


def box_of(place: Locator) -> tuple[float, float]:
    """Upper and lower edge of a place on the screen."""
    box = place.bounding_box()
    assert box is not None
    return box["y"], box["y"] + box["height"]


def tap(page: Page, *names: str) -> None:
    for name in names:
        page.locator("[data-pad]").get_by_role("button", name=name, exact=True).tap()


def assert_in_sight(page: Page) -> None:
    seen = page.evaluate(BOXES)
    assert seen["bar"]["top"] >= 0, seen
    assert seen["field"]["bottom"] <= seen["dock"]["top"], seen


@pytest.mark.parametrize("height", [844, 640])
@pytest.mark.parametrize("way", ["keypad", "enter", "tap"])
def test_the_field_being_answered_is_always_in_sight(
    way: str,
    height: int,
    phone: Page,
    quiz: Callable[..., Attempt],
) -> None:
    phone.set_viewport_size({"width": 390, "height": height})
    quiz()
    fields = phone.locator("[data-field]")
    fields.first.tap()
    for number in range(1, fields.count()):
        tap(phone, "1")
        if way == "keypad":
            tap(phone, "next field")
        elif way == "enter":
            phone.keyboard.press("Enter")
        else:
            # What is understood moves the fields below it: a finger waits until it stands there, a script has to be told.
            expect(phone.locator(f"#{fields.nth(number - 1).get_attribute('aria-describedby')}")).not_to_have_text("")
            fields.nth(number).tap()
        expect(fields.nth(number)).to_be_focused()
        assert_in_sight(phone)
    for _ in range(fields.count() - 1):
        tap(phone, "field before")
        assert_in_sight(phone)


def test_on_opening_the_chart_has_most_of_what_the_keypad_leaves(phone: Page, quiz: Callable[..., Attempt]) -> None:
    quiz()
    (first, _), (dock, _) = box_of(phone.locator(".bar").first), box_of(phone.locator(".dock"))
    assert dock - first > 0.6 * dock
    assert (
        phone.locator("[data-field]:visible").evaluate_all(
            "(fields, low) => fields.filter((f) => f.getBoundingClientRect().bottom < low).length", dock
        )
        >= 6
    )
    assert_accessible(phone, widths=(390,))


def test_what_is_typed_and_understood_stands_above_the_keypad_and_stays_under_the_field(
    phone: Page,
    quiz: Callable[..., Attempt],
) -> None:
    quiz()
    phone.locator("[data-field]").nth(1).tap()
    tap(phone, "substitute", "5", "of", "5")
    expect(phone.locator("[data-dock-typed]")).to_have_text("sub 5 of 5")
    expect(phone.locator("[data-dock-echo]")).to_have_text("subV7 of V in F: D♭7 → C7")
    field = phone.locator("#q2")
    assert field.evaluate("(f) => f.scrollWidth <= f.clientWidth"), "the answer is cut"
    tap(phone, "next field")
    expect(phone.locator("[data-dock-typed]")).to_have_text("")
    expect(phone.locator("#e2")).to_be_visible()
    expect(phone.locator("#e2")).to_have_text("subV7 of V in F: D♭7 → C7")


def test_a_quality_never_lands_in_the_number(phone: Page, quiz: Callable[..., Attempt]) -> None:
    attempt = quiz()
    expect(phone.get_by_role("group", name="Quality").get_by_role("button", name="sixth chord")).to_have_text("6th")
    for row in ("Number", "Quality"):
        texts = phone.get_by_role("group", name=row, exact=True).get_by_role("button").all_inner_texts()
        assert ("7" in texts, "6" in texts) == ((row == "Number"), (row == "Number"))
    phone.locator("[data-field]").first.tap()
    tap(phone, "dominant seventh")
    expect(phone.locator("[data-dock-echo]")).to_have_text("First the number, then its quality.")
    expect(phone.locator("#q1")).to_have_value("")
    tap(phone, "flat")
    tap(phone, "sixth chord")
    expect(phone.locator("#q1")).to_have_value("b")
    tap(phone, "7", "dominant seventh")
    expect(phone.locator("[data-dock-echo]")).to_have_text("♭VII7 in F: E♭7")
    tap(phone, "next field", "5", "of")
    tap(phone, "minor seventh")
    expect(phone.locator("#q2")).to_have_value("5 of ")
    expect(phone.locator("[data-status]")).to_contain_text("Saved")
    assert Answer.objects.get(attempt=attempt, text="b7dom7")


def test_rubbing_out_works_from_the_end_wherever_the_finger_fell(phone: Page, quiz: Callable[..., Attempt]) -> None:
    quiz()
    field = phone.locator("#q1")
    field.tap()
    tap(phone, "substitute", "5")
    field.evaluate("(f) => f.setSelectionRange(1, 1)")
    tap(phone, "rub out")
    expect(field).to_have_value("sub ")
    tap(phone, "rub out")
    expect(field).to_have_value("")
    tap(phone, "5", "of", "2", "next field", "field before", "rub out", "3")  # coming back selects nothing
    expect(field).to_have_value("5 of 3")


def test_handing_in_with_blanks_asks_in_full_sight(phone: Page, quiz: Callable[..., Attempt]) -> None:
    phone.set_viewport_size({"width": 390, "height": 640})
    quiz()
    phone.locator("[data-field]").first.tap()
    phone.get_by_role("button", name="Hand in", exact=True).tap()
    for name in ("Hand in as it is", "Go to the first blank"):
        high, low = box_of(phone.get_by_role("button", name=name))
        assert 0 <= high < low <= 640, name
    expect(phone.get_by_role("button", name="Go to the first blank")).to_be_focused()
    phone.keyboard.press("Enter")
    expect(phone.get_by_role("button", name="Hand in as it is")).to_be_hidden()
    phone.get_by_role("button", name="Hand in", exact=True).tap()
    assert_accessible(phone, widths=(390,))
    phone.get_by_role("button", name="Go to the first blank").tap()
    expect(phone.locator("[data-pad]")).to_be_visible()
    assert_in_sight(phone)


def test_a_phone_offers_no_list_of_keys_until_a_key_is_pressed(phone: Page, quiz: Callable[..., Attempt]) -> None:
    quiz()
    expect(phone.locator("[data-keys]")).to_be_hidden()
    phone.keyboard.press("Tab")
    expect(phone.locator("[data-keys]")).to_be_visible()


def test_key_areas_chart_and_field_are_seen_together(phone: Page, quiz: Callable[..., Attempt]) -> None:
    quiz("key-areas")
    field = phone.locator("[data-field]")
    bars = phone.locator(".bar")
    for number in (0, bars.count() - 1):
        bars.nth(number).evaluate("(bar) => bar.scrollIntoView({ block: 'start' })")
        field.tap()
        bar, box, dock = (box_of(place) for place in (bars.nth(number), field, phone.locator(".dock")))
        assert -1 < bar[0] < bar[1] <= box[0]
        assert 280 < box[0] < box[1] <= dock[0]  # 280: what is left to the chart
    tap(phone, "1", "space", "F", "next area", "3", "caret left", "1", "rub out", "1")
    expect(field).to_have_value("1 F, 13")
    assert_accessible(phone, widths=(390,))


def test_at_a_desk_the_first_blank_field_waits(
    desk: Page,
    sign_in: Callable[[Page, Any], None],
    player: Any,
) -> None:
    attempt = begin(player)
    sign_in(desk, player)
    desk.goto(reverse("work:attempt", args=[attempt.pk]))
    expect(desk.locator("#q1")).to_be_focused()
    desk.keyboard.type("1")
    desk.keyboard.press("Enter")
    expect(desk.locator("[data-status]")).to_contain_text("Saved")
    desk.reload()
    expect(desk.locator("#q2")).to_be_focused()


# Keys on which a word goes on in the next line: more lines than words.
BROKEN_KEYS = """pad => [...pad.querySelectorAll(".pad__key")].filter((key) => {
  const range = document.createRange();
  range.selectNodeContents(key);
  const lines = new Set([...range.getClientRects()].map((box) => Math.round(box.top)));
  return lines.size > key.textContent.trim().split(" ").length;
}).map((key) => key.textContent)"""
SCALES = {"major", "dorian", "phryg.", "lydian", "mixol.", "aeolian", "locrian"}


def test_a_scale_can_be_answered_with_the_keypad(phone: Page, quiz: Callable[..., Attempt]) -> None:
    attempt = quiz("scale", "key: C major\n[A]\n| Dm7 | A7 | G7 | Cmaj7 |\n")
    assert set(phone.get_by_role("group", name="Scale").get_by_role("button").all_inner_texts()) == SCALES
    assert "dorian" in phone.locator("[data-lead]").text_content()  # an example of its own
    assert phone.locator("[data-pad]").evaluate(BROKEN_KEYS) == [], "a word is broken on its key"
    phone.locator("[data-field]").first.tap()
    tap(phone, "D", "dorian", "then the notes that differ", "no note differs")
    expect(phone.locator("#q1")).to_have_value("D dorian: none")
    tap(
        phone,
        "next field",
        "A",
        "mixolydian",
        "flat thirteen",
        "then the notes that differ",
        "C",
        "sharp",
        "rub out",
        "sharp",
    )
    expect(phone.locator("#q2")).to_have_value("A mixolydian b13: C#")
    expect(phone.locator("#e2")).not_to_have_class("ask__echo--no")
    tap(phone, "rub out", "rub out", "rub out", "rub out")
    expect(phone.locator("#q2")).to_have_value("A mixolydian")
    assert_accessible(phone, widths=(390,))
    expect(phone.locator("[data-status]")).to_contain_text("Saved")
    assert Answer.objects.get(attempt=attempt, text="D dorian: none")


def test_answers_that_cannot_be_read_are_listed_at_hand_in(phone: Page, quiz: Callable[..., Attempt]) -> None:
    quiz()
    phone.locator("#q2").fill("zzz")
    phone.get_by_role("button", name="Hand in", exact=True).tap()
    expect(phone.locator("[data-blank-text]")).to_contain_text("fields are blank. One answer cannot be read:")
    expect(phone.locator("[data-unread] button")).to_contain_text("“zzz”")
    assert_accessible(phone, widths=(390,))
    phone.locator("[data-unread] button").tap()
    expect(phone.locator("#q2")).to_be_focused()


def test_a_second_tab_with_an_older_answer_is_told(phone: Page, quiz: Callable[..., Attempt]) -> None:
    attempt = quiz()
    other = phone.context.new_page()
    other.goto(phone.url)
    expect(other.locator("#quiz[data-ready]")).to_be_attached()
    phone.bring_to_front()
    phone.locator("#q1").fill("1")
    phone.locator("#q2").focus()
    expect(phone.locator("[data-status]")).to_contain_text("Saved")
    # A window that comes to the front asks what others have saved; this one gets no answer until it has typed.
    other.route("**/save/", lambda route: route.abort() if route.request.method == "GET" else route.continue_())
    other.bring_to_front()
    other.locator("#q1").fill("2")
    other.locator("#q2").focus()
    expect(other.locator(".conflict")).to_contain_text("Another window saved “1” here")
    other.get_by_role("button", name="Keep mine").click()
    expect(other.locator("[data-status]")).to_contain_text("Saved")
    phone.bring_to_front()
    phone.evaluate("() => window.dispatchEvent(new Event('focus'))")  # as when the tab is looked at again
    expect(phone.locator(".conflict")).to_contain_text("Another window saved “2” here")
    phone.get_by_role("button", name="Hand in", exact=True).tap()
    phone.get_by_role("button", name="Hand in as it is").tap()
    expect(phone.locator("[data-status]")).to_contain_text("choose which answer to keep first")
    assert Attempt.objects.get(pk=attempt.pk).is_open
    texts = set(attempt.history.values_list("text", flat=True))
    assert {"1", "2"} <= texts
