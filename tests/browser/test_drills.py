"""Drills in the browser: chosen by keyboard, engraved for the width, played, noted; pickers that fill an answer."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from drills.models import Practice
from tests import factories
from tests.browser.conftest import assert_accessible
from tests.drills.studies import FORM


@pytest.fixture
def revision() -> Any:
    return factories.make_version(factories.make_tune("Weir Song"), FORM)


@pytest.fixture
def player() -> Any:
    return factories.make_player(factories.make_ensemble(), "Pia", instrument="alto-sax")


def test_a_drill_is_chosen_and_noted_by_keyboard(desk: Page, sign_in: Any, revision: Any, player: Any) -> None:
    sign_in(desk, player)
    desk.goto("/drills/")
    desk.get_by_role("link", name="Weir Song").first.focus()
    desk.keyboard.press("Enter")
    expect(desk.get_by_role("heading", name="Guide tones, the smoothest start")).to_be_visible()
    desk.wait_for_load_state("load")  # keys work once the page's modules have run
    assert_accessible(desk)
    expect(desk.locator("#sheet")).to_have_attribute("data-per-system", "4")  # the page has been narrow meanwhile
    desk.wait_for_load_state("networkidle")
    settings = desk.get_by_text("Change what to practise")
    settings.focus()
    desk.keyboard.press("Enter")
    expect(desk.get_by_role("radio", name="Guide tones")).to_be_focused()
    desk.keyboard.press("ArrowRight")
    expect(desk.get_by_role("heading", name="Arpeggios, up, from the root")).to_be_visible()
    expect(desk.get_by_role("radio", name="Arpeggios")).to_be_focused()
    desk.get_by_label("Direction").focus()
    desk.keyboard.press("d")
    expect(desk.get_by_role("heading", name="Arpeggios, down, from the root")).to_be_visible()
    desk.keyboard.press("Escape")
    expect(settings).to_be_focused()
    desk.get_by_label("Tempo reached").fill("88")
    desk.get_by_role("radio", name="Fell apart").focus()
    for _ in range(2):
        desk.keyboard.press("ArrowRight")
    desk.keyboard.press("Enter")
    expect(desk.get_by_text("Steady at ♩ = 88")).to_be_visible()
    assert Practice.objects.get(user=player).tempo == 88


def test_a_phone_gets_two_bars_to_a_line_not_a_smaller_picture(
    phone: Page, sign_in: Any, revision: Any, player: Any
) -> None:
    sign_in(phone, player)
    phone.goto(f"/drills/charts/{revision.pk}/")
    expect(phone.locator("#sheet")).to_have_attribute("data-per-system", "2")
    picture = phone.locator("svg.engraving")
    box = picture.bounding_box()
    assert box is not None
    assert box["height"] > 2 * box["width"], "sixteen systems of two bars are tall"
    phone.set_viewport_size({"width": 1200, "height": 800})
    expect(phone.locator("#sheet")).to_have_attribute("data-per-system", "4")


def test_the_line_is_played_and_the_bar_is_told(desk: Page, sign_in: Any, revision: Any, player: Any) -> None:
    sign_in(desk, player)
    desk.goto(f"/drills/charts/{revision.pk}/?tempo=320")
    desk.get_by_role("checkbox", name="Count-in").uncheck()
    desk.get_by_label("Bars from").fill("2")
    desk.get_by_label("to bar", exact=True).fill("3")
    desk.get_by_role("button", name="Play").click()
    expect(desk.locator("[data-now]")).to_have_text("Bar 2")
    expect(desk.locator(".measure.is-now")).to_have_attribute("data-bar", "2")
    expect(desk.locator("[data-now]")).to_have_text("Bar 3")  # the words go with the light, bar by bar
    expect(desk.locator("[data-said]")).to_have_text("Bar 2")  # a screen reader is told now and then
    expect(desk.locator(".measure.is-now")).to_have_attribute("data-bar", "1")
    desk.get_by_label("Bass").uncheck()
    desk.get_by_role("button", name="Stop").click()
    expect(desk.locator(".measure.is-now")).to_have_count(0)
    expect(desk.locator("[data-now]")).to_have_text("Stopped.")


# Common practice: swung quavers fall on the last third of the beat; whole beats stay where they are.
@pytest.mark.parametrize(("time", "swung"), [(0, 0), (0.5, 2 / 3), (1, 1), (3.5, 3 + 2 / 3), (0.25, 1 / 3)])
def test_swing(desk: Page, sign_in: Any, revision: Any, player: Any, time: float, swung: float) -> None:
    sign_in(desk, player)
    desk.goto("/drills/")
    found = desk.evaluate("async (time) => (await import('/static/js/schedule.js')).swung(time, true)", time)
    assert found == pytest.approx(swung)


def test_beats_follow_the_metre(desk: Page, sign_in: Any, player: Any) -> None:
    sign_in(desk, player)
    desk.goto("/drills/")
    beats = """async (bar) => (await import('/static/js/schedule.js')).beatsOf(bar).map(([time]) => time)"""
    assert desk.evaluate(beats, [1, 0, 4, 4, 4]) == [0, 1, 2, 3]
    assert desk.evaluate(beats, [1, 8, 3, 3, 4]) == [8, 9, 10]
    assert desk.evaluate(beats, [1, 0, 3, 6, 8]) == [0, 1.5], "two dotted beats in 6/8"


# The chorus |: 1 2 3 4 |1. 5 6 :|2. 7 8 | 9 10, by hand: common practice, no source.
CHORUS = [1, 2, 3, 4, 5, 6, 1, 2, 3, 4, 7, 8, 9, 10]
RANGES = [
    ((1, 10), CHORUS),
    ((0, 0), CHORUS),
    ((1, 4), [1, 2, 3, 4]),
    ((3, 6), [3, 4, 5, 6]),
    ((3, 8), [3, 4, 7, 8]),
    ((8, 10), [8, 9, 10]),
    ((5, 5), [5]),
    ((9, 99), [9, 10]),
    ((6, 3), [6, 1, 2, 3]),
    ((99, 3), CHORUS),
]


def test_chosen_bars_are_played_as_the_chorus_goes(desk: Page, sign_in: Any, player: Any) -> None:
    sign_in(desk, player)
    desk.goto("/drills/")
    chosen = """async ([numbers, from, to]) => {
      const bars = numbers.map((number) => [number]);
      const [first, last] = (await import('/static/js/schedule.js')).barRange(bars, from, to);
      return numbers.slice(first, last + 1);
    }"""
    assert [desk.evaluate(chosen, [CHORUS, *asked]) for asked, _ in RANGES] == [played for _, played in RANGES]
    pickup = [0, 1, 2, 1, 3]
    assert desk.evaluate(chosen, [pickup, 1, 3]) == pickup, "the fields begin at bar 1, the music with its pickup"


PICKER = """() => {
  const field = document.createElement('input');
  field.type = 'text'; field.id = 'answer'; field.dataset.picker = 'notes'; field.dataset.clef = 'bass'; field.dataset.fifths = '-3';
  const label = document.createElement('label'); label.htmlFor = 'answer'; label.textContent = 'Chord tones';
  document.querySelector('main').append(label, field);
  const sheet = document.createElement('link'); sheet.rel = 'stylesheet'; sheet.href = '/static/css/drills.css';
  document.head.append(sheet);
  return import('/static/js/pickers.js').then(() => true);
}"""


def test_pickers_fill_the_field_with_spelled_names(desk: Page, sign_in: Any, player: Any) -> None:
    sign_in(desk, player)
    desk.goto("/drills/")
    desk.evaluate(PICKER)
    field = desk.get_by_label("Chord tones", exact=True)
    desk.get_by_role("button", name="Keyboard for Chord tones").click()
    desk.get_by_role("button", name="E flat").click()
    desk.get_by_role("button", name="Black keys as flats or as sharps").click()
    desk.get_by_role("button", name="F sharp").click()
    expect(field).to_have_value("Eb F#")
    desk.get_by_role("button", name="Take back the last note of Chord tones").click()
    expect(field).to_have_value("Eb")
    desk.get_by_role("button", name="Staff for Chord tones").click()
    staff = desk.get_by_role("slider", name="Note on the staff for Chord tones")
    staff.focus()
    before = staff.get_attribute("aria-valuetext")
    desk.keyboard.press("ArrowUp")
    assert staff.get_attribute("aria-valuetext") != before
    desk.keyboard.press("Enter")
    expect(field).to_have_value("Eb Eb")  # D3 is the middle line; one up is E, flat in the signature
    assert_accessible(desk)


def test_a_quiz_of_notes_is_answered_with_the_keyboard_on_the_page(phone: Page, sign_in: Any) -> None:
    from django.urls import reverse

    from assessments.models import Answer
    from assessments.services.hand_in import start_attempt

    ensemble = factories.make_ensemble()
    player = factories.make_player(ensemble, "Pia", instrument="trombone")
    chart = factories.make_chart_revision("Weir Song", text="key: Eb major\n| Ebmaj7 | Bb7 |")
    made = factories.make_assignment(ensemble, kinds=("guide-tones",), revision=chart)
    attempt = start_attempt(step=made.steps.get(), player=player)
    sign_in(phone, player)
    phone.goto(reverse("work:attempt", args=[attempt.pk]))
    expect(phone.locator("#quiz[data-ready]")).to_be_attached()
    phone.locator("[data-field]").nth(1).click()
    phone.get_by_role("button", name="Keyboard for the field you are in").click()
    phone.get_by_role("button", name="D", exact=True).last.click()
    phone.get_by_role("button", name="A flat", exact=True).click()
    expect(phone.locator("[data-field]").nth(1)).to_have_value("D Ab")
    expect(phone.locator("#e2 .ask__note")).to_have_text(["D", "A♭"])  # a slot a note, as it was understood
    expect(phone.locator("#e1 .ask__note--empty")).to_have_count(2)
    keys = [key.bounding_box() for key in phone.locator(".notepicker .keys-board__key").all()]
    assert all(key and key["width"] >= 24 and key["x"] >= 0 and key["x"] + key["width"] <= 390 for key in keys), keys
    assert phone.locator(".pad__key:visible").count() == 5  # one keyboard: the letters have given way to it
    phone.get_by_role("button", name="Staff for the field you are in").click()
    expect(phone.locator(".notepicker__staff > path")).to_have_count(
        2
    )  # D and A flat, its sign in the signature of E flat
    expect(phone.locator("[data-status]")).to_contain_text("Saved")
    assert set(Answer.objects.filter(attempt=attempt).values_list("text", flat=True)) == {"D Ab"}
    assert_accessible(phone)


LOUDNESS = """async (voice) => {
  const { voices } = await import('/static/js/synth.js');
  const context = new OfflineAudioContext(1, 44100, 44100);
  voices[voice](context, context.destination, voice === 'click' ? true : 60, 0.05, 0.5);
  const data = (await context.startRendering()).getChannelData(0);
  const loud = (from, to) => data.slice(from * 44100, to * 44100).reduce((top, x) => Math.max(top, Math.abs(x)), 0);
  return [loud(0, 0.04), loud(0.05, 0.5), loud(0, 1)];
}"""


@pytest.mark.parametrize("voice", ["line", "bass", "shells", "click"])
def test_every_voice_sounds_and_none_clips(desk: Page, sign_in: Any, player: Any, voice: str) -> None:
    sign_in(desk, player)
    desk.goto("/drills/")
    before, during, peak = desk.evaluate(LOUDNESS, voice)
    assert before == 0
    assert during > 0.02
    assert peak < 1
