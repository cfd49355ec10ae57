"""The main job in the browser: assign, answer by keyboard or by thumb, hand in, review, ledger."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import BrowserContext, Page, expect

from assessments.models import Answer, Attempt, Evidence, Mark
from assessments.services.hand_in import hand_in, start_attempt
from tests import factories
from tests.browser.conftest import WIDTHS, assert_accessible
from tests.sounds import tone
from tests.tunes.test_recordings import look
from tunes.recordings.form_map import Moment
from tunes.recordings.services import keep_sound, save_marks

CHART = "key: F major\n[A]\n| Fmaj7 | D7 | Gm7 C7 | Fmaj7 |\n"
RIGHT = ["1maj7", "5 of 2", "2m7", "57", "1maj7"]  # the five chords, as a musician says them


class Cast:
    def __init__(self) -> None:
        self.ensemble = factories.make_ensemble("Tuesday Combo")
        self.leader = factories.make_instructor(self.ensemble, "Leo Leader")
        self.player = factories.make_player(self.ensemble, "Pia Player", instrument="piano")
        self.chart = factories.make_chart_revision("Harbour Steps", text=CHART)

    def attempt(self) -> Attempt:
        made = factories.make_assignment(self.ensemble, by=self.leader, revision=self.chart, title="Harbour Steps")
        return start_attempt(step=made.steps.get(), player=self.player)


@pytest.fixture
def cast() -> Cast:
    return Cast()


def fields(page: Page) -> Any:
    return page.locator("[data-field]")


def ready(page: Page, attempt: Attempt) -> None:
    page.goto(reverse("work:attempt", args=[attempt.pk]))
    expect(page.locator("#quiz[data-ready]")).to_be_attached()


def at_the_sheet(page: Page) -> None:
    expect(page.locator("[data-sheet][data-ready]")).to_be_attached()


def saved(page: Page) -> None:
    expect(page.locator("[data-status]")).to_contain_text(re.compile(r"Saved \d\d:\d\d"))


def answers(attempt: Attempt) -> list[str]:
    return list(Answer.objects.filter(attempt=attempt).order_by("question").values_list("text", flat=True))


@pytest.mark.parametrize("width", WIDTHS)
def test_assign_answer_hand_in_review_ledger(
    cast: Cast,
    width: int,
    open_context: Callable[..., BrowserContext],
    sign_in: Callable[[Page, Any], None],
) -> None:
    lead, play = open_context(width).new_page(), open_context(width).new_page()
    sign_in(lead, cast.leader)
    sign_in(play, cast.player)

    lead.goto(reverse("work:assignments"))
    lead.get_by_role("link", name="Assign a tune").first.click()
    lead.get_by_role("link", name="Harbour Steps").click()
    lead.get_by_label("Instructions").fill("Say it before you write it.")
    lead.get_by_label("Marks and answers are shown").select_option("hand-in")
    for kind in ("Listening", "Form", "Key areas"):
        lead.get_by_role("button", name=f"Take out: {kind}").click()
    lead.get_by_role("button", name="Assign it").click()
    expect(lead.get_by_role("heading", name="How far the ensemble is")).to_be_visible()

    play.goto(reverse("work:desk"))
    assert_accessible(play, widths=(width,))
    play.get_by_role("button", name="Harbour Steps, Function of every chord").click()
    expect(play.locator("#quiz[data-ready]")).to_be_attached()
    expect(fields(play)).to_have_count(len(RIGHT))
    fields(play).first.focus()
    for text in RIGHT[:-1]:
        play.keyboard.type(text)
        play.keyboard.press("Enter")
    expect(play.locator("#e2")).to_have_text("V7 of ii in F: D7 → Gm7")
    play.keyboard.type("4")  # one slip in the last bar
    saved(play)
    assert_accessible(play, widths=(width,))
    play.keyboard.press("Control+Enter")
    expect(play.get_by_role("heading", name="Bar by bar")).to_be_visible()
    assert_accessible(play, widths=(width,))
    expect(play.get_by_text("1 to look at again")).to_be_visible()
    rows, right = play.locator(".answer-row"), play.locator(".answer-row:not(.answer-row--missed)")
    assert set(play.locator(".answer-row .points").evaluate_all("(all) => all.map((one) => one.firstChild.data)")) == {
        "1 of 1",
        "0 of 1",
    }
    edges = rows.evaluate_all(
        "(all) => all.map((row) => Math.round(row.querySelector('.points').getBoundingClientRect().right))"
    )
    assert len(set(edges)) == 1, "points stand in one column"
    play.get_by_label("Only what was missed").check()
    expect(rows.locator("visible=true")).to_have_count(1)
    expect(right.first).to_be_hidden()
    play.get_by_label("Only what was missed").uncheck()
    expect(right.first).to_be_visible()
    right.first.locator("summary").first.click()
    expect(right.first.locator(".answer-row__why")).to_be_visible()
    assert_accessible(play, widths=(width,))

    lead.goto(reverse("work:queue"))
    expect(lead.locator("[data-queue][data-ready]")).to_be_attached()
    lead.locator("body").press("ArrowDown")
    expect(lead.get_by_role("link", name="Pia Player")).to_be_focused()
    assert_accessible(lead, widths=(width,))
    lead.keyboard.press("Enter")
    expect(lead.get_by_role("heading", name="Pia Player")).to_be_visible()
    lead.goto(f"{lead.url.partition('?')[0]}?view=list")
    at_the_sheet(lead)
    lead.get_by_role("button", name="Next missed bar").click()
    lead.get_by_role("button", name="Comment here").click()
    lead.keyboard.type("Hear how the bass comes home.")
    lead.keyboard.press("Control+Enter")
    expect(lead.get_by_role("blockquote")).to_contain_text("Hear how the bass comes home.")
    assert_accessible(lead, widths=(width,))
    at_the_sheet(lead)
    lead.locator("body").press("?")
    expect(lead.get_by_role("heading", name="Keys")).to_be_visible()
    assert_accessible(lead, widths=(width,))
    switch = lead.get_by_label("Single-letter keys work on this device")
    switch.uncheck()
    lead.keyboard.press("Escape")
    lead.locator("body").press("?")  # off: a letter is only a letter (WCAG 2.2, 2.1.4)
    lead.wait_for_timeout(300)
    expect(lead.get_by_role("heading", name="Keys")).to_be_hidden()
    lead.reload()
    at_the_sheet(lead)
    lead.keyboard.press("Shift")  # also where a touch screen had hidden the list of keys
    lead.get_by_role("button", name="Keys ?").click()
    expect(switch).not_to_be_checked()
    switch.check()
    lead.keyboard.press("Escape")
    lead.locator("body").press("Control+Enter")
    expect(lead.get_by_text("Reviewed: Pia Player")).to_be_visible()
    assert_accessible(lead, widths=(width,))
    at_the_sheet(lead)
    lead.get_by_role("button", name="Undo").click()
    expect(lead.get_by_text("Back in the queue: Pia Player")).to_be_visible()
    at_the_sheet(lead)
    lead.locator("body").press("Control+Enter")
    expect(lead.get_by_text("Reviewed: Pia Player")).to_be_visible()

    lead.goto(reverse("work:assignments"))
    lead.get_by_role("link", name="Harbour Steps").click()
    lead.get_by_role("link", name="Sign off").click()
    lead.get_by_label("Pia Player").check()
    lead.get_by_label("On what evidence").fill("Two choruses from memory")
    lead.get_by_role("button", name="Sign off those ticked").click()
    expect(lead.get_by_text("Signed off: 1 player.")).to_be_visible()
    lead.goto(reverse("work:ledger"))
    lead.get_by_role("link", name=re.compile("Pia Player, Harbour Steps")).press("Enter")
    expect(lead.locator("#cell-words")).to_contain_text("Sign-off in person: done")
    assert_accessible(lead, widths=(width,))
    lead.get_by_role("link", name="Everything on record").click()
    expect(lead.get_by_text("Two choruses from memory")).to_be_visible()
    play.goto(reverse("work:my-tunes"))
    play.locator("summary", has_text="Harbour Steps").click()
    expect(play.get_by_text("Signed off by Leo Leader")).to_be_visible()
    assert Evidence.objects.filter(player=cast.player).count() == 2


@pytest.mark.parametrize("width", WIDTHS)
def test_the_ledger_keeps_its_heads_in_sight_and_moves_by_arrows(
    cast: Cast,
    width: int,
    open_context: Callable[..., BrowserContext],
    sign_in: Callable[[Page, Any], None],
) -> None:
    for number in range(9):
        factories.make_player(cast.ensemble, f"Zoe {number}")
    for number in range(6):
        chart = factories.make_chart_revision(f"Landing {number}", text=CHART)
        factories.make_assignment(cast.ensemble, by=cast.leader, revision=chart, title=f"Landing {number}")
        Evidence.objects.create(
            player=cast.player,
            tune=chart.version.tune,
            ensemble=cast.ensemble,
            kind="form",
            what="Form",
            percent=90,
            on=timezone.now(),
            by=cast.leader,
        )
    page = open_context(width).new_page()
    page.set_viewport_size({"width": width, "height": 400})
    sign_in(page, cast.leader)
    page.goto(reverse("work:ledger"))
    cells = page.locator("[data-cell]")
    cells.first.focus()
    page.keyboard.press("ArrowDown")
    expect(cells.nth(6 if width == 1280 else 1)).to_be_focused()
    page.mouse.wheel(0, 10000)
    head = page.get_by_role("columnheader", name="Landing 5") if width == 1280 else page.get_by_role("rowheader").last
    expect(head).to_be_in_viewport()
    cells.last.click()
    words = page.locator("#cell-words")
    expect(words).to_contain_text("Zoe 8")
    expect(words).to_contain_text("Form: not asked")
    page.keyboard.press("Escape")
    expect(words).to_be_hidden()
    expect(cells.last).to_be_focused()
    assert page.evaluate("document.documentElement.scrollWidth") == width
    assert_accessible(page, widths=(width,))


def test_by_thumb_alone(cast: Cast, phone: Page, sign_in: Callable[[Page, Any], None]) -> None:
    """Every answer with the buttons on the screen; the device's own keyboard is never asked for."""
    attempt = cast.attempt()
    sign_in(phone, cast.player)
    ready(phone, attempt)
    assert fields(phone).first.get_attribute("inputmode") == "none"

    def tap(*names: str) -> None:
        for name in names:
            phone.locator("[data-pad]").get_by_role("button", name=name, exact=True).tap()

    fields(phone).first.tap()
    tap("1", "major seventh", "next field")
    tap("5", "of", "2", "next field")
    expect(phone.locator("#e2")).to_have_text("V7 of ii in F: D7 → Gm7")
    tap("2", "minor seventh", "next field", "5", "6", "rub out", "dominant seventh", "next field")
    tap("name a key", "F", "then the numbers", "1", "major seventh")
    saved(phone)
    assert answers(attempt) == ["1maj7", "5 of 2", "2m7", "5dom7", "F: 1maj7"]
    phone.get_by_role("button", name="Hand in", exact=True).tap()
    expect(phone.get_by_text("Every answer is right.")).to_be_visible()


