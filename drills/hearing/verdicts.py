"""Note by note: as written, another note, not heard; early or late; cents off.

First what the pairing says, then a look at the frames in which the note was due: they rescue repeats that were slurred (one
event over several notes) and slips to another octave at a soft attack.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from .alignment import SAME, Aligned
from .expected import Score, Wanted
from .mending import unslipped
from .result import ANOTHER, AS_WRITTEN, EARLY, LATE, NOT_HEARD, NoteAdvice
from .sound import STEP, Array, Event, Sound

OFF_BEAT = 0.1
"""Seconds off the take's own median from which a note is early or late."""
LONG = 0.25
"""Seconds a note must sound for its tuning to be read."""
_EDGE = 0.06
_VIBRATO = 0.6
"""Of a semitone: frames further from the median of a note than any vibrato goes are slips."""
_TAIL_DB = 18.0
_SPEAKS, _SPEAKING_DB = 0.15, 10.0
_ENOUGH = 0.07
Spell = Callable[[int, int], str]
"""(place of the note in the chorus, sounding MIDI number heard there) → how it is printed."""


def verdicts(sound: Sound, score: Score, aligned: Aligned, spell: Spell) -> tuple[NoteAdvice, ...]:
    """What is said of every note of the take."""
    look = _Look(sound, score, aligned, spell)
    return tuple(look.note(place) for place in range(len(score.notes)))


