"""The band as the page plays it, rendered by Chromium's OfflineAudioContext: level, peak, spectrum, and where its events fall.

python -m tests.bench.band_sound [STYLE …]        # prints a row for each style; asserts nothing

The modules of `static/js` are served as they are to an empty page; a blues of twelve bars is scheduled as `band.js` does it. Times: the
first samples of each drum stroke rendered alone against where it was scheduled.
"""

from __future__ import annotations

import base64
import functools
import http.server
import sys
import threading
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from playwright.sync_api import sync_playwright

from drills.band.chorus import in_sound, play_chorus
from drills.band.feel import swing_ratio
from drills.band.styles import STYLES
from drills.lines.passage import passage
from drills.sounding.desk import loudness
from tests.bench.recordings import bands
from tests.browser.conftest import FLAGS, chromium_path
from tests.drills.lines import plain_scales
from tunes.harmony.charts import parse_chart

RATE = 48_000
STATIC = Path(__file__).resolve().parents[2] / "static"
BLUES = (
    "key: F major\n\nA:\n| F7 | Bb7 | F7 | Cm7 F7 |\n| Bb7 | Bdim7 | F7 | Am7b5 D7b9 |\n| Gm7 | C7 | F7 D7 | Gm7 C7 |"
)
BARS = {3: "3/4", 5: "5/4", 7: "7/4"}

# Renders what is given as {sound, tempo, swing, parts}: 16-bit samples of both sides, one after the other, in base64.
RENDER = """async ({ sound, tempo, swing, parts, sampled, rate }) => {
  const [{ timeline }, { strike }, { voices }, { openDesk }, { prepare }] = await Promise.all(
    ['band-plan', 'drum-kit', 'synth', 'desk', 'sampler'].map((name) => import(`/js/${name}.js`)));
  const made = timeline(sound, { tempo, swing, silent: null, clicks: [] });
  const context = new OfflineAudioContext(2, Math.ceil((made.length + 2) * rate), rate);
  if (sampled) await prepare(context);
  const { gains } = openDesk(context, ['bass', 'piano', 'drums', 'click']);
  for (const event of made.list) {
    const at = 0.5 + event.time;
    if (!parts.includes(event.part)) continue;
    if (event.part === 'drums') strike(context, gains.drums, event.what, event.level, at);
    else if (event.part === 'piano') for (const pitch of event.pitches) voices.shells(context, gains.piano, pitch, at, event.length);
    else voices.bass(context, gains.bass, event.pitch, at, event.length);
  }
  const buffer = await context.startRendering();
  const out = new Int16Array(2 * buffer.length);
  let over = 0;
  for (let side = 0; side < 2; side += 1) buffer.getChannelData(side).forEach((value, i) => {
    over = Math.max(over, Math.abs(value));
    out[side * buffer.length + i] = Math.max(-1, Math.min(1, value)) * 32767;
  });
  const bytes = new Uint8Array(out.buffer);
  let text = '';
  for (let i = 0; i < bytes.length; i += 32768) text += String.fromCharCode(...bytes.subarray(i, i + 32768));
  return [btoa(text), over];
}"""


class _Quiet(http.server.SimpleHTTPRequestHandler):
    """The folder of static files, and an empty page."""

    def log_message(self, *args: Any) -> None:
        """Nothing: a bench prints its figures only."""

    def do_GET(self) -> None:
        if self.path != "/":
            return super().do_GET()
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        self.wfile.write(b"<!doctype html><title>.</title>")
        return None


def score(style: str) -> dict[str, Any]:
    chosen = STYLES[style]
    metre = f"metre: {BARS[int(chosen.length)]}\n" if int(chosen.length) in BARS else ""
    chart = parse_chart(BLUES.replace("\n\n", f"\n{metre}\n", 1)).chart
    assert chart
    part = passage(chart)
    return in_sound(play_chorus(part, chosen, plain_scales(part), "bench"))


def rendered(
    page: Any, style: str, parts: tuple[str, ...], sampled: bool = True
) -> tuple[npt.NDArray[np.float32], float]:
    """Both sides at 48 kHz, and the loudest sample before anything is cut off."""
    tempo = sum(STYLES[style].tempo) // 2
    swing = swing_ratio(tempo) if STYLES[style].swing else 1.0
    data, peak = page.evaluate(
        RENDER,
        {"sound": score(style), "tempo": tempo, "swing": swing, "parts": list(parts), "sampled": sampled, "rate": RATE},
    )
    samples = np.frombuffer(base64.b64decode(data), "<i2").astype(np.float32) / 32767
    return samples.reshape(2, -1), float(peak)


def main(styles: list[str]) -> None:
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(_Quiet, directory=str(STATIC)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=[*FLAGS, "--no-sandbox"])
        page = browser.new_page()
        page.goto(f"http://127.0.0.1:{server.server_port}/")
        print("style, sampled, LUFS, loudest sample, octaves from 30 Hz up (dB)")
        for style in styles or list(STYLES):
            for sampled in (True, False):
                sound, peak = rendered(page, style, ("bass", "piano", "drums"), sampled)
                print(f"{style:8} {sampled!s:6} {loudness(sound, RATE):6.1f} {peak:5.2f} {bands(sound)}", flush=True)
            alone = [
                f"{part} {loudness(rendered(page, style, (part,))[0], RATE):.1f}" for part in ("bass", "piano", "drums")
            ]
            print("   alone, LUFS:", ", ".join(alone), flush=True)
        browser.close()
    server.shutdown()


if __name__ == "__main__":
    main(sys.argv[1:])
