"""Journeys by ear in real Chromium: a real sound is sought in, a form tapped, changes taken down, a run played."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pypdfium2
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from playwright.sync_api import Page, expect

from tests import factories
from tests.sounds import tone
from tests.tunes.test_recordings import look
from tunes.by_ear import services as by_ear
from tunes.models import ByEarBar, EarResult, FormMark, Listening, Recording
from tunes.recordings import waves
from tunes.recordings.services import keep_sound

BLUES = "key: F major\n\nA:\n| F7 | Bb7 | F7 | F7 |\nB:\n| Bb7 | Bb7 | F7 | F7 |"
SignIn = Callable[[Page, Any], None]


@pytest.fixture
def stage(transactional_db: None) -> dict[str, Any]:
    """A tune of eight bars with a reference that plays for forty seconds."""
    ensemble = factories.make_ensemble()
    tune = factories.make_tune(key="F major")
    revision = factories.make_version(tune, BLUES)
    recording = factories.make_recording(tune, is_reference=True)
    data = tone(40)
    leader = factories.make_instructor(ensemble)
    kept = keep_sound(
        recording=recording, upload=SimpleUploadedFile("a.wav", data), sound=look(data), rights="our own", by=leader
    )
    waves.draw(kept)
    return {
        "tune": tune, "revision": revision, "recording": recording, "leader": leader,
        "player": factories.make_player(ensemble),
    }  # fmt: skip


def time_of(page: Page) -> float:
    return float(page.evaluate("document.querySelector('[data-sound]').currentTime"))


def seek(page: Page, seconds: float) -> None:
    """Wait until Chromium has really sought in the stream."""
    page.evaluate(
        "seconds => new Promise(done => { const a = document.querySelector('[data-sound]');"
        " a.addEventListener('seeked', done, { once: true }); a.currentTime = seconds; })",
        seconds,
    )


def open_recording(page: Page, recording: Recording) -> list[int]:
    """The page of a recording, loaded so far that it can seek; collects the statuses of its sound."""
    statuses: list[int] = []
    page.on("response", lambda answer: statuses.append(answer.status) if answer.url.endswith("/sound") else None)
    page.goto(reverse("tunes:recording", args=[recording.pk]))
    expect(page.locator("[data-length]")).to_have_text("0:40.0")
    return statuses


def test_real_audio_seeks_through_the_checked_view(desk: Page, sign_in: SignIn, stage: dict[str, Any]) -> None:
    sign_in(desk, stage["player"])
    statuses = open_recording(desk, stage["recording"])
    seek(desk, 33.5)
    assert time_of(desk) == pytest.approx(33.5, abs=0.01)
    assert 206 in statuses
    desk.get_by_role("button", name="Play", exact=True).click()
    desk.wait_for_timeout(600)
    assert 33.6 < time_of(desk) < 36
    desk.get_by_label("Speed").select_option("0.5")
    assert desk.evaluate("(a => [a.playbackRate, a.preservesPitch])(document.querySelector('[data-sound]'))") == [
        0.5,
        True,
    ]


def test_a_form_is_tapped_by_keyboard_saved_and_jumped_in(desk: Page, sign_in: SignIn, stage: dict[str, Any]) -> None:
    sign_in(desk, stage["leader"])
    open_recording(desk, stage["recording"])
    for seconds, key in ((2, "t"), (10, "s"), (18, "t"), (26, "s"), (34, "t")):
        seek(desk, seconds)
        desk.keyboard.press(key)
    expect(desk.locator("[data-marks] tr")).to_have_count(5)
    desk.get_by_role("button", name="Undo the last tap").click()
    expect(desk.locator("[data-marks] tr")).to_have_count(4)
    desk.get_by_role("button", name="Fill in the rest").click()  # eight seconds for four bars: 34 s is the third top
    suggested = desk.get_by_role("slider", name="suggested: chorus 3, bar 1")
    expect(suggested).to_have_attribute("aria-valuenow", "34.00")
    desk.get_by_role("button", name="Take the suggestion away").click()
    mark = desk.get_by_role("slider", name="chorus 2, bar 5")
    mark.press("ArrowRight")
    mark.press("ArrowLeft")
    expect(mark).to_be_focused()
    expect(mark).to_have_attribute("aria-valuenow", "26.00")
    desk.get_by_role("button", name="Save the form map").click()
    expect(desk.locator("[data-saved]")).to_contain_text("Saved")
    marks = list(FormMark.objects.order_by("chorus", "bar").values_list("chorus", "bar", "label"))
    assert marks == [(1, 1, "A"), (1, 5, "B"), (2, 1, "A"), (2, 5, "B")]

    desk.get_by_label("Bar", exact=True).fill("7")
    desk.get_by_label("of chorus").fill("2")
    desk.get_by_role("button", name="Go there").click()
    expect(desk.locator("[data-place]")).to_contain_text("Chorus 2, bar 7")
    assert time_of(desk) == pytest.approx(30, abs=0.1)  # bar 5 at 26 s, two seconds a bar

    desk.get_by_label("Loop from bar").fill("3")
    desk.get_by_label("to bar").fill("3")
    desk.get_by_role("button", name="Loop", exact=True).click()
    expect(desk.locator("[data-loop-said]")).to_contain_text("Looping bars 3 to 3 of chorus 2")
    desk.get_by_role("button", name="Play", exact=True).click()
    desk.evaluate("document.querySelector('[data-sound]').currentTime = 23.8")
    desk.wait_for_timeout(700)
    assert 21.9 < time_of(desk) < 23.5


def test_a_player_taps_by_touch_and_writes_the_log(phone: Page, sign_in: SignIn, stage: dict[str, Any]) -> None:
    sign_in(phone, stage["player"])
    open_recording(phone, stage["recording"])
    seek(phone, 4)
    phone.get_by_role("button", name="Top of the chorus").tap()
    expect(phone.locator("[data-marks] tr")).to_have_count(1)
    phone.reload()
    expect(phone.locator("[data-marks] tr")).to_have_count(1)  # kept on this device
    assert not FormMark.objects.exists()
    phone.get_by_label("What you noticed").fill("The drums mark every fourth bar.")
    phone.get_by_role("button", name="Write it in my log").tap()
    expect(phone.get_by_text("Written in your listening log.")).to_be_visible()
    assert Listening.objects.get().noticed == "The drums mark every fourth bar."


def test_changes_are_taken_down_by_keyboard_alone(desk: Page, sign_in: SignIn, stage: dict[str, Any]) -> None:
    sheet = by_ear.start_sheet(
        user=stage["player"], revision=stage["revision"], recording=stage["recording"], way="chord"
    )
    sign_in(desk, stage["player"])
    desk.goto(reverse("tunes:by-ear", args=[sheet.pk]))
    desk.get_by_label("Chords of bar 1").focus()
    for chords in ("F7", "Bb7", "F7"):
        desk.keyboard.type(chords)
        desk.keyboard.press("Enter")
    expect(desk.locator("[data-saved]")).to_contain_text("Saved")
    expect(desk.locator("#echo-1")).to_have_text("Bb7")
    desk.reload()
    expect(desk.get_by_label("Chords of bar 2")).to_have_value("Bb7")
    desk.get_by_role("button", name="Undo").click()
    expect(desk.get_by_label("Chords of bar 3")).to_have_value("")
    assert dict(ByEarBar.objects.values_list("bar", "chords")) == {0: "F7", 1: "Bb7", 2: ""}
    desk.get_by_label("Chords of bar 3").fill("B7")
    desk.get_by_role("button", name="Compare with the class's chart").click()
    expect(desk.get_by_role("heading", name="what you heard")).to_be_visible()
    assert EarResult.objects.get().kind == "by-ear"


def test_a_dead_connection_loses_nothing(desk: Page, sign_in: SignIn, stage: dict[str, Any], complaints: Any) -> None:
    sheet = by_ear.start_sheet(user=stage["player"], revision=stage["revision"], recording=None, way="chord")
    sign_in(desk, stage["player"])
    desk.goto(reverse("tunes:by-ear", args=[sheet.pk]))
    desk.context.set_offline(True)
    desk.get_by_label("Chords of bar 1").fill("F13")
    expect(desk.locator("[data-saved]")).to_contain_text("kept on this device")
    context = desk.context
    desk.close()  # the window is gone before there is a connection again
    context.set_offline(False)
    later = context.new_page()
    later.goto(reverse("tunes:by-ear", args=[sheet.pk]))
    expect(later.get_by_label("Chords of bar 1")).to_have_value("F13")
    expect(later.locator("[data-saved]")).to_contain_text("Saved")
    assert ByEarBar.objects.get().chords == "F13"
    complaints.lines.clear()


def test_a_run_at_the_form_is_played_and_scored(desk: Page, sign_in: SignIn, stage: dict[str, Any]) -> None:
    """One chorus of eight bars at 320: tapped with the space bar where the plan says, scored in beats."""
    sign_in(desk, stage["player"])
    desk.goto(reverse("tunes:top-of-form", args=[stage["tune"].pk]) + "?choruses=1&tempo=320&silence=none")
    expect(desk.get_by_text("F7")).to_have_count(0)  # the changes are hidden
    desk.get_by_role("button", name="Start").click()
    beat = 60_000 / 320
    desk.wait_for_timeout(round(150 + 4 * beat))
    desk.keyboard.press("Space")
    desk.wait_for_timeout(round(16 * beat))
    desk.keyboard.press("Space")
    desk.wait_for_timeout(round(16 * beat))
    desk.keyboard.press("Space")
    expect(desk.locator("[data-said]")).to_contain_text("%", timeout=15_000)
    expect(desk.locator("[data-result] tbody tr")).to_have_count(3)
    result = EarResult.objects.get()
    assert result.kind == "top-of-form"
    assert result.score > 0.3


def test_a_dispute_is_raised_and_settled(desk: Page, sign_in: SignIn, stage: dict[str, Any]) -> None:
    sign_in(desk, stage["player"])
    desk.goto(reverse("tunes:check", args=[stage["revision"].pk]))
    desk.get_by_role("button", name="Agree to the 8 unchecked bars").click()
    expect(desk.get_by_text("Every bar is agreed: this chart is checked.")).to_be_visible()
    desk.locator("#bar-2 summary").click()
    desk.locator("#bar-2").get_by_label("I hear instead").fill("Cm7 F7")
    desk.locator("#bar-2").get_by_role("button", name="Dispute").click()
    expect(desk.get_by_text("1 disputed")).to_be_visible()
    sign_in(desk, stage["leader"])
    desk.goto(reverse("tunes:disputes"))
    desk.get_by_role("button", name="Change the bar").click()
    expect(desk.get_by_text("Settled: revision 2 is the chart now.")).to_be_visible()
    newest = stage["revision"].version.revisions.order_by("-number").first()
    assert "Cm7 F7" in newest.text
    assert newest.checked


@pytest.mark.parametrize("route", ["tunes:memory-sheet", "tunes:jam-card"])
def test_sheets_print_on_one_page(desk: Page, sign_in: SignIn, stage: dict[str, Any], route: str) -> None:
    """A 32-bar tune with two other versions, on one A4 sheet."""
    aaba = (
        "key: Eb major\n\nA:\n|: Ebmaj7 | Cm7 F7 | Fm7 Bb7 | Gm7 C7b9 |\n| Fm7 | Abm7 Db7 |1. Gm7 C7 | Fm7 Bb7 :|2. Fm7 Bb7 | Eb6 |\n"
        "B:\n| Cm7 F7 | Bbmaj7 | Bbm7 Eb7 | Abmaj7 |\n| Abm7 Db7 | Gbmaj7 | Fm7 C7 | Fm7 Bb7 |\n"
        "A:\n| Ebmaj7 | Cm7 F7 | Fm7 Bb7 | Gm7 C7b9 |\n| Fm7 | Abm7 Db7 | Fm7 Bb7 | Eb6 |"
    )
    tune = factories.make_tune("A tune of thirty-two bars", key="Eb major")
    factories.make_version(tune, aaba)
    factories.make_version(tune, aaba.replace("Fm7 Bb7", "Fm7 E7"), name="with substitutes")
    factories.make_version(tune, aaba.replace("Gm7 C7b9", "Gm7 Gb7"), name="late take")
    sign_in(desk, stage["player"])
    desk.goto(reverse(route, args=[tune.pk]))
    pages = pypdfium2.PdfDocument(desk.pdf(format="A4", prefer_css_page_size=True))
    assert len(pages) == 1
    assert "A tune of thirty-two bars" in pages[0].get_textpage().get_text_bounded()
