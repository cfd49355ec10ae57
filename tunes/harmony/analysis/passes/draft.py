"""What the passes hand on: the chords, and all that has been said of them so far."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from operator import is_
from typing import NamedTuple

from tunes.harmony.analysis.key_areas.cadences import KeyPc
from tunes.harmony.analysis.key_areas.names import KeyNames
from tunes.harmony.analysis.naming.label import Label
from tunes.harmony.analysis.naming.places import Spot
from tunes.harmony.analysis.preparation.skeleton import TOP, Skeleton
from tunes.harmony.analysis.sounds import Sound, Stretch
from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.reading import KeyArea, Reading


@dataclass(frozen=True, kw_only=True)
class Draft:
    """One analysis in the making. Given: `symbols`, `sounds`, `beats` of a bar, the key as typed, and `held`, keys by event that a
    person has fixed; `stretch_of` says which stretch each event belongs to, silence between two belongs to none. Then what the passes add: by stretch `bones` (the preparation tree), `keys`, `ranked` (the keys with what
    they would cost more), `spots` and `names_of` (labels of whole stretches); by event `labels`, `set_by` (the pass that set
    each), `readings`, `landing`; and the `areas`."""

    symbols: Sequence[ChordSymbol | None]
    sounds: Sequence[Sound]
    given: Key | None
    held: Mapping[int, Key]
    bones: Skeleton
    key_names: KeyNames
    stretch_of: Mapping[int, int]
    blues: bool = False
    keys: tuple[KeyPc, ...] = ()
    ranked: tuple[Sequence[tuple[float, KeyPc]], ...] = ()
    spots: tuple[Spot, ...] = ()
    names_of: tuple[Label, ...] = ()
    labels: tuple[Label | None, ...] = ()
    set_by: tuple[str, ...] = ()
    readings: tuple[Reading, ...] = ()
    areas: tuple[KeyArea, ...] = ()
    landing: tuple[int | None, ...] = ()

    def chord(self, event: int) -> Stretch:
        """The stretch of an event, with the event's own class and quality."""
        sound, chord = self.sounds[event], self.bones.chords[self.stretch_of[event]]
        if (sound.cls, sound.quality) == (chord.cls, chord.quality):
            return chord
        return chord._replace(cls=sound.cls, quality=sound.quality)

    def goal_event(self, event: int) -> int | None:
        """The event that an event's stretch resolves to, None at rest."""
        goal = self.bones.goals[self.stretch_of[event]]
        if goal is None:
            return None
        found = self.bones.chords[0 if goal == TOP else goal].first
        return None if found == event else found

    def with_labels(self, change: Callable[[Draft, int, Label], Label]) -> Draft:
        """The draft with every label that a pass changes; itself when it changes none."""
        labels = tuple([
            None if found is None else change(self, event, found) for event, found in enumerate(self.labels)
        ])  # fmt: skip
        same = all(map(is_, labels, self.labels))
        return self if same else replace(self, labels=labels)


class Pass(NamedTuple):
    """One step: its name, what it says in a line, and the function."""

    name: str
    says: str
    work: Callable[[Draft], Draft]


def run(draft: Draft, passes: Sequence[Pass]) -> Draft:
    """Every pass in turn; `set_by` follows which of them set the label of each event."""
    return reduce(lambda _, step: step[1], steps(draft, passes), draft)


def steps(draft: Draft, passes: Sequence[Pass]) -> Iterator[tuple[Pass, Draft]]:
    """The draft after every pass."""
    for one in passes:
        after = one.work(draft)
        if after.labels is not draft.labels or after.readings is not draft.readings:
            after = replace(after, set_by=_set_by(one.name, draft, after))
        draft = after
        yield one, draft


def _set_by(name: str, before: Draft, after: Draft) -> tuple[str, ...]:
    """Who set each label. Readings are made from labels without renaming them, so only like is compared with like."""
    if not before.labels:
        return (name,) * len(after.labels)
    if not after.readings:
        pairs = zip(before.set_by, before.labels, after.labels, strict=True)
        return tuple(by if old is new or old == new else name for by, old, new in pairs)
    if not before.readings:
        return before.set_by
    told = zip(before.set_by, before.readings, after.readings, strict=True)
    return tuple(
        by if old is new or (old.rule == new.rule and old.function == new.function) else name for by, old, new in told
    )
