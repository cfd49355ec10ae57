"""Journeys through the repertoire: a chart typed by keyboard, kept, saved, moved, overruled; and on a phone."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from studio.models import User
from tests import factories
from tests.browser.conftest import assert_accessible
from tunes.models import ChartDraft, ChartRevision, LabelOverride

SignIn = Callable[[Page, Any], None]
AABA = (
    "key: Eb major\n\nA:\n|: Ebmaj7 | Cm7 F7 | Fm7 Bb7 |1. Gm7 C7 :|2. Eb6 |\n\n"
    "B:\n| Bbm7 Eb7 | Abmaj7 | Abm7 Db7 | Gbmaj7 |"
)


@pytest.fixture
def instructor(transactional_db: None) -> User:
    return factories.make_instructor(factories.make_ensemble(), "Ines")


@pytest.fixture
def player(transactional_db: None) -> User:
    return factories.make_player(factories.make_ensemble(), "Pia", instrument="alto-sax")


def test_a_chart_is_typed_saved_moved_and_overruled_by_keyboard(desk: Page, sign_in: SignIn, instructor: User) -> None:
    tune = factories.make_tune("Alder", key="C major")
    sign_in(desk, instructor)
    desk.goto(f"/tunes/{tune.pk}/charts/new/")
    box, preview, saved = desk.get_by_label("The chart"), desk.locator("#preview"), desk.locator("#saved")
    box.focus()
    desk.keyboard.press("Control+End")
    desk.keyboard.type("A:\n| Dm7 | Gk | Cmaj7 | A7 |")
    expect(preview.locator(".bar")).to_have_count(4)
    expect(preview.get_by_text("1 to put right")).to_be_visible()
    expect(saved).to_have_text(re.compile(r"^Saved \d\d:\d\d$"))

    desk.keyboard.press("Control+.")  # to the problem: what could not be read is selected, typing replaces it
    assert box.evaluate("box => box.value.slice(box.selectionStart, box.selectionEnd)") == "Gk"
    desk.keyboard.type("G7")
    expect(preview.get_by_text("reads well")).to_be_visible()
    expect(saved).to_have_text(re.compile("^Saved"))

    desk.reload()
    expect(desk.get_by_label("The chart")).to_have_value("key: C major\nmetre: 4/4\n\nA:\n| Dm7 | G7 | Cmaj7 | A7 |")
    desk.get_by_label("The chart").focus()
    desk.keyboard.press("Control+Enter")
    expect(desk.get_by_text("Saved as revision 1.")).to_be_visible()
    desk.wait_for_load_state("load")  # keys work once the page's modules have run
    assert not ChartDraft.objects.exists()
    assert ChartRevision.objects.get().text.endswith("| Dm7 | G7 | Cmaj7 | A7 |")

    desk.get_by_label("Concert key").focus()
    desk.get_by_label("Concert key").select_option("Eb")
    expect(desk.locator(".sheet__pitch")).to_contain_text("E♭ major")
    expect(desk.locator(".slot .visually-hidden").first).to_have_text("F minor 7")

    labels = desk.locator("#chart [data-function]")
    labels.first.focus()
    for _ in range(3):
        desk.keyboard.press("ArrowRight")
    desk.keyboard.press("Enter")
    panel = desk.locator("#reading")
    expect(panel.get_by_role("heading", name="in bar 4")).to_be_visible()
    panel.get_by_text("Overrule this label").focus()
    desk.keyboard.press("Enter")
    panel.get_by_label("Key it is heard in").fill("Eb major")
    panel.get_by_label("What it is").fill("5 of 2")
    panel.get_by_label("Why").fill("It goes round to the top.")
    panel.get_by_role("button", name="Overrule").focus()
    desk.keyboard.press("Enter")
    expect(panel.get_by_text("Confirmed by Ines")).to_be_visible()
    expect(panel).to_be_focused()  # the button went with the old panel
    expect(desk.locator("#chart .function--overruled")).to_have_count(1)
    row = LabelOverride.objects.get()
    assert (row.key, row.function["numeral"], row.event) == ("C major", "V7/ii", 3)

    panel.get_by_role("button", name="Withdraw it").click()
    expect(desk.locator("#chart .function--overruled")).to_have_count(0)
    expect(panel).to_be_focused()
    panel.get_by_text("Earlier overrules").click()
    panel.get_by_role("button", name="Undo").click()
    expect(desk.locator("#chart .function--overruled")).to_have_count(1)
    panel.get_by_role("link", name="Chord before").focus()
    desk.keyboard.press("Enter")
    expect(panel.get_by_role("heading", name="in bar 3")).to_be_visible()
    expect(panel.get_by_role("link", name="Chord before")).to_be_focused()
    desk.keyboard.press("Escape")
    expect(panel).to_be_empty()


def test_a_refused_form_is_taken_up_where_it_is_wrong(desk: Page, sign_in: SignIn, instructor: User) -> None:
    sign_in(desk, instructor)
    desk.goto("/tunes/new/")
    desk.get_by_label("Composer").fill("Una Strand")
    desk.keyboard.press("Enter")
    expect(desk.get_by_text("Fill this in: it is required.")).to_be_visible()
    expect(desk.get_by_label("Title")).to_be_focused()
    expect(desk.get_by_label("Composer")).to_have_value("Una Strand")


def test_nothing_typed_is_lost_without_a_connection(desk: Page, sign_in: SignIn, instructor: User) -> None:
    tune = factories.make_tune("Alder")
    sign_in(desk, instructor)
    desk.goto(f"/tunes/{tune.pk}/charts/new/")
    box, saved = desk.get_by_label("The chart"), desk.locator("#saved")
    box.fill("| C7 |")
    expect(saved).to_have_text(re.compile("^Saved"))
    desk.context.set_offline(True)
    box.fill("| C7 | F7 |")
    expect(saved).to_have_text("Not saved: no connection, kept on this device")
    assert ChartDraft.objects.get().text == "| C7 |"
    desk.context.set_offline(False)
    expect(saved).to_have_text(re.compile("^Saved"), timeout=9000)
    assert ChartDraft.objects.get().text == "| C7 | F7 |"

    desk.context.set_offline(True)
    box.fill("| C7 | F7 | G7 |")
    expect(saved).to_have_text(re.compile("^Not saved"))
    desk.goto("about:blank")  # the lid is closed
    desk.context.set_offline(False)
    desk.goto(f"/tunes/{tune.pk}/charts/new/")
    expect(box).to_have_value("| C7 | F7 | G7 |")
    expect(saved).to_have_text(re.compile("^(Saved|Draft of)"))
    assert ChartDraft.objects.get().text == "| C7 | F7 | G7 |"


def test_a_session_that_ended_loses_nothing(desk: Page, sign_in: SignIn, instructor: User) -> None:
    tune = factories.make_tune("Alder")
    sign_in(desk, instructor)
    desk.goto(f"/tunes/{tune.pk}/charts/new/")
    desk.context.clear_cookies()
    desk.get_by_label("The chart").fill("| C7 | F7 |")
    expect(desk.locator("#saved")).to_have_text(re.compile("you are signed out, kept on this device"))
    sign_in(desk, instructor)
    desk.goto(f"/tunes/{tune.pk}/charts/new/")
    expect(desk.get_by_label("The chart")).to_have_value("| C7 | F7 |")
    expect(desk.locator("#saved")).to_have_text(re.compile("^Saved"))


def test_two_windows_ask_which_text_counts(
    open_context: Callable[..., BrowserContext], sign_in: SignIn, instructor: User
) -> None:
    tune = factories.make_tune("Alder")
    context = open_context(1280)
    first, second = context.new_page(), open_context(1280).new_page()
    for page in (first, second):
        sign_in(page, instructor)
        page.goto(f"/tunes/{tune.pk}/charts/new/")
    first.get_by_label("The chart").fill("| C7 |")
    expect(first.locator("#saved")).to_have_text(re.compile("^Saved"))
    second.get_by_label("The chart").fill("| D7 |")
    expect(second.get_by_text("changed in another window")).to_be_visible()
    assert ChartDraft.objects.get().text == "| C7 |"
    second.get_by_role("button", name="Keep the text in this window").click()
    expect(second.locator("#saved")).to_have_text(re.compile("^Saved"))
    first.get_by_label("The chart").fill("| C7 | E7 |")
    expect(first.get_by_text("changed in another window")).to_be_visible()
    first.get_by_role("button", name="Take the other text").click()
    expect(first.get_by_label("The chart")).to_have_value("| D7 |")
    first.get_by_role("button", name="Put it back").click()
    expect(first.get_by_label("The chart")).to_have_value("| C7 | E7 |")


def test_a_player_reads_a_chart_on_a_phone(phone: Page, sign_in: SignIn, player: User) -> None:
    tune = factories.make_tune("Alder", key="Eb major")
    factories.make_version(tune, AABA)
    sign_in(phone, player)
    phone.goto("/tunes/")
    phone.get_by_role("link", name="Alder").tap()
    expect(phone.locator(".sheet__pitch")).to_contain_text("Written for alto saxophone in C major (concert E♭ major)")
    bars = phone.locator("#chart .bar")
    tops = bars.evaluate_all("bars => bars.slice(0, 4).map(bar => Math.round(bar.getBoundingClientRect().top))")
    assert tops[0] == tops[1] < tops[2] == tops[3], "two bars to a system"
    phone.locator("#chart [data-function]").nth(2).tap()
    expect(phone.locator("#reading")).to_contain_text("in bar 2")
    phone.get_by_role("button", name="Close").tap()
    phone.get_by_label("Repeats").select_option("written")
    expect(bars).to_have_count(12)
    phone.get_by_label("Functions as").select_option("spoken")
    expect(phone.locator("#chart [data-function]").first).to_have_text("1")


def test_comments_and_named_sections_leave_the_drawing_straight(desk: Page, sign_in: SignIn, player: User) -> None:
    """The profile of a system is one level line of boxes; a section's word is not broken to fit the margin."""
    text = 'key: C major\nVerse:\n| "freely" Dm7 | G7 | Cmaj7 | C6 |\nA:\n| Dm7 | G7 | "drums fill" Cmaj7 | C6 |'
    revision = factories.make_version(factories.make_tune("Alder", key="C major"), text)
    sign_in(desk, player)
    desk.goto(f"/tunes/{revision.version.tune_id}/charts/{revision.version_id}/")
    tops = desk.locator(".profile").evaluate_all("all => all.map(one => Math.round(one.getBoundingClientRect().top))")
    assert len(tops) == 8
    assert len(set(tops[:4])) == len(set(tops[4:])) == 1
    word = desk.locator(".chart__letter", has_text="Verse")
    assert word.evaluate(
        "one => one.getBoundingClientRect().height < 1.5 * parseFloat(getComputedStyle(one).lineHeight)"
    )


