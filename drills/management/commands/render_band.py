"""Render the samples of the page's band anew: `manage.py render_band`. For developers, after an instrument has changed."""

from __future__ import annotations

import io
import json
import wave
from collections import defaultdict
from typing import Any

import numpy as np
from django.conf import settings
from django.core.management.base import BaseCommand

from drills.sounding.samples import RATE, samples
from tunes.audio import as_flac

NAME = "band-1"  # another number when the file changes: browsers keep it
MODULE = """// Where each note and stroke lies in the file of samples: [MIDI or null, offset, length, gain]. Written by manage.py render_band.
export const FILE = "../sound/%s.flac";
export const SAMPLES = %s;
"""


class Command(BaseCommand):
    help = "Render the samples of the band in the browser."

    def handle(self, *args: Any, **options: Any) -> None:
        row, found = samples()
        out = io.BytesIO()
        with wave.open(out, "wb") as file:
            file.setparams((1, 2, RATE, len(row), "NONE", ""))
            file.writeframes(np.round(row * 32767).astype("<i2").tobytes())
        out.seek(0)
        data = as_flac(out)
        folder = settings.BASE_DIR / "static"
        (folder / "sound").mkdir(exist_ok=True)
        (folder / "sound" / f"{NAME}.flac").write_bytes(data)
        index: dict[str, list[list[float | None]]] = defaultdict(list)
        for one in found:
            index[one.kind].append([one.midi, one.offset, one.length, one.gain])
        (folder / "js" / "band-samples.js").write_text(MODULE % (NAME, json.dumps(index)), encoding="utf-8")
        self.stdout.write(f"{len(found)} samples, {len(row) / RATE:.1f} seconds, {len(data) / 1e6:.2f} MB")
