"""What follows from a person's reading of a chord: where the chord goes when it does what the person says.

The engine says where a chord goes for its own reading; a reading set by hand promises something else, so its goal
is looked for anew: a dominant at its target a fifth or a semitone below, a 2 at its dominant, a tonic nowhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tunes.harmony.analysis.pipeline import Function, Reading
from tunes.harmony.charts import Event
from tunes.harmony.pitch.spelling import Key, SpellingError
from tunes.harmony.readings.reason import Reason


def read_by_hand(base: Reading, key: Key, function: Function, reason: Reason, events: Sequence[Event]) -> Reading:
    """`base` with a person's key and function, and with the goal that belongs to them."""
    target, resolution = base.resolves_to, base.resolution
    if function != base.function:
        target, resolution = _goal(base.event, key, function, events)
    return replace(
        base,
        key=key,
        function=function,
        reason=reason,
        resolves_to=target,
        resolution=resolution,
        local_key=key if function != base.function else base.local_key,
    )


def _goal(event: int, key: Key, function: Function, events: Sequence[Event]) -> tuple[int | None, str]:
    """The event that the chord resolves to, and how (`tunes.harmony.readings.reading.RESOLUTIONS`)."""
    aims = _aims(key, function)
    after = _next_chord(event, events)
    if not aims or after is None:
        return None, "none"
    symbol = events[after].symbol
    assert symbol is not None
    if symbol.root.pc in aims or (symbol.bass is not None and symbol.bass.pc in aims and function.role == "dominant"):
        return after, "direct"
    return (after, "deceptive") if function.role == "dominant" else (None, "none")


def _aims(key: Key, function: Function) -> set[int]:
    """Pitch classes of the roots that the chord promises; none for a chord at rest or for colour."""
    try:
        target = key.note_at(function.target or "1").pc
    except SpellingError:
        return set()
    if function.of == "2":
        return {(target + 7) % 12, (target + 1) % 12}
    if function.role == "dominant":
        return {target}
    return {key.note_at("5").pc, key.note_at("b2").pc} if function.role == "predominant" else set()


def _next_chord(event: int, events: Sequence[Event]) -> int | None:
    """The next event with another chord, round the top of the form; None when there is none."""
    here = events[event].symbol
    for step in range(1, len(events)):
        at = (event + step) % len(events)
        symbol = events[at].symbol
        if symbol is not None and (here is None or symbol.text != here.text):
            return at
    return None