def test_moving_and_repeating_by_keyboard(cast: Cast, desk: Page, sign_in: Callable[[Page, Any], None]) -> None:
    attempt = cast.attempt()
    sign_in(desk, cast.player)
    ready(desk, attempt)

    def at() -> int:
        return int(desk.evaluate("document.activeElement.id.slice(1)"))

    fields(desk).first.focus()
    steps = [
        ("Enter", 2),
        ("ArrowRight", 3),
        ("ArrowLeft", 2),
        ("Shift+Enter", 1),
        ("Tab", 2),
        ("PageDown", 3),
        ("PageDown", 5),
        ("PageUp", 3),
        ("Shift+Tab", 2),
    ]
    for key, number in steps:
        desk.keyboard.press(key)
        assert at() == number, key
    desk.keyboard.type("5 of 2")
    desk.keyboard.press("ArrowLeft")
    assert at() == 2  # inside a field the arrow moves the caret
    desk.keyboard.press("Enter")
    desk.keyboard.press("=")
    expect(fields(desk).nth(2)).to_have_value("5 of 2")
    desk.keyboard.press("?")
    expect(desk.get_by_role("heading", name="Keys")).to_be_visible()
    assert_accessible(desk)
    desk.keyboard.press("Escape")
    assert at() == 3
    saved(desk)
    desk.keyboard.press("Control+Enter")
    expect(desk.get_by_text("3 fields are blank.")).to_be_visible()
    desk.get_by_role("button", name="Go to the first blank").click()
    assert at() == 1


