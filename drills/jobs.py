"""Background work of the drills."""

from __future__ import annotations

from typing import Any

from drills.advice import services as advice
from drills.services import packs
from drills.takes import waves
from drills.takes.services import AFTER_KEPT, tidy
from studio.jobs import Progress, handler
from studio.rounds import DAY, Part, add_part


@handler(packs.KIND)
def make_pack(progress: Progress) -> dict[str, Any]:
    """Every part of a pack."""
    return packs.make_parts(progress)


@handler(advice.KIND)
def hear_take(progress: Progress) -> dict[str, Any]:
    """What the machine hears of a take."""
    return advice.hear(progress)


@handler(waves.KIND)
def draw_take(progress: Progress) -> dict[str, Any]:
    """The waveform of a take."""
    waves.draw(progress.payload["take"])
    return {}


AFTER_KEPT.extend((waves.ask, advice.ask))
add_part(Part(name="takes", words="Deleting takes as the rule says", run=tidy, every=DAY))
add_part(Part(name="take waves", words="Drawing the shape of takes", run=waves.draw_missing, every=DAY))
