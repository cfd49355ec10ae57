"""From a fake microphone to the verdicts: a rendered take, with a wrong and a missing note, is played into Chromium's fake microphone,
recorded on the page, sent, decoded and heard. What is said of each note is what the rendered file itself would be told."""

from __future__ import annotations

import os
import wave
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from drills.advice.models import TakeAdvice
from drills.advice.services import ask
from drills.hearing.expected import score_of
from drills.hearing.extra import available
from drills.hearing.judge import judge
from drills.hearing.result import Advice
from drills.hearing.tracker import listen
from drills.models import Take
from drills.takes.making import plan_named
from tests import factories
from tests import tones as t
from tests.browser.conftest import FLAGS, chromium_path

CHART = "key: F major\n\nA:\n| Gm7 | C7 | Fmaj7 | D7b9 |\n| Gm7 | C7 | F6 | F6 |"
TEMPO, BEGINS = 160, 14.0  # BEGINS: seconds from the opening of the microphone to the first note
LEAD = 0.25 + 4 * 60 / TEMPO + 0.1  # from the press of Record to the first note: record.js, and starting it
WRONG, MISSING = 2, 5  # the third note is a whole step too high, the sixth is left out
# When the fake microphone began to read its file, by the page's clock.
WATCH = """const asked = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
navigator.mediaDevices.getUserMedia = async (what) => {
  const stream = await asked(what);
  window.opened = performance.now();
  return stream;
};"""
PRESS = """(after) => new Promise((done) => setTimeout(() => {
  document.querySelector('[data-record]').click();
  done();
}, window.opened + 1000 * after - performance.now()))"""


def rendered(notes: list[tuple[float, float, int]]) -> np.ndarray:
    rng, second = np.random.default_rng(5), 60 / TEMPO
    tones = [
        t.Tone(BEGINS + start * second, 0.9 * length * second, midi + 2 * (place == WRONG))
        for place, (start, length, midi) in enumerate(notes)
        if place != MISSING
    ]
    return t.take(tones, lambda length, midi: t.tone(t.KINDS["clarinet"], length, midi, rng), rng=rng)


def said(advice: Advice) -> list[tuple[int, str, int | None]]:
    return [(note.index, note.verdict, note.midi) for note in advice.notes]


@pytest.mark.skipif(not available(), reason="the extra of requirements-hearing.txt is not installed")
def test_what_the_microphone_heard_is_told_as_the_file_itself(
    browser: Browser, live_server: Any, tmp_path: Path, sign_in: Callable[[Page, Any], None]
) -> None:
    player = factories.make_player(factories.make_ensemble(), "Noor", instrument="clarinet")
    revision = factories.make_version(factories.make_tune("Quay Light"), CHART)
    plan = plan_named(player, kind=Take.Kind.DRILL, revision=revision.pk, line=None, query="", tempo=TEMPO)
    notes = [(float(start), float(length), int(midi)) for start, length, midi in plan.played["notes"]]
    bars = [(float(row[1]), float(row[2])) for row in plan.played["bars"]]
    sound = rendered(notes)
    own = judge(
        listen([sound.astype(np.float32)]), score_of(notes, bars, tempo=TEMPO), lambda _n, _m: "", begins=BEGINS
    )
    wanted = {row[0]: row[1] for row in said(own)}
    assert (wanted[WRONG], wanted[MISSING]) == ("another", "not-heard")

    path = tmp_path / "microphone.wav"
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, t.RATE, len(sound), "NONE", ""))
        file.writeframes((np.clip(sound, -1, 1) * 32000).astype("<i2").tobytes())
    flags = [
        *FLAGS,
        f"--use-file-for-fake-audio-capture={path}%noloop",
        *(["--no-sandbox"] if os.geteuid() == 0 else []),
    ]
    with browser.browser_type.launch(executable_path=chromium_path(), args=flags) as chromium:
        page = chromium.new_context(base_url=live_server.url, service_workers="block").new_page()
        page.add_init_script(WATCH)
        sign_in(page, player)
        page.goto(f"/drills/charts/{revision.pk}/")
        page.get_by_text("Record a take").click()
        page.get_by_role("button", name="Open the microphone").click()
        page.get_by_label("Tempo (♩ a minute)").last.fill(str(TEMPO))
        page.get_by_label("In the headphones").select_option("nothing")
        expect(page.get_by_text("The microphone is open")).to_be_visible()
        page.evaluate(PRESS, BEGINS - LEAD)
        expect(page.get_by_text("Kept on this device. Listen")).to_be_visible(timeout=40_000)
        page.get_by_role("button", name="Choose this one").click()
        expect(page.get_by_text("Kept by the programme, only you hear it")).to_be_visible(timeout=15_000)
    take = Take.objects.get()
    assert take.played["notes"] == plan.played["notes"]
    if not TakeAdvice.objects.filter(take=take, state="heard").exists():
        ask(take, again=True)
    row = TakeAdvice.objects.get(take=take)
    assert row.state == "heard", row.reason
    assert said(Advice.of_json(row.data)) == said(own)