def test_nothing_is_lost_without_a_connection(cast: Cast, desk: Page, sign_in: Callable[[Page, Any], None]) -> None:
    attempt = cast.attempt()
    sign_in(desk, cast.player)
    ready(desk, attempt)
    desk.context.set_offline(True)
    fields(desk).first.focus()
    for text in RIGHT:
        desk.keyboard.type(text)
        desk.keyboard.press("Enter")
    expect(desk.get_by_text("Not saved: no connection, kept on this device")).to_be_visible()
    desk.get_by_role("button", name="Hand in", exact=True).click()
    expect(desk.get_by_text("Not handed in: no connection.")).to_be_visible()
    assert answers(attempt) == []
    desk.context.set_offline(False)
    saved(desk)
    assert answers(attempt) == RIGHT
    assert attempt.history.count() == len(RIGHT)


def test_a_closed_lid_loses_nothing(
    cast: Cast,
    open_context: Callable[..., BrowserContext],
    sign_in: Callable[[Page, Any], None],
) -> None:
    """Written without a connection, the window closed, opened again another day: the answers arrive once."""
    attempt = cast.attempt()
    context = open_context(1280)
    first = context.new_page()
    sign_in(first, cast.player)
    ready(first, attempt)
    context.set_offline(True)
    fields(first).nth(1).fill("5 of 2")
    expect(first.get_by_text("Not saved: no connection, kept on this device")).to_be_visible()
    first.close()
    context.set_offline(False)
    second = context.new_page()
    ready(second, attempt)
    expect(fields(second).nth(1)).to_have_value("5 of 2")
    saved(second)
    assert answers(attempt) == ["5 of 2"]
    assert second.evaluate("Object.keys(localStorage).filter(k => k.startsWith('topform-answers')).length") == 0


