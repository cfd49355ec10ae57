"""The shapes of an analysis: readings, key areas, alternatives, and their JSON.

`Analysis` is what `tunes.harmony.analysis.pipeline.analyse` returns and what a chart revision stores.
Event indices are positions in ``chart.events()``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from tunes.harmony.pitch.spelling import Key, degree_interval
from tunes.harmony.readings.function import Function
from tunes.harmony.readings.reason import Reason
from tunes.harmony.readings.rule_ids import RuleId

RESOLUTIONS = ("direct", "delayed", "deceptive", "onward", "none", "held")
"""direct: to the next chord · delayed: other chords stand between · deceptive: another chord comes in
place of the promised one; `resolves_to` says where the promise is kept, if it is ·
onward: a tonic at rest, a colour or a chord that slides by; `resolves_to` says where the music goes on to from there, None for the next chord ·
held: the chord comes again before it moves on · none: it asks for no resolution or finds none."""


@dataclass(frozen=True, kw_only=True)
class Alternative:
    """Another way to hear a chord. `margin` ≥ 0 is how much weaker it is, 0 meaning as good (0 to about 10)."""

    key: Key
    function: Function
    margin: float
    reason: Reason

    def to_json(self) -> dict[str, Any]:
        """A plain dict."""
        return {
            "key": self.key.text, "function": self.function.to_json(), "margin": self.margin,
            "reason": self.reason.to_json(),
        }  # fmt: skip

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Alternative:
        """The inverse of `to_json`."""
        return cls(
            key=Key.parse(data["key"]), function=Function.from_json(data["function"]), margin=float(data["margin"]),
            reason=Reason.from_json(data["reason"]),
        )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Reading:
    """How one event is heard.

    `key` is the key area; `local_key` the tonic the chord directly serves (for ``V7/ii`` the ii), equal to
    `key` at home.  `resolves_to` is the event it is heading for, which may lie several chords later, or
    earlier (event 0) when the form leads back to its top.  `reason` says why, as
    data: its `rule` and what that names.  `patterns` names the progressions it belongs to.  `bass` is the degree of the bass
    in `key`, "" when it is the root; `half_two` says that a dominant follows its own 2, half diminished.
    """

    event: int
    key: Key
    function: Function
    resolves_to: int | None
    resolution: str
    reason: Reason
    local_key: Key
    alternatives: tuple[Alternative, ...] = ()
    patterns: tuple[str, ...] = ()
    bass: str = ""
    half_two: bool = False

    @property
    def rule(self) -> RuleId:
        """The rule that it is read by."""
        return self.reason.rule

    @property
    def root(self) -> int:
        """The pitch class it stands on."""
        return (self.key.tonic.pc + degree_interval(self.function.degree).semitones) % 12

    def to_json(self) -> dict[str, Any]:
        """A plain dict."""
        return {
            "event": self.event,
            "key": self.key.text,
            "function": self.function.to_json(),
            "resolves_to": self.resolves_to,
            "resolution": self.resolution,
            "reason": self.reason.to_json(),
            "local_key": self.local_key.text,
            "alternatives": [a.to_json() for a in self.alternatives],
            "patterns": list(self.patterns),
            "bass": self.bass,
            "half_two": self.half_two,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Reading:
        """The inverse of `to_json`."""
        target = data["resolves_to"]
        return cls(
            event=int(data["event"]),
            key=Key.parse(data["key"]),
            function=Function.from_json(data["function"]),
            resolves_to=None if target is None else int(target),
            resolution=str(data["resolution"]),
            reason=Reason.from_json(data["reason"]),
            local_key=Key.parse(data["local_key"]),
            alternatives=tuple(Alternative.from_json(a) for a in data["alternatives"]),
            patterns=tuple(str(p) for p in data["patterns"]),
            bass=str(data.get("bass", "")),
            half_two=bool(data.get("half_two", False)),
        )


def goes_on(reading: Reading, after: Reading) -> bool:
    """Whether a chord is the same one still sounding: itself, or another colour of one dominant."""
    if after.root != reading.root:
        return False
    if after.function == reading.function:
        return True
    settles = (
        after.rule == RuleId.SUSPENDED and reading.resolution != "deceptive"
    )  # what comes in its place is another chord
    if settles or reading.rule == RuleId.SUSPENDED or reading.function.role != "dominant":
        return False
    if after.function.role == "dominant":
        return after.function.of == reading.function.of
    return after.function.role in ("colour", "subdominant") and after.function.quality.startswith("7")


@dataclass(frozen=True, kw_only=True)
class KeyArea:
    """A stretch of one key: events `first` to `last`, both included."""

    key: Key
    first: int
    last: int
    reason: Reason

    def to_json(self) -> dict[str, Any]:
        """A plain dict."""
        return {"key": self.key.text, "first": self.first, "last": self.last, "reason": self.reason.to_json()}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> KeyArea:
        """The inverse of `to_json`."""
        return cls(
            key=Key.parse(data["key"]), first=int(data["first"]), last=int(data["last"]),
            reason=Reason.from_json(data["reason"]),
        )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Analysis:
    """The whole reading of a chart.

    `landing[i]` is the number of resolutions still to come before event i lands on its local tonic: 0 at
    rest, 1 for a dominant, 2 for its ii, also for a deceptive dominant, after which the line breaks; None where nothing
    is promised.  `engine` is the version that
    made it.
    """

    home: Key
    areas: tuple[KeyArea, ...]
    readings: tuple[Reading, ...]
    landing: tuple[int | None, ...]
    engine: str

    def heading(self, event: int) -> int | None:
        """The event that a page points to from this one: where it resolves, or, when it is deceptive, what comes in
        its place, its own repetitions passed over, or, when it is held, where it comes again; None at rest."""
        reading = self.readings[event]
        if reading.resolves_to is None or reading.resolution == "onward":
            return None
        if reading.resolution not in ("deceptive", "held"):
            return reading.resolves_to
        after = event + 1
        while after < len(self.readings) and goes_on(reading, self.readings[after]):
            after += 1
        if reading.resolution == "held":
            return self._again(reading, after)
        return after if after < len(self.readings) else 0

    def _again(self, reading: Reading, after: int) -> int | None:
        """Where a chord comes again: before its goal, the next on the same root, of the same quality if there is one."""
        goal = reading.resolves_to
        end = goal if goal is not None and goal > after else len(self.readings)
        alike = [at for at in range(after, end) if self._is_itself(at, reading)]
        same = [at for at in alike if self.readings[at].function.quality == reading.function.quality]
        if reading.rule == RuleId.SUSPENDED or not same:
            return next(iter(alike), reading.resolves_to)
        return same[0]

    def _is_itself(self, at: int, reading: Reading) -> bool:
        other = self.readings[at]
        return other.root == reading.root and not other.function.quality.startswith("dim")

    def to_json(self) -> dict[str, Any]:
        """A plain dict of JSON types."""
        return {
            "home": self.home.text,
            "areas": [a.to_json() for a in self.areas],
            "readings": [r.to_json() for r in self.readings],
            "landing": list(self.landing),
            "engine": self.engine,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Analysis:
        """The inverse of `to_json`; raises KeyError when a field is missing."""
        return cls(
            home=Key.parse(data["home"]),
            areas=tuple(KeyArea.from_json(a) for a in data["areas"]),
            readings=tuple(Reading.from_json(r) for r in data["readings"]),
            landing=tuple(None if x is None else int(x) for x in data["landing"]),
            engine=str(data["engine"]),
        )