def test_a_chart_can_be_typed_on_a_phone(phone: Page, sign_in: SignIn, instructor: User) -> None:
    tune = factories.make_tune("Alder")
    sign_in(phone, instructor)
    phone.goto(f"/tunes/{tune.pk}/charts/new/")
    phone.get_by_label("The chart").fill("")
    for sign in ("|", " C", "m7", " ", "|"):
        button = phone.locator(f'[data-insert="{sign}"]')
        if button.count():
            button.tap()
        else:
            phone.keyboard.type(sign)
    expect(phone.get_by_label("The chart")).to_have_value("| Cm7 |")
    expect(phone.locator("#preview .bar")).to_have_count(1)
    expect(phone.locator("#saved")).to_have_text(re.compile("^Saved"))


def test_the_list_narrows_while_typing(desk: Page, sign_in: SignIn, player: User) -> None:
    for title in ("Alder", "Birch"):
        factories.make_tune(title)
    sign_in(desk, player)
    desk.goto("/tunes/")
    desk.get_by_label("Title, composer").press_sequentially("bir")
    expect(desk.get_by_role("link", name="Birch")).to_be_visible()
    expect(desk.get_by_role("link", name="Alder")).to_have_count(0)


def test_a_chart_prints_on_one_sheet(desk: Page, sign_in: SignIn, player: User) -> None:
    long = "key: F major\n\nA:\n" + "| Gm7 C7 | Fmaj7 | Fm7 Bb7 | Ebmaj7 |\n" * 8
    tune = factories.make_tune("Alder")
    factories.make_version(tune, long)
    sign_in(desk, player)
    desk.goto(f"/tunes/{tune.pk}/")
    sheet = desk.pdf(format="A4")
    assert len(re.findall(rb"/Type\s*/Page\b", sheet)) == 1


