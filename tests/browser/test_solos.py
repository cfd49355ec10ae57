"""A solo written down in real Chromium: at a desk by keyboard alone, on a phone with the pad; then read."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from playwright.sync_api import Page, expect

from tests import factories
from tests.browser.conftest import assert_accessible
from tests.sounds import tone
from tests.tunes.test_recordings import look
from tunes.models import Solo, SoloDraft
from tunes.recordings.form_map import Moment
from tunes.recordings.services import keep_sound, save_marks
from tunes.solos import services
from tunes.solos.bars import Covers

SignIn = Callable[[Page, Any], None]
CHART = "key: F major\n\nA:\n| F7 | Bb7 | F7 | Cm7 F7 |"


@pytest.fixture
def stage(transactional_db: None) -> dict[str, Any]:
    """A tune of four bars whose reference plays, with a form map of two choruses of eight seconds."""
    ensemble = factories.make_ensemble()
    tune = factories.make_tune(key="F major")
    revision = factories.make_version(tune, CHART)
    recording = factories.make_recording(tune, "Ada Invented", is_reference=True)
    data, leader = tone(20), factories.make_instructor(ensemble)
    keep_sound(
        recording=recording, upload=SimpleUploadedFile("a.wav", data), sound=look(data), rights="our own", by=leader
    )
    save_marks(recording=recording, by=leader, moments=[Moment(1, 1, 1.0, "A"), Moment(2, 1, 9.0, "A")])
    return {
        "tune": tune,
        "revision": revision,
        "recording": recording,
        "player": factories.make_player(ensemble, instrument="trumpet"),
    }


def begun(stage: dict[str, Any]) -> Solo:
    return services.begin(
        by=stage["player"], revision=stage["revision"], recording=stage["recording"], player="Ada Invented",
        instrument="trumpet", covers=Covers(1, 1, 1, 4), bars=4,
    )  # fmt: skip


def stored(solo: Solo) -> list[str]:
    """What the server has: "Bb4 1/2" for a note, "- 1" for a rest, with its flags."""
    rows = SoloDraft.objects.get(solo=solo).notes["notes"]
    flags = ("tie", "ghost", "guess")
    return [
        " ".join([row.get("pitch", "-"), row["length"], *(flag for flag in flags if row.get(flag))]) for row in rows
    ]


def open_staves(page: Page, solo: Solo) -> None:
    page.goto(reverse("tunes:solo-write", args=[solo.pk]))
    expect(page.locator("[data-ready='1']")).to_have_count(1)


def test_by_keyboard_alone_at_a_desk(desk: Page, sign_in: SignIn, stage: dict[str, Any]) -> None:
    """From the empty staves to the reading without a mouse: notes, lengths, a tie over the bar line, a triplet, undo."""
    sign_in(desk, stage["player"])
    desk.goto(reverse("tunes:solo-new", args=[stage["tune"].pk]))
    desk.get_by_label("Who plays it").fill("Ada")
    desk.get_by_label("Who plays it").press("Enter")
    expect(desk.locator("[data-ready='1']")).to_have_count(1)
    staves = desk.locator("[data-staves]")
    expect(staves).to_be_focused()
    expect(desk.locator(".ruler__words").first).to_have_text("empty")
    for key in "r d b g a b d":  # G major as a trumpet reads it: concert F
        if key != " ":
            desk.keyboard.press(key)
    expect(desk.locator(".ruler__words").first).to_have_text("3½ of 4: ½ beat missing")
    desk.keyboard.press("t")  # the last D is tied into one more
    for key in ("c", "ArrowUp", "+", "3", "e", "g", "x"):
        desk.keyboard.press(key)
    expect(desk.locator("#solo-words")).to_contain_text("G5, quarter, triplet, ghost note")
    desk.keyboard.press("a")
    desk.keyboard.press("Control+z")
    expect(desk.locator("[data-saved]")).to_contain_text("Saved")
    solo = Solo.objects.get()
    assert stored(solo) == [
        "- 1/2", "C5 1/2", "A4 1/2", "F4 1/2", "G4 1/2", "A4 1/2", "C5 1/2 tie", "C5 1/2", "B4 2/3", "D5 2/3", "F5 2/3 ghost",
    ]  # fmt: skip
    desk.keyboard.press("End")
    desk.keyboard.press("Space")  # the loop of two bars, from the recording
    expect(desk.locator(".solo-bar.is-looped")).to_have_count(2)
    desk.keyboard.press("Space")
    desk.locator("[data-done]").press("Enter")
    expect(desk.locator("[data-solo-read]")).to_have_count(1)
    expect(desk.locator(".degree").first).to_have_text("5")
    desk.locator("[data-staves]").focus()
    desk.keyboard.press("ArrowRight")
    expect(desk.locator("[data-told-words]")).to_contain_text("5th of G7")
    assert_accessible(desk)


def nothing_waits(page: Page) -> None:
    """Until nothing of a solo is kept on the device: the words of the page may still be those it came with."""
    page.wait_for_function(
        "() => document.querySelector('[data-ready]') && !Object.keys(localStorage).some((name) => /solo.*\\d/.test(name))"
    )


def test_with_the_pad_on_a_phone_and_without_a_connection(phone: Page, sign_in: SignIn, stage: dict[str, Any]) -> None:
    """Thumb only; a dead connection loses nothing, and a second window is told before anything is overwritten."""
    sign_in(phone, stage["player"])
    solo = begun(stage)
    open_staves(phone, solo)

    def tap(*names: str) -> None:
        for name in names:
            phone.locator(f"[data-pad] button[aria-label='{name}']").tap()

    tap("quarter", "G", "A", "flat", "eighth", "B", "rest")
    expect(phone.locator("[data-saved]")).to_contain_text("Saved")
    phone.context.set_offline(True)
    tap("D", "tie")
    expect(phone.locator("[data-saved]")).to_contain_text("Not saved: no connection, kept on this device")
    phone.context.set_offline(False)
    phone.reload()
    nothing_waits(phone)
    expect(phone.locator("[data-saved]")).to_contain_text("Saved")
    assert stored(solo) == ["F4 1", "Gb4 1", "A4 1/2", "- 1/2", "C5 1/2 tie", "C5 1/2"]
    other = phone.context.new_page()
    open_staves(other, solo)
    tap("E")
    expect(phone.locator("[data-saved]")).to_contain_text("Saved")
    other.locator("[data-pad] button[aria-label='C']").tap()
    expect(other.locator("[data-other]")).to_be_visible()
    other.locator("[data-take-other]").tap()
    expect(other.locator("[data-other]")).to_be_hidden()
    assert stored(solo)[-1] == "D5 1/2"
    assert solo.revisions.get().why == "of another window"
    buttons = phone.locator("[data-pad] button:visible").all()
    sizes = [button.bounding_box() for button in buttons]
    assert all(size and size["height"] >= 44 for size in sizes)
    assert phone.evaluate("document.scrollingElement.scrollWidth <= window.innerWidth")


SIGNS = """async () => {
  const { accidentals } = await import("/static/js/solos/notes.js");
  const { alone, onsetsOf } = await import("/static/js/solos/parts.js");
  const n = (step, alter, tie = false) => ({ pitch: { step, alter }, length: 1, tuplet: 0, tie });
  const rate = 11025, sound = new Float32Array(rate * 3);
  for (const t of [0.5, 1, 1.5, 2]) for (let i = 0; i < 800; i += 1) sound[Math.floor(t * rate) + i] = Math.sin(i * 0.4) * Math.exp(-i / 300);
  const heard = onsetsOf(sound, rate, 10);
  return [
    accidentals([n(31, 1), n(31, 0), n(31, 0)], -1), accidentals([n(31, 0)], -1, [n(31, 1)]), accidentals([n(31, 0)], -1, [n(31, 1), n(31, 0)]),
    accidentals([n(34, -1)], -1, [n(34, 0)]), accidentals([n(31, 1), n(31, 1)], -1, [n(31, 1, true)]),
    heard.length, alone([10.53, 11.03, 11.3, 11.53].map((second) => ({ second })), heard, 0.08).map((one) => one.second),
  ];
}"""


def test_tapped_notes_are_guesses_until_they_are_taken(desk: Page, sign_in: SignIn, stage: dict[str, Any]) -> None:
    """Tapped with the space bar while the recording plays; one is named, one dropped, the rest taken. Signs before notes: once a
    bar, again as a reminder in the next, not over a tie (common practice, cf. Gould, *Behind Bars*, 2011, from memory)."""
    solo = begun(stage)
    sign_in(desk, stage["player"])
    desk.goto(reverse("tunes:solo-write", args=[solo.pk]))
    staves = desk.locator("[data-staves]")
    expect(desk.locator("[data-solo-write][data-ready]")).to_be_attached()
    assert desk.evaluate(SIGNS) == [
        ["sharp", "natural", None], ["natural"], [None], ["flat"], [None, "sharp"], 4, [11.3],
    ]  # fmt: skip
    desk.locator("[data-count-in]").uncheck()
    desk.locator("[data-tap]").click()
    desk.wait_for_timeout(400)
    for _ in range(4):
        desk.keyboard.press("Space")
        desk.wait_for_timeout(350)
    desk.locator("[data-tap]").click()
    words = desk.locator("[data-guess-words]")
    expect(words).to_have_text("Guess 1 of 4")
    expect(desk.locator(".guess")).to_have_count(4)
    staves.press("e")
    expect(words).to_have_text("Guess 1 of 3")
    desk.get_by_role("button", name="Drop").click()
    expect(words).to_have_text("Guess 1 of 2")
    desk.get_by_role("button", name="Take all").click()
    expect(desk.locator("[data-guesses]")).to_be_hidden()
    expect(desk.locator("[data-saved]")).to_contain_text("Saved")
    rows = SoloDraft.objects.get(solo=solo).notes["notes"]
    assert sum("pitch" in row for row in rows) >= 3
    assert not any(row.get("guess") for row in rows)
    desk.locator("[data-compare]").click()
    expect(desk.locator("[data-tap-said]")).to_contain_text("By your taps")