def test_an_answer_that_arrived_but_whose_reply_was_lost_counts_once(
    cast: Cast,
    desk: Page,
    sign_in: Callable[[Page, Any], None],
) -> None:
    attempt = cast.attempt()
    sign_in(desk, cast.player)
    ready(desk, attempt)
    lost = []

    def swallow(route: Any) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.fetch())
        route.abort()

    desk.route("**/save/", swallow)
    fields(desk).first.fill("1")
    saved(desk)
    assert len(lost) == 1
    assert answers(attempt) == ["1"]
    assert attempt.history.count() == 1


def test_two_windows_are_told_about_each_other(
    cast: Cast,
    open_context: Callable[..., BrowserContext],
    sign_in: Callable[[Page, Any], None],
) -> None:
    attempt = cast.attempt()
    one, two = open_context(1280).new_page(), open_context(390).new_page()
    for page in (one, two):
        sign_in(page, cast.player)
        ready(page, attempt)
        # A window that comes to the front asks what others have saved; these get no answer.
        page.route("**/save/", lambda route: route.abort() if route.request.method == "GET" else route.continue_())
    fields(one).first.fill("1")
    saved(one)
    fields(two).first.fill("6")
    expect(two.get_by_text("Another window saved “1” here")).to_be_visible()
    assert_accessible(two, widths=(390,))
    assert answers(attempt) == ["1"]
    two.get_by_role("button", name="Keep mine").click()
    saved(two)
    assert answers(attempt) == ["6"]
    fields(one).first.fill("2")
    expect(one.get_by_text("Another window saved “6” here")).to_be_visible()
    one.get_by_role("button", name="Take that one").click()
    expect(fields(one).first).to_have_value("6")
    assert answers(attempt) == ["6"]


def test_a_double_click_hands_in_once(cast: Cast, desk: Page, sign_in: Callable[[Page, Any], None]) -> None:
    attempt = cast.attempt()
    sign_in(desk, cast.player)
    ready(desk, attempt)
    for number, text in enumerate(RIGHT):
        fields(desk).nth(number).fill(text)
    desk.get_by_role("button", name="Hand in", exact=True).dblclick()
    expect(desk.get_by_text("Every answer is right.")).to_be_visible()
    assert Mark.objects.filter(attempt=attempt).count() == len(RIGHT)
    assert Evidence.objects.count() == 1


def test_a_window_left_open_after_hand_in_says_so(
    cast: Cast,
    open_context: Callable[..., BrowserContext],
    sign_in: Callable[[Page, Any], None],
) -> None:
    attempt = cast.attempt()
    old, new = open_context(1280).new_page(), open_context(390).new_page()
    for page in (old, new):
        sign_in(page, cast.player)
        ready(page, attempt)
    new.get_by_role("button", name="Hand in", exact=True).click()
    new.get_by_role("button", name="Hand in as it is").click()
    expect(new.get_by_role("heading", name="Bar by bar")).to_be_visible()
    fields(old).first.fill("1")
    expect(old.get_by_text("This attempt has been handed in.")).to_be_visible()
    assert attempt.history.get().outcome == "late"
    old.get_by_role("button", name="See what came of it").click()
    expect(old.get_by_role("heading", name="Bar by bar")).to_be_visible()