@pytest.mark.parametrize(
    "path",
    [
        "/tunes/",
        "/tunes/{tune}/",
        "/tunes/{tune}/?words=spoken&repeats=written",
        "/tunes/new/",
        "/tunes/{tune}/edit/",
        "/tunes/{tune}/delete/",
        "/tunes/{tune}/recordings/new/",
        "/tunes/{tune}/charts/{version}/",
        "/tunes/{tune}/charts/{version}/edit/",
        "/tunes/{tune}/charts/new/",
        "/tunes/revisions/{revision}/chords/1/",
        "/tunes/revisions/{revision}/chords/1/key/",
        "/tunes/idioms/",
        "/tunes/idioms/{idiom}/",
        "/tunes/idioms/new/",
        "/tunes/revisions/{revision}/name/?from=2&to=4",
    ],
)
def test_every_page_is_accessible(path: str, desk: Page, sign_in: SignIn, instructor: User) -> None:
    tune = factories.make_tune("Alder", key="Eb major", composer="O. Quill", feel="ballad", tempo_low=60)
    factories.make_recording(tune, "The Alder Band", is_reference=True, why="Clear.", link="https://example.org/")
    revision = factories.make_version(tune, AABA, checked=True, by=instructor)
    idiom = factories.make_idiom()
    sign_in(desk, instructor)
    desk.goto(path.format(tune=tune.pk, version=revision.version_id, revision=revision.pk, idiom=idiom.pk))
    for details in desk.locator("main details").all():
        details.evaluate("details => details.open = true")
    assert_accessible(desk)


