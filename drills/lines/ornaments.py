"""Ways into a guide tone that resolves a dominant: from a semitone below, or enclosed by its neighbours.

Common practice, no single source: the held note gives up its last quaver (last two for an enclosure); the lower
neighbour is a semitone below, the upper one the next note of the key above. The upper neighbour comes first, unless it is
the note that was held: then the lower one does, so that no note is played twice. What is a semitone away already needs no
approach, and nothing is led into from more than an octave away.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from tunes.harmony.pitch.spelling import Interval, Key, NoteName, Pitch

from .line import QUAVER, LineNote

ORNAMENTS = ("none", "below", "enclosure")
SEMITONE_DOWN = Interval.parse("-m2")
OCTAVE = 12
MAJOR = (0, 2, 4, 5, 7, 9, 11)
MINOR = (0, 2, 3, 5, 7, 8, 10)


def upper_neighbour(pitch: Pitch, key: Key) -> Pitch:
    """The note of the key on the next letter, when it lies a semitone or a tone above; else a tone above."""
    letter = (pitch.name.step + 1) % 7
    degree = (letter - key.tonic.step) % 7
    semitones = (MAJOR if key.mode == "major" else MINOR)[degree]
    name = key.tonic + Interval(degree, semitones)
    up = Pitch(name, pitch.octave + (1 if letter == 0 else 0))
    return up if up.midi - pitch.midi in (1, 2) else pitch + Interval(1, 2)


def lower_neighbour(pitch: Pitch) -> Pitch:
    """A semitone below on the next letter down: D sharp below E, B flat below C flat; no double signs."""
    down = pitch + SEMITONE_DOWN
    if abs(down.name.alter) < 2:
        return down
    plain = NoteName(pitch.name.letter, pitch.name.alter - 1)
    return Pitch(plain, pitch.octave)


def approached(notes: Sequence[LineNote], targets: dict[Fraction, Key], ornament: str) -> list[LineNote]:
    """The notes of one voice with each resolution prepared. `targets` maps the start of a target to its key."""
    if ornament == "none":
        return list(notes)
    result: list[LineNote] = []
    for note in notes:
        key = targets.get(note.start)
        before = result[-1] if result else None
        if key is None or note.pitch is None or before is None or before.pitch is None or before.end != note.start:
            result.append(note)
            continue
        leads = _way_in(before.pitch, note.pitch, key, ornament)
        room = QUAVER * len(leads)
        if leads and before.duration >= 2 * room:
            result[-1] = replace(before, duration=before.duration - room)
            result += _leads(leads, note.start - room, before.event)
        result.append(note)
    return result


def _way_in(held: Pitch, target: Pitch, key: Key, ornament: str) -> list[Pitch]:
    """What leads from a held note to its target; empty where it would repeat the note or leap over an octave."""
    leads = [lower_neighbour(target)]
    if ornament == "enclosure":
        leads.insert(0, upper_neighbour(target, key))
        if leads[0].midi == held.midi:
            leads.reverse()
    return leads if 0 < abs(leads[0].midi - held.midi) <= OCTAVE else []


def _leads(pitches: Sequence[Pitch], start: Fraction, event: int) -> list[LineNote]:
    return [
        LineNote(pitch, start + QUAVER * index, QUAVER, event, ornament=True) for index, pitch in enumerate(pitches)
    ]
