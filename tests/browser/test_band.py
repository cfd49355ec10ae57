"""The band in the browser: played, planned by keyboard, in time over ten minutes."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests import factories
from tests.browser.conftest import assert_accessible
from tests.drills.studies import FORM

# Everything that is scheduled in ten minutes at 120 beside where it belongs: chorus after chorus, as band.js adds them up.
DRIFT = """async (address) => {
  const { timeline } = await import('/static/js/band-plan.js');
  const sound = await (await fetch(address)).json();
  const options = { tempo: 120, swing: 1, silent: null, clicks: [1, 2, 3, 4] };
  let until = 0, worst = 0, count = 0, chorus = 0;
  const bars = sound.bars.reduce((sum, bar) => sum + bar[2], 0);
  while (until < 600) {
    const made = timeline(sound, options);
    const beats = new Map(sound.bass.map(([time], index) => [index, time]));
    let at = 0;
    for (const event of made.list) {
      if (event.part !== 'bass') continue;
      const meant = (chorus * bars + beats.get(at)) * 0.5;
      worst = Math.max(worst, Math.abs(until + event.time - meant));
      at += 1;
      count += 1;
    }
    until += made.length;
    chorus += 1;
  }
  return [worst, count];
}"""


# Strokes at the beginning, the middle and the end of ten minutes, through everything that a page's band goes through; returned: where
# each begins to sound, in seconds after its time, and the loudest sample of a bar in which everybody plays at full strength.
SOUNDED = """async () => {
  const [{ strike }, { voices }, { openDesk }, { prepare }] = await Promise.all(
    ['drum-kit', 'synth', 'desk', 'sampler'].map((name) => import(`/static/js/${name}.js`)));
  const rate = 8000, times = [0.5, 300.25, 599.5];
  const context = new OfflineAudioContext(2, 601 * rate, rate);
  await prepare(context);
  const { gains } = openDesk(context, ['bass', 'piano', 'drums', 'click']);
  for (const at of times) strike(context, gains.drums, 'kick', 1, at);
  for (let beat = 0; beat < 4; beat += 1) {
    const at = 100 + beat * 0.5;
    for (const what of ['kick', 'snare', 'crash', 'ride']) strike(context, gains.drums, what, 1, at);
    for (const pitch of [52, 57, 60, 64]) voices.shells(context, gains.piano, pitch, at, 0.5);
    voices.bass(context, gains.bass, 36, at, 0.5);
    voices.click(context, gains.click, true, at);
  }
  const data = (await context.startRendering()).getChannelData(0);
  const begins = times.map((at) => data.findIndex((value, i) => i > (at - 0.1) * rate && Math.abs(value) > 0.02) / rate - at);
  const sampled = voices.bass(context, gains.bass, 36, 0, 1) instanceof AudioBufferSourceNode;
  return [begins, data.reduce((most, value) => Math.max(most, Math.abs(value)), 0), sampled];
}"""


@pytest.fixture
def revision() -> Any:
    return factories.make_version(factories.make_tune("Weir Song"), FORM)


@pytest.fixture
def player() -> Any:
    return factories.make_player(factories.make_ensemble(), "Pia", instrument="alto-sax")


def test_the_band_plays_and_is_planned_by_keyboard(desk: Page, sign_in: Any, revision: Any, player: Any) -> None:
    sign_in(desk, player)
    desk.goto(f"/tunes/{revision.version.tune_id}/")
    desk.get_by_role("link", name="Play with the band").focus()
    desk.keyboard.press("Enter")
    expect(desk.locator("[data-band][data-ready]")).to_be_visible()
    desk.get_by_role("button", name="One chorus more").focus()
    desk.keyboard.press("Enter")
    second = desk.get_by_role("button", name="chorus 2")
    second.focus()
    desk.keyboard.press("Enter")
    desk.get_by_label("Key", exact=True).select_option("F")
    desk.get_by_role("radio", name="all through").check()
    expect(second).to_contain_text("D")  # F concert, as an alto saxophone reads it
    expect(second).to_contain_text("silent")
    assert_accessible(desk)
    desk.get_by_role("button", name="Play", exact=True).focus()
    desk.keyboard.press("Enter")
    expect(desk.locator("[data-now]")).to_contain_text("Chorus 1, from bar 1", timeout=15_000)
    expect(desk.locator("#band-chart .bar.is-now")).to_have_count(1)
    desk.get_by_role("button", name="Stop").focus()
    desk.keyboard.press("Enter")
    expect(desk.locator("[data-now]")).to_have_text("Stopped.")


def test_nothing_drifts_in_ten_minutes(desk: Page, sign_in: Any, revision: Any, player: Any) -> None:
    sign_in(desk, player)
    desk.goto(f"/drills/charts/{revision.pk}/band/")
    worst, count = desk.evaluate(DRIFT, f"/drills/charts/{revision.pk}/band/chorus/?style=four&seed=1")
    assert count > 1000
    assert worst < 0.002, "seconds"
    begins, loudest, sampled = desk.evaluate(SOUNDED)
    assert sampled
    assert max(begins) - min(begins) < 0.002, begins
    assert max(begins) < 0.02, "the limiter looks a few milliseconds ahead"
    assert 0.2 < loudest < 1


def test_the_band_folds_to_one_row_on_a_phone(phone: Page, sign_in: Any, revision: Any, player: Any) -> None:
    sign_in(phone, player)
    phone.goto(f"/drills/charts/{revision.pk}/band/")
    expect(phone.get_by_role("button", name="More")).to_be_visible()
    expect(phone.get_by_label("Style")).to_be_hidden()
    phone.get_by_role("button", name="More").tap()
    expect(phone.get_by_label("Style")).to_be_visible()
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390


def test_a_silent_band_leaves_the_bars_and_swing_moves_the_half_beats(
    desk: Page, sign_in: Any, revision: Any, player: Any
) -> None:
    sign_in(desk, player)
    desk.goto(f"/drills/charts/{revision.pk}/band/")
    heard = desk.evaluate(
        """async (address) => {
          const { timeline, swung } = await import('/static/js/band-plan.js');
          const sound = await (await fetch(address)).json();
          const made = timeline(sound, { tempo: 60, swing: 2, silent: [1, 2], clicks: [2, 4] });
          const played = made.list.filter((event) => !['bar', 'click'].includes(event.part));
          const clicks = made.list.filter((event) => event.part === 'click').slice(0, 2).map((event) => event.time);
          return [Math.min(...played.map((event) => event.time)), clicks, swung(1.5, 2)];
        }""",
        f"/drills/charts/{revision.pk}/band/chorus/?style=four&seed=1",
    )
    assert heard[0] >= 8
    assert heard[1] == [1, 3]
    assert heard[2] == pytest.approx(1 + 2 / 3)
