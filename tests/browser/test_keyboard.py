"""A keyboard on the page and the other band, in the browser. There is no MIDI device on a machine for tests: `navigator.requestMIDIAccess`
is replaced by a stub with one input, through which the messages of a keyboard are sent (MIDI 1.0: 0x90 note on, 0x80 note off)."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from drills.models import Practice
from tests import factories
from tests.browser.conftest import assert_accessible
from tunes.by_ear import services as by_ear
from tunes.models import ByEarBar, EarResult

MIDI = """
navigator.requestMIDIAccess = async () => {
  window.keys = { name: "Test keys", onmidimessage: null };
  return { inputs: new Map([["1", window.keys]]), onstatechange: null };
};
window.chord = async (notes) => {
  for (const note of notes) window.keys.onmidimessage({ data: [0x90, note, 90] });
  await new Promise((done) => setTimeout(done, 200));
  for (const note of notes) window.keys.onmidimessage({ data: [0x80, note, 0] });
};
"""


@pytest.fixture
def player() -> Any:
    return factories.make_player(factories.make_ensemble(), "Pia", instrument="piano")


def test_chords_played_are_judged_noted_and_taken_down(desk: Page, sign_in: Any, player: Any) -> None:
    desk.add_init_script(MIDI)
    revision = factories.make_version(factories.make_tune("Two chords", key="C major"), "key: C\n| Dm7 | G7 |")
    sheet = by_ear.start_sheet(user=player, revision=revision, recording=None, way="chord")
    sign_in(desk, player)
    desk.goto(f"/drills/charts/{revision.pk}/keyboard/")
    desk.get_by_role("button", name="Use a MIDI keyboard").click()
    expect(desk.locator("[data-keys-said]")).to_have_text("Listening to Test keys.")
    desk.evaluate("window.chord([50, 53])")
    expect(desk.locator("[data-verdict]")).to_contain_text("Dm7: Without its 7th. The 7th is missing: C.")
    expect(desk.locator("[data-asked]")).to_contain_text("1 of 2")
    desk.evaluate("window.chord([50, 53, 60])")
    expect(desk.locator("[data-asked]")).to_contain_text("2 of 2")
    assert_accessible(desk)
    # The second chord by keyboard alone, on the keys of the page: D flat 7 for G7.
    desk.locator('[data-key-number="60"]').focus()
    for steps, key in ((1, "ArrowRight"), (4, "ArrowRight"), (6, "ArrowRight")):
        for _ in range(steps):
            desk.keyboard.press(key)
        desk.keyboard.press("Space")
    desk.keyboard.press("Enter")
    expect(desk.locator("[data-verdict]")).to_contain_text("D♭7 for G7")
    desk.get_by_role("button", name="See it all and note it").click()
    expect(desk.get_by_text("1 of 2 chords right")).to_be_visible()
    assert Practice.objects.get().went == "steady"
    desk.goto(f"/tunes/by-ear/{sheet.pk}/")
    desk.get_by_text("Play the chord instead of typing it").click()
    desk.get_by_role("button", name="Use a MIDI keyboard").click()
    desk.evaluate("window.chord([43, 53, 59])")
    field = desk.locator('[data-field="chords"]').first
    expect(field).to_have_value("G7")
    field.fill("G7sus4")
    expect(desk.locator("[data-saved]")).to_contain_text("Saved ", timeout=10_000)
    assert ByEarBar.objects.get().chords == "G7sus4", "a suggestion, edited"


def test_the_other_band_is_heard_asked_and_told(phone: Page, sign_in: Any, player: Any) -> None:
    revision = factories.make_version(
        factories.make_tune("Another way", key="C major"), "key: C\n| Dm7 | G7 | Cmaj7 | % |"
    )
    sign_in(phone, player)
    phone.goto(f"/drills/charts/{revision.pk}/other-band/?choruses=2&seed=4")
    questions = phone.locator("[data-questions]")
    expect(questions).to_be_hidden()
    phone.get_by_role("button", name="More").click()
    phone.get_by_label("Tempo").fill("320")
    phone.get_by_label("Count-in").select_option("0")
    phone.get_by_role("button", name="Play", exact=True).click()
    expect(phone.locator("[data-now]")).to_have_text("The end. What went another way?", timeout=20_000)
    expect(questions).to_be_visible()
    phone.locator('[data-bar="1"]').check()
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    assert_accessible(phone)
    phone.locator("#chords-1").fill("Xb")
    expect(phone.locator("#echo-1")).to_contain_text("Xb")
    phone.locator("#chords-1").fill("Db7")
    phone.get_by_role("button", name="Say it, then show me").click()
    expect(phone.locator(".lead")).to_contain_text("It was in chorus 2 of 2.")
    phone.get_by_role("button", name="Hear it as it was played").first.click()  # it is open once its script is there
    expect(phone.locator("[data-played]")).to_have_count(1, timeout=20_000)  # the sounds may still be on their way
    assert EarResult.objects.get().kind == "other-band"