@pytest.mark.parametrize("width", WIDTHS)
def test_changes_by_ear_are_assigned_taken_down_handed_in_and_reviewed(
    cast: Cast,
    width: int,
    open_context: Callable[..., BrowserContext],
    sign_in: Callable[[Page, Any], None],
) -> None:
    """From the recording with the chart closed; a reload and a lost connection in between lose nothing."""
    tune = cast.chart.version.tune
    recording = factories.make_recording(tune, "The Reference", is_reference=True)
    data = tone(9)
    keep_sound(
        recording=recording,
        upload=SimpleUploadedFile("a.wav", data),
        sound=look(data),
        rights="our own",
        by=cast.leader,
    )
    save_marks(
        recording=recording, by=cast.leader, moments=[Moment(1, bar, (bar - 1) * 2.0, "A") for bar in range(1, 5)]
    )
    lead, context = open_context(width).new_page(), open_context(width)
    play = context.new_page()
    sign_in(lead, cast.leader)
    sign_in(play, cast.player)

    lead.goto(f"{reverse('work:assign')}?tune={tune.pk}")
    for kind in ("Listening", "Form", "Key areas", "Sign-off"):
        lead.get_by_role("button", name=f"Take out: {kind}").click()
    lead.get_by_label("Add a step").select_option("Changes by ear")
    lead.get_by_role("button", name="Add", exact=True).click()
    lead.get_by_role("button", name="Assign it").click()
    expect(lead.get_by_role("heading", name="How far the ensemble is")).to_be_visible()

    play.goto(reverse("tunes:tune", args=[tune.pk]))
    expect(play.get_by_text("its charts open when you hand in")).to_be_visible()
    assert_accessible(play, widths=(width,))
    play.goto(reverse("work:desk"))
    expect(play.get_by_text("after the changes by ear")).to_be_visible()
    play.get_by_role("button", name="Begin").first.click()
    expect(play.locator("#quiz[data-ready]")).to_be_attached()
    expect(fields(play)).to_have_count(4)
    expect(play.locator(".chord")).to_have_count(0)
    play.get_by_role("button", name="I have read it").click()  # the caution about ears, once
    expect(play.locator("#quiz[data-ready]")).to_be_attached()

    fields(play).nth(1).focus()
    play.keyboard.press("Alt+p")
    play.wait_for_timeout(700)
    play.keyboard.press("Alt+p")
    at, paused = play.evaluate("(a => [a.currentTime, a.paused])(document.querySelector('[data-sound]'))")
    assert (2 < at < 4.5, paused) == (True, True)  # bar 2 of the form map, and no further

    fields(play).first.focus()
    play.keyboard.type("Fmaj7")
    play.keyboard.press("Enter")
    play.keyboard.type("Ab7")
    play.keyboard.press("Enter")
    play.keyboard.type("Gm7 C7")
    expect(play.locator("#e3")).to_have_text("Gm7 C7")
    saved(play)
    play.reload()
    expect(play.locator("#quiz[data-ready]")).to_be_attached()
    expect(fields(play).nth(2)).to_have_value("Gm7 C7")
    context.set_offline(True)
    fields(play).nth(3).fill("F6")
    expect(play.get_by_text("Not saved: no connection, kept on this device")).to_be_visible()
    context.set_offline(False)
    saved(play)
    assert_accessible(play, widths=(width,))
    play.keyboard.press("Control+Enter")
    expect(play.get_by_role("heading", name="Bar by bar")).to_be_visible()
    expect(play.get_by_text("Tritone substitute.")).to_be_visible()
    expect(play.get_by_text("94%")).to_be_visible()
    play.get_by_role("button", name="Hear bar 2").click()
    expect(play.get_by_role("button", name="Stop")).to_be_visible()
    assert_accessible(play, widths=(width,))
    play.goto(reverse("tunes:tune", args=[tune.pk]))
    expect(play.locator("#chart")).to_be_visible()

    lead.goto(reverse("work:queue"))
    lead.get_by_role("link", name="Pia Player").click()
    expect(lead.get_by_text("“Ab7”")).to_be_hidden()
    lead.get_by_role("link", name="First to look at").click()  # the reason opens at the chord
    expect(lead.get_by_text("“Ab7”")).to_be_visible()
    assert_accessible(lead, widths=(width,))
    lead.get_by_role("button", name="Hear bar 2").click()
    expect(lead.get_by_role("button", name="Stop")).to_be_visible()
    lead.keyboard.press("Escape")
    expect(lead.get_by_role("button", name="Stop")).to_have_count(0)
    lead.get_by_role("button", name="Reviewed", exact=True).click()
    expect(lead.get_by_text("Reviewed: Pia Player")).to_be_visible()
    assert Evidence.objects.get(player=cast.player).kind == "changes"


