"""What every page about one solo says at its head."""

from __future__ import annotations

from typing import Any

from studio.instruments import INSTRUMENTS, in_sentence, instrument_choices
from tunes.models import Solo
from tunes.pitch import Sight, pitch_label
from tunes.solos.bars import SoloForm
from tunes.solos.page import chorus_words
from tunes.study import StudyChart


def frame(solo: Solo, study: StudyChart, form: SoloForm) -> dict[str, Any]:
    sound = getattr(solo.recording, "sound", None) if solo.recording else None
    return {
        "solo": solo, "tune": solo.revision.version.tune, "covers": chorus_words(form.bars), "sound": sound,
        "played_on": in_sentence(INSTRUMENTS[solo.instrument].name) if solo.instrument in INSTRUMENTS else "",
        "pitch": pitch_label(form.study, Sight(instrument=form.instrument), study.key),
        "instruments": instrument_choices(), "reader": form.instrument,
    }  # fmt: skip
