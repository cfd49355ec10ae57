"""The whole way: from what was heard and what was to be played to an `Advice`."""

from __future__ import annotations

import numpy as np

from .alignment import Aligned, align
from .expected import Score
from .overview import bars_of, choruses_of
from .result import Advice
from .sound import SURE, Event, Sound
from .verdicts import Spell, verdicts

TOO_LOUD = -25.0
"""dB of the band in the microphone against the take from which nothing is judged."""
LEAK = "The band leaks into the microphone. Use headphones; this take is kept but not judged."
NOTHING = "Hardly a note was heard. Check the microphone and its level, then try another take."
NO_MATCH = "What was heard is not this line: another drill, another key, or more than one voice. Nothing is judged."
_FEW_RIGHT = 0.3
ABOVE = 6.0
"""dB by which a note must rise above what leaks in."""


def level_of(sound: Sound) -> float | None:
    """dB below full scale of the take where it has a pitch (mean of the power); None where it has none."""
    voiced = sound.frames.level[sound.frames.confidence >= SURE]
    return None if len(voiced) < 10 else float(10 * np.log10(np.mean(10 ** (voiced / 10))))


def leak_of(sound: Sound, leak_level: float | None) -> float | None:
    """dB of the band alone against the take. `leak_level`: dB below full scale of two seconds in which it sounded and
    nobody played; None where that was not measured."""
    level = level_of(sound)
    return None if leak_level is None or level is None else round(leak_level - level, 1)


def judge(
    sound: Sound,
    score: Score,
    spell: Spell,
    *,
    begins: float | None = None,
    leak_level: float | None = None,
    fixed: bool = False,
    limit: float = TOO_LOUD,
) -> Advice:
    """Everything that can be said of a take.

    begins       second of the file where its first bar was to begin; None where nobody knows.
    leak_level   see `leak_of`.  limit  where it declines, dB.
    fixed        a band or a click gave the tempo.
    """
    leak = leak_of(sound, leak_level)
    if leak is not None and leak > limit:
        return Advice("declined", LEAK, leak_db=leak)
    if len(sound.events) < 2:
        return Advice("declined", NOTHING, leak_db=leak)
    aligned = align(_above_the_band(sound, leak_level), score, begins=begins)
    if aligned is None:
        return Advice("declined", NO_MATCH, leak_db=leak)
    notes = verdicts(sound, score, aligned, spell)
    if sum(note.verdict == "as-written" for note in notes) < _FEW_RIGHT * len(notes):
        return Advice("declined", NO_MATCH, leak_db=leak)
    bars = bars_of(notes, score, aligned, fixed)
    return Advice(
        "heard",
        latency=round(aligned.warp.start - (begins or 0.0), 3),
        tempo=round(score.tempo / aligned.warp.rate, 1),
        tuning=round(aligned.tuning, 1),
        swing=_swing(score, aligned),
        shift=aligned.shift,
        leak_db=leak,
        notes=notes,
        bars=bars,
        choruses=choruses_of(notes, bars, score, aligned),
    )


def _above_the_band(sound: Sound, leak_level: float | None) -> tuple[Event, ...]:
    """Events that are louder than what leaks in."""
    if leak_level is None:
        return sound.events
    return tuple(event for event in sound.events if event.level > leak_level + ABOVE)


def _swing(score: Score, aligned: Aligned) -> float | None:
    """Long to short quaver as played; None with fewer than eight notes on half beats."""
    if score.half.sum() < 8:
        return None
    turn = score.swing / (1 + score.swing) + aligned.warp.swing / (score.beat * aligned.warp.rate)
    turn = min(max(turn, 0.05), 0.95)
    return round(turn / (1 - turn), 2)
