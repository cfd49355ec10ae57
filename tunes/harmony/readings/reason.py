"""Why something is read as it is, as data: a rule and what its sentence names, with typed keys, degrees and functions.

Nothing here is prose. `tunes.harmony.explain.sentences.told` renders a reason once, when it is shown, in the key, the pitch and
the signs of the page; so a reason moves with its chart by moving the keys that it names.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import Any

from tunes.harmony.pitch.spelling import Interval, Key
from tunes.harmony.readings.function import Function
from tunes.harmony.readings.rule_ids import RuleId

VERSION = 1
"""The version of the stored form; `Reason.from_json` reads this one only, older charts are read again."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Named:
    """A chord as a sentence names it: by what it does (`function`), or by its `degree` ("b7"), with `quality` "minor",
    "major" or "half diminished" where it is not what that degree has."""

    degree: str = ""
    quality: str = ""
    function: Function | None = None

    def to_json(self) -> Any:
        """A degree, a degree with its quality, or a function."""
        if self.function is not None:
            return {"function": _packed(self.function)}
        return [self.degree, self.quality] if self.quality else self.degree

    @classmethod
    def from_json(cls, data: Any) -> Named:
        """The inverse of `to_json`."""
        if isinstance(data, str):
            return cls(degree=data)
        if isinstance(data, Mapping):
            return cls(function=_unpacked(data["function"]))
        return cls(degree=str(data[0]), quality=str(data[1]))


@dataclass(frozen=True, kw_only=True, slots=True)
class Args:
    """What the sentence of a rule may name; what it does not name is left at its default.

    `key` is the local key and `chord` what the chord does there, `suspended` whether it says so; `target` is its goal,
    `aim` the degree that it promises, `following` the chord after it and `following_as` what that one is called in its turn
    (`following_key`: the key that it is named in, where another one begins with it),
    `itself` what the goal is called in its turn, `between` the first chord before the goal and `more_between` whether others
    follow it.  `borrowed` is the mode that a chord is from ("" the parallel one), `witnesses` what speaks for a key
    (`explain.sentences.WITNESSES`).  `degrees` are those of a bass line or a pedal, `falls` tells a line down from a line up;
    `member` is the note of the chord in the bass ("3rd").  `passages` are modal passages by their centres, `shows` the degree
    by which a chord shows one ("" for the centre itself).  `where` says in which part of an area another key is heard.
    `by` and `words` are a person's.
    """

    key: Key | None = None
    chord: Function | None = None
    suspended: bool = False
    target: Named | None = None
    aim: Named | None = None
    following: Named | None = None
    following_as: Named | None = None
    following_key: Key | None = None
    itself: Named | None = None
    between: Named | None = None
    more_between: bool = False
    borrowed: str = ""
    witnesses: tuple[str, ...] = ()
    degrees: tuple[str, ...] = ()
    falls: bool = False
    member: str = ""
    passages: tuple[Key, ...] = ()
    shows: str = ""
    where: str = ""
    by: str = ""
    words: str = ""

    def to_json(self) -> dict[str, Any]:
        """What is named, by field."""
        found = ((field.name, getattr(self, field.name), field.default) for field in fields(self))
        return {name: _plain(value) for name, value, default in found if value != default}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Args:
        """The inverse of `to_json`; raises KeyError for a field that it does not know."""
        return cls(**{name: _READ[name](value) for name, value in data.items()})


@dataclass(frozen=True, kw_only=True, slots=True)
class Reason:
    """A rule, what its sentence names, and the further clauses that follow it."""

    rule: RuleId
    args: Args = Args()
    more: tuple[Reason, ...] = ()

    def and_also(self, rule: RuleId, args: Args) -> Reason:
        """The same with one more clause."""
        return replace(self, more=(*self.more, Reason(rule=rule, args=args)))

    def with_keys(self, change: Callable[[Key], Key]) -> Reason:
        """The same with every key that it names changed."""
        key, then, passages = self.args.key, self.args.following_key, tuple(change(one) for one in self.args.passages)
        return replace(
            self,
            args=replace(
                self.args,
                key=None if key is None else change(key),
                following_key=None if then is None else change(then),
                passages=passages,
            ),
            more=tuple(one.with_keys(change) for one in self.more),
        )

    def transposed(self, interval: Interval) -> Reason:
        """The same in the pitch that lies `interval` away; degrees and functions are the same everywhere."""
        return self.with_keys(lambda key: key.transposed(interval))

    def to_json(self) -> dict[str, Any]:
        """A plain dict of JSON types, with its version."""
        return {"version": VERSION} | self._to_json()

    def _to_json(self) -> dict[str, Any]:
        found: dict[str, Any] = {"rule": str(self.rule), "args": self.args.to_json()}
        return found | ({"more": [one._to_json() for one in self.more]} if self.more else {})

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Reason:
        """The inverse of `to_json`; raises ValueError for another version or a rule that it does not know."""
        if data["version"] != VERSION:
            raise ValueError(f"A reason of version {data['version']} cannot be read; this is version {VERSION}.")
        return cls._from_json(data)

    @classmethod
    def _from_json(cls, data: Mapping[str, Any]) -> Reason:
        more = tuple(cls._from_json(one) for one in data.get("more", ()))
        return cls(rule=RuleId(data["rule"]), args=Args.from_json(data["args"]), more=more)


_FUNCTION = ("degree", "quality", "role", "kind", "target", "target_minor", "of")


def _packed(function: Function) -> list[Any]:
    return [getattr(function, name) for name in _FUNCTION]


def _unpacked(values: list[Any]) -> Function:
    return _function(*values)


@lru_cache(maxsize=4096)
def _function(*values: Any) -> Function:
    return Function(*values)


def _plain(value: Any) -> Any:
    if isinstance(value, Function):
        return _packed(value)
    if isinstance(value, Named):
        return value.to_json()
    if isinstance(value, Key):
        return value.text
    return [_plain(one) for one in value] if isinstance(value, tuple) else value


def _texts(values: Any) -> tuple[str, ...]:
    return tuple(str(value) for value in values)


_READ: dict[str, Callable[[Any], Any]] = {
    "key": Key.parse, "chord": _unpacked, "suspended": bool, "target": Named.from_json, "aim": Named.from_json,
    "following": Named.from_json, "following_as": Named.from_json, "following_key": Key.parse, "itself": Named.from_json,
    "between": Named.from_json, "more_between": bool, "borrowed": str, "witnesses": _texts, "degrees": _texts,
    "falls": bool, "member": str, "passages": lambda values: tuple(Key.parse(one) for one in values),
    "shows": str, "where": str, "by": str, "words": str,
}  # fmt: skip