def test_problems_conflicts_and_the_open_panel_are_accessible(desk: Page, sign_in: SignIn, instructor: User) -> None:
    tune = factories.make_tune("Alder")
    revision = factories.make_version(tune, AABA)
    sign_in(desk, instructor)
    desk.goto(f"/tunes/{tune.pk}/charts/new/")
    desk.get_by_label("The chart").fill("| Ck | Hm7 | ?? |")
    expect(desk.locator(".problems")).to_be_visible()
    assert_accessible(desk)
    desk.goto(f"/tunes/{tune.pk}/charts/{revision.version_id}/")
    desk.locator("#chart [data-function]").first.click()
    expect(desk.locator("#reading [data-panel]")).to_be_visible()
    assert_accessible(desk)


@pytest.mark.parametrize("width", [1280, 390])
def test_the_help_of_the_editor_leaves_the_save_button_free(
    width: int, open_context: Callable[..., BrowserContext], sign_in: SignIn, instructor: User
) -> None:
    page = open_context(width).new_page()
    tune = factories.make_tune("Alder", key="C major")
    sign_in(page, instructor)
    page.goto(f"/tunes/{tune.pk}/charts/new/")
    page.get_by_label("The chart").fill("key: C\n| C6 | Dm7 G7 |")
    page.get_by_text("How to write a chart").click()
    page.get_by_label("Name of this version").fill("played")
    page.get_by_role("button", name="Save the chart").click(timeout=5000)
    expect(page.get_by_text("Saved as revision 1.")).to_be_visible()


@pytest.mark.parametrize("width", [1280, 390])
def test_the_panel_leaves_its_chord_in_sight(
    width: int, open_context: Callable[..., BrowserContext], sign_in: SignIn, instructor: User
) -> None:
    page = open_context(width).new_page()
    revision = factories.make_version(factories.make_tune("Alder"), AABA)
    sign_in(page, instructor)
    page.goto(f"/tunes/{revision.version.tune_id}/charts/{revision.version_id}/")
    page.wait_for_load_state("load")
    for label in (page.locator("#chart [data-function]").first, page.locator("#chart [data-function]").last):
        label.click()
        expect(page.locator("#reading [data-panel]")).to_be_visible()
        expect(page.locator(".slot--open")).to_have_count(1)
        page.wait_for_function(
            "document.querySelector('.slot--open').getBoundingClientRect().bottom"
            " <= document.getElementById('reading').getBoundingClientRect().top"
        )
        page.get_by_role("button", name="Close").click()
    assert page.locator("#reading").bounding_box()["height"] == 0  # type: ignore[index]


def test_bars_are_chosen_by_mouse_and_keyboard_and_named(desk: Page, sign_in: SignIn, instructor: User) -> None:
    revision = factories.make_version(
        factories.make_tune("Alder", key="F major"), "key: F\n| F6 | Cm7 F7 | Bb6 | Gm7 C7 |"
    )
    sign_in(desk, instructor)
    desk.goto(f"/tunes/revisions/{revision.pk}/name/")
    desk.locator("#bar-1").hover()
    desk.mouse.down()
    desk.locator("#bar-2").hover()
    desk.mouse.up()
    summary = desk.locator(".naming__sum")
    expect(summary).to_contain_text("Bars 2 to 3 · 2 minor, 5 dominant, 1 major")
    desk.get_by_label("What you call it").fill("the door")
    desk.locator("#bar-0").focus()
    desk.keyboard.press("End")
    desk.keyboard.press("Enter")
    expect(summary).to_contain_text("Bar 4 · 2 minor, 5 dominant")
    expect(desk.locator(".naming .bar[aria-selected=true]")).to_have_count(1)
    desk.keyboard.press("Shift+ArrowLeft")
    expect(summary).to_contain_text("Bars 3 to 4 · 4 major, 2 minor, 5 dominant")
    desk.get_by_role("button", name="Name it").click()
    expect(desk.get_by_role("heading", name="the door")).to_be_visible()
    expect(desk.locator("main")).to_contain_text("4maj 2min 5dom")
