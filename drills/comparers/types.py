"""The shapes that every comparer shares: strictness, context, echo, mark."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from tunes.harmony.pitch.spelling import Interval, Key, SpellingError

StoredKey = Mapping[str, Any]
_ALTERNATIVES = ("none", "part", "full")


@dataclass(frozen=True, slots=True)
class Strictness:
    """How strict the instructor is.

    ``quality``: the quality of the chord is asked, not only the number.  ``alternatives``: what the
    engine's other readings earn ("full", "part" or "none").  ``key_prefix``: a new key area must be
    named in front of its first chord ("Ab: 2").
    """

    quality: bool = False
    alternatives: str = "part"
    key_prefix: bool = False

    def to_json(self) -> dict[str, Any]:
        """A plain dictionary, fit for a JSON column."""
        return {"quality": self.quality, "alternatives": self.alternatives, "key_prefix": self.key_prefix}

    @classmethod
    def from_json(cls, data: Mapping[str, Any] | None) -> Strictness:
        """Strictness from a JSON column; anything unknown falls back to the default."""
        data = data or {}
        alternatives = str(data.get("alternatives", "part"))
        return cls(
            quality=bool(data.get("quality", False)),
            alternatives=alternatives if alternatives in _ALTERNATIVES else "part",
            key_prefix=bool(data.get("key_prefix", False)),
        )


@dataclass(frozen=True, slots=True)
class Mark:
    """What one answer earned: ``points`` 0..1, the ``rule`` (id in ``marking_rules()``), ``feedback`` in plain
    sentences, and ``understood``: the answer as it was read."""

    points: float
    rule: str
    feedback: str
    understood: str


@dataclass(frozen=True, slots=True)
class Echo:
    """How a field says that it was understood, before anything is judged.  ``ok`` False: ``text`` says what
    to type instead, and ``start``/``end`` locate the trouble in what was typed."""

    text: str
    ok: bool
    start: int = 0
    end: int = 0


@dataclass(frozen=True, slots=True)
class Context:
    """Where an answer stands: ``key``, the key in force for the player (the last one named in front of an
    earlier answer, else the home key; concert pitch, "F major"), and ``written``, the interval from concert
    to the pitch the player reads ("M6" for an alto saxophone), in which keys and notes are typed.  ``part`` is what
    a question asks of several things (``context["part"]`` of the question); the echo shows that alone.  ``metre`` is that
    of the bar asked about ("4/4"), for answers that fill a bar.  The echo of a function also takes ``chord``, the chord
    asked about in the pitch that is read, and ``quality``, whether the quality of the chord counts.
    """

    key: str = ""
    written: str = "P1"
    part: str = ""
    metre: str = ""
    chord: str = ""
    quality: bool = True

    @classmethod
    def from_json(cls, data: Mapping[str, Any] | None) -> Context:
        """Context from a plain dictionary."""
        data = data or {}
        return cls(
            key=str(data.get("key") or ""), written=str(data.get("written") or "P1"), part=str(data.get("part") or ""),
            metre=str(data.get("metre") or ""), chord=str(data.get("chord") or ""), quality=bool(data.get("quality", True)),
        )  # fmt: skip

    @property
    def interval(self) -> Interval:
        """From concert to written pitch; a unison when the name cannot be read."""
        try:
            return Interval.parse(self.written)
        except SpellingError:
            return Interval(0, 0)

    @property
    def concert_key(self) -> Key | None:
        """The key in force in concert pitch, None when none is known."""
        try:
            return Key.parse(self.key) if self.key else None
        except SpellingError:
            return None

    @property
    def shown_key(self) -> Key | None:
        """The key in force as the player reads it."""
        key = self.concert_key
        return key.transposed(self.interval) if key else None


def context_from(data: Context | Mapping[str, Any] | None) -> Context:
    """A context, whatever form it came in."""
    return data if isinstance(data, Context) else Context.from_json(data)
