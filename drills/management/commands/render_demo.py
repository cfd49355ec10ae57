"""Render the demo's recordings anew: `manage.py render_demo [NAME …]`. For developers, after the band or a chart has changed."""

from __future__ import annotations

import io
import json
import wave
from typing import Any

import numpy as np
from django.core.management.base import BaseCommand, CommandError, CommandParser

from drills.demo_recordings import LINEUPS, OTHER_LINEUPS, Planned, planned, score_of
from drills.sounding.desk import Stereo, loudness
from drills.sounding.performance import Band
from tunes.audio import as_webm
from tunes.demo.recorded import INDEX, Recorded, charts_of

RATE = 48_000
BITS = 24_000  # a second, both sides together


class Command(BaseCommand):
    help = "Render the recordings of the demo from the band's notes."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("names", nargs="*", help="only these; without names, all of them")
        parser.add_argument("--plan", action="store_true", help="say what would be rendered, and render nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        plans = list(planned())
        unknown = set(options["names"]) - {plan.name for plan in plans}
        if unknown:
            raise CommandError(
                f"No such recording: {', '.join(sorted(unknown))}. Known: {', '.join(plan.name for plan in plans)}"
            )
        rows, size, seconds = [], 0, 0.0
        for plan in plans:
            row, length = self._one(plan, write=not options["plan"] and plan.name in (options["names"] or [plan.name]))
            rows.append(row)
            seconds += length
            size += row.path.stat().st_size if row.path.exists() else 0
        if not options["plan"]:
            INDEX.write_text(json.dumps([row.to_json() for row in rows], ensure_ascii=False) + "\n", encoding="utf-8")
        self.stdout.write(f"{len(rows)} recordings, {seconds:.0f} seconds, {size / 1e6:.2f} MB")

    def _one(self, plan: Planned, *, write: bool) -> tuple[Recorded, float]:
        score, marks = score_of(plan)
        versions = tuple(version.name for version in plan.choruses)
        row = Recorded(plan.name, plan.tune.title, plan.place, versions, tuple(marks), charts_of(plan.tune, versions))
        said = f"{plan.name:34} {score.seconds:6.1f} s, {len(plan.choruses)} choruses"
        if write:
            lineup = OTHER_LINEUPS.get((plan.tune.title, plan.place), LINEUPS[plan.recording.leader])
            sound = Band(RATE).render(score, lineup)
            row.path.parent.mkdir(exist_ok=True)
            row.path.write_bytes(as_webm(io.BytesIO(_wav(sound)), bits=BITS, layout="stereo"))
            peak = 20 * np.log10(np.max(np.abs(sound)))
            said += f", {loudness(sound, RATE):.1f} LUFS, peak {peak:.1f} dB, {row.path.stat().st_size / 1000:.0f} kB"
        self.stdout.write(said)
        return row, score.seconds


def _wav(sound: Stereo) -> bytes:
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setparams((2, 2, RATE, sound.shape[1], "NONE", ""))
        file.writeframes(np.round(sound.T * 32767).astype("<i2").tobytes())
    return out.getvalue()