def test_a_long_chart_shows_what_to_look_at_and_a_comment_is_under_the_thumb(
    cast: Cast,
    open_context: Callable[..., BrowserContext],
    sign_in: Callable[[Page, Any], None],
) -> None:
    section = "| Cmaj7 | Dm7 | G7 | Cmaj7 |\n" * 5
    text = f"key: C major\n\nA:\n{section}\nB:\n{section.replace('Cmaj7', 'Am7')}"
    step = factories.make_assignment(
        cast.ensemble, by=cast.leader, kinds=("function",), revision=factories.make_chart_revision(text=text)
    ).steps.get()
    step.assignment.ask_repeats = True
    answers = {q["id"]: q["key"]["expected"]["numeral"] for q in step.quiz.questions}
    missed = next(q["id"] for q in step.quiz.questions if q["bar"] > 20)
    done = factories.make_attempt(step, cast.player, answers=answers | {missed: "banana"}, hand_in=True)
    lead = open_context(390).new_page()
    sign_in(lead, cast.leader)
    lead.goto(reverse("work:sheet", args=[done.pk]))
    show = lead.get_by_role("button", name="All right: show the answers")
    expect(show).to_have_count(1)
    expect(lead.locator("#said-0")).to_be_hidden()
    show.click()
    expect(lead.locator("#said-0")).to_be_visible()
    lead.get_by_role("link", name="First to look at").click()
    comment = lead.locator(".why:target summary", has_text="Comment at")
    expect(comment).to_be_in_viewport()
    box, height = comment.bounding_box(), lead.evaluate("innerHeight")
    assert box is not None
    assert (box["y"] > height / 2, box["height"] >= 44) == (True, True)  # the lower half of the screen


@pytest.mark.parametrize("width", WIDTHS)
def test_another_mark_by_keyboard_with_the_house_words(
    cast: Cast,
    width: int,
    open_context: Callable[..., BrowserContext],
    sign_in: Callable[[Page, Any], None],
) -> None:
    attempt = cast.attempt()
    hand_in(attempt_id=attempt.pk, player_id=cast.player.pk)
    lead = open_context(width).new_page()
    sign_in(lead, cast.leader)
    lead.goto(reverse("work:sheet", args=[attempt.pk]) + "?view=list")
    at_the_sheet(lead)
    lead.get_by_role("button", name="Next missed bar").click()
    lead.get_by_role("button", name="Give another mark", exact=True).click()
    lead.keyboard.type("5")
    lead.keyboard.press("Enter")
    expect(lead.get_by_text("A question earns from 0 to 1: type a number between them, such as 0.5.")).to_be_visible()
    points = lead.locator("[name=points]:focus")
    expect(points).to_have_value("5")
    assert_accessible(lead, widths=(width,))
    points.fill("0.5")
    lead.keyboard.press("Enter")
    expect(lead.get_by_text("Say why: the player reads it.")).to_be_visible()
    lead.locator("[name=reason]:focus").fill("Said it aloud")
    lead.keyboard.press("Enter")
    expect(lead.locator(".override").first).to_contain_text("gave 0.5 instead of 0: Said it aloud")
    at_the_sheet(lead)
    lead.get_by_label("Comment", exact=True).fill("Sing it first")  # not added yet: it goes along
    lead.get_by_role("button", name="For another go").click()
    expect(lead.get_by_text("For another go: Pia Player")).to_be_visible()
    attempt.refresh_from_db()
    assert (attempt.status, [row.text for row in attempt.comments.all()]) == ("returned", ["Sing it first"])