class _Look:
    def __init__(self, sound: Sound, score: Score, aligned: Aligned, spell: Spell) -> None:
        self.sound, self.score, self.aligned, self.spell = sound, score, aligned, spell
        frames = sound.frames
        mended = unslipped(frames.midi, frames, aligned.events)
        self.midi: Array = mended - aligned.tuning / 100 - aligned.shift
        self.sure = frames.confidence >= 0.4
        self.due = aligned.due
        self.ends = self._ends()
        self.taken = set(aligned.event_of)
        loud = [aligned.events[k].level for k in aligned.event_of if k >= 0]
        self.loud = float(np.median(loud)) if loud else -20.0

    def _ends(self) -> Array:
        """When each note is over at the latest: at its written end, or where the next is due."""
        beat = self.score.beat * self.aligned.warp.rate
        own = self.due + np.array([note.length for note in self.score.notes]) * beat
        following = np.append(self.due[1:], own[-1] if len(own) else 0.0)
        return np.asarray(np.maximum(np.minimum(own, np.maximum(following, self.due + 0.05)), self.due + 0.05))

    def pitch(self, event: Event) -> float:
        return event.midi - self.aligned.tuning / 100 - self.aligned.shift

    def note(self, place: int) -> NoteAdvice:
        wanted, event_at = self.score.notes[place], self.aligned.event_of[place]
        if event_at >= 0 and abs(self.pitch(self.aligned.events[event_at]) - wanted.midi) < SAME:
            return self._right(place, wanted, event_at)
        if self._sounds(place, wanted):
            return self._said(place, wanted, AS_WRITTEN, cents=None)
        other = event_at if event_at >= 0 else self._unpaired(place)
        if other >= 0 and self._is_a_note(place, self.aligned.events[other]):
            event = self.aligned.events[other]
            midi = round(self.pitch(event))
            if midi != wanted.midi:
                named = self.spell(wanted.index, midi)
                return self._said(place, wanted, ANOTHER, second=event.start, midi=midi, heard=named)
        return self._said(place, wanted, NOT_HEARD)

    def _said(
        self,
        place: int,
        wanted: Wanted,
        verdict: str,
        *,
        second: float | None = None,
        midi: int | None = None,
        heard: str = "",
        timing: str = "",
        off: float | None = None,
        cents: int | None = None,
    ) -> NoteAdvice:
        at = float(self.due[place]) if second is None else second
        return NoteAdvice(
            wanted.index, wanted.chorus, wanted.bar, verdict, heard, midi, timing,
            None if off is None else round(1000 * off), cents, round(max(0.0, at), 3),
        )  # fmt: skip

    def _right(self, place: int, wanted: Wanted, at: int) -> NoteAdvice:
        event = self.aligned.events[at]
        begins = self._begins(place, at)
        off = begins - float(self.due[place])
        timing = LATE if off > OFF_BEAT else EARLY if off < -OFF_BEAT else ""
        if timing == LATE and self._already(place, wanted, begins):
            timing, off = "", 0.0
        known: float | None = off
        if timing == EARLY and place > 0 and self.score.notes[place - 1].midi == wanted.midi:
            timing, known = "", None  # a repeat: what was heard may be the note before
        return self._said(
            place, wanted, AS_WRITTEN, second=begins, timing=timing, off=known, cents=self._cents(wanted, event)
        )

    def _begins(self, place: int, at: int) -> float:
        """Where the note begins: with a short slip just before it that belongs to no other note, if that is nearer."""
        events, due = self.aligned.events, float(self.due[place])
        begins = events[at].start
        while at > 0 and at - 1 not in self.taken and events[at].start - events[at - 1].end < 2 * STEP:
            before = events[at - 1]
            if before.length > 0.15 or abs(before.start - due) >= abs(begins - due):
                break
            begins, at = before.start, at - 1
        spoken = self._spoken(begins, events[at - 1].end if at else 0.0)
        return max(spoken, min(begins, due))  # it makes nothing early

    def _spoken(self, begins: float, after: float) -> float:
        """Earlier by the loud frames just before it that have no pitch yet: a tone that speaks slowly has begun there."""
        frames = self.sound.frames
        inside = frames.between(max(after, begins - _SPEAKS), begins)
        quiet = np.flatnonzero(frames.level[inside] < self.loud - _SPEAKING_DB)
        first = inside.start + (int(quiet[-1]) + 1 if len(quiet) else 0)
        return min(begins, float(frames.times[first])) if first < inside.stop else begins

    def _already(self, place: int, wanted: Wanted, begins: float) -> bool:
        """Whether the pitch sounded before its event, at least half the way from where it was due: no new attack was heard."""
        due = float(self.due[place])
        return self._share(wanted.midi, due + 0.02, begins) > 0.5

    def _cents(self, wanted: Wanted, event: Event) -> int | None:
        """Cents off the take's own tuning, in the stable middle: what is far from its median left out, then the mean, which counts
        frames less towards both ends. A tone with vibrato is heard at its mean (Shonle and Horan, JASA 67, 1980, from memory); the window keeps a
        cycle that is cut at an end from pulling it."""
        if event.length < LONG:
            return None
        inside = self.sound.frames.between(event.start + _EDGE, event.end - _EDGE)
        off = self.midi[inside] - wanted.midi
        used = self.sure[inside] & (np.abs(off) < 1.0)
        if used.sum() < 5:
            return None
        used &= np.abs(off - np.median(off[used])) < _VIBRATO
        weight = np.hanning(len(off) + 2)[1:-1] * used
        return round(100 * float(np.sum(weight * off) / np.sum(weight)))

    def _share(self, midi: float, start: float, end: float) -> float:
        """Part of the frames of a stretch in which a pitch sounds, louder than a tail in the room."""
        inside = self.sound.frames.between(start, end)
        if inside.stop <= inside.start:
            return 0.0
        return float(self._near(midi, inside).mean())

    def _near(self, midi: float, inside: slice) -> Array:
        alive = self.sound.frames.level[inside] > self.loud - _TAIL_DB
        there = np.abs(self.midi[inside] - midi) < 0.5
        return np.asarray(there & self.sure[inside] & alive, dtype=np.float64)

    def _sounds(self, place: int, wanted: Wanted) -> bool:
        """Whether the pitch stands in the frames where the note was due, and is not a neighbour of the same pitch."""
        start, end = float(self.due[place]), float(self.ends[place])
        notes, span = self.score.notes, end - start
        if any(0 <= k < len(notes) and notes[k].midi == wanted.midi for k in (place - 1, place + 1)):
            return self._share(wanted.midi, start + 0.25 * span, end - 0.15 * span) >= 0.6
        inside = self.sound.frames.between(start - 0.05, end)
        near = self._near(wanted.midi, inside)
        return _longest(near) * STEP >= min(max(_ENOUGH, 0.35 * span), 0.2)

    def _unpaired(self, place: int) -> int:
        """An event that no note has, most of it where this note was due; -1 without one."""
        start, end = float(self.due[place]), float(self.ends[place])
        best, most = -1, 0.0
        for at in _around(self.aligned.events, start, end):
            event = self.aligned.events[at]
            inside = min(event.end, end) - max(event.start, start - 0.1)
            if at not in self.taken and event.start > start - 0.15 and inside > max(most, 0.4 * event.length):
                best, most = at, inside
        return best

    def _is_a_note(self, place: int, event: Event) -> bool:
        """Long and loud enough to be a note that was played."""
        span = float(self.ends[place] - self.due[place])
        return event.length >= min(max(0.05, 0.25 * span), 0.12) and event.level > self.loud - _TAIL_DB


def _longest(near: Array) -> int:
    """The longest run of ones."""
    best = run = 0
    for one in near:
        run = run + 1 if one else 0
        best = max(best, run)
    return best


def _around(events: Sequence[Event], start: float, end: float) -> range:
    first = next((k for k, event in enumerate(events) if event.end > start), len(events))
    last = next((k for k in range(first, len(events)) if events[k].start >= end), len(events))
    return range(first, last)
