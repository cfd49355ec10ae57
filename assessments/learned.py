"""What a player knows of a tune, worked out from evidence and from nothing else. Pure.

A tune counts as learned when every step the programme asks for is done **and** an instructor has signed
it off. A step is done when the evidence meets its requirement: for marked kinds, `times` pieces at or
above `pass_mark` percent; sign-off is always asked for, whether or not the programme lists it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

SIGN_OFF = "sign-off"


@dataclass(frozen=True)
class Requirement:
    """One kind of step the programme asks for: `times` pieces of evidence at `pass_mark` percent or more."""

    kind: str
    pass_mark: int = 0
    times: int = 1


@dataclass(frozen=True)
class Fact:
    """One standing piece of evidence (withdrawn ones never get here)."""

    kind: str
    percent: int
    on: datetime
    what: str
    by: str = ""


@dataclass(frozen=True)
class StepStanding:
    """How far one kind of step is: `best` percent, `count` pieces that meet the mark, when it was done."""

    kind: str
    done: bool
    best: int | None
    count: int
    times: int
    done_on: datetime | None
    facts: tuple[Fact, ...]
    asked: bool = True  # whether any assignment has asked the player for it
    sent: bool = False  # handed in and not yet reviewed (`selectors.ledger_now`)
    begun: bool = False
    late: datetime | None = None  # since when, while it is not handed in


@dataclass(frozen=True)
class Standing:
    """One player on one tune. `learned_on` is the moment the last missing piece arrived."""

    steps: tuple[StepStanding, ...]
    learned: bool
    learned_on: datetime | None
    signed_by: str
    signed_on: datetime | None
    signed_for: str

    @property
    def missing(self) -> tuple[str, ...]:
        """What is asked and not done."""
        return tuple(step.kind for step in self.steps if not step.done and step.asked)

    @property
    def unasked(self) -> tuple[str, ...]:
        """What the programme wants and no assignment has asked for: not the player's to catch up on."""
        return tuple(step.kind for step in self.steps if not step.done and not step.asked)

    @property
    def done_count(self) -> int:
        return sum(step.done for step in self.steps)

    @property
    def started(self) -> bool:
        return any(step.facts for step in self.steps)


def with_sign_off(requirements: Iterable[Requirement]) -> tuple[Requirement, ...]:
    """The requirements with sign-off among them, at the end if the programme forgot it."""
    asked = tuple(requirements)
    return asked if any(r.kind == SIGN_OFF for r in asked) else (*asked, Requirement(SIGN_OFF))


def standing(
    facts: Iterable[Fact], requirements: Sequence[Requirement], given: Collection[str] | None = None
) -> Standing:
    """Derive one player's standing on one tune from the evidence that stands. `given` are the kinds of step that assignments
    asked the player for; None where that is not known, so that all count as asked.

    >>> from datetime import datetime as at
    >>> asked = (Requirement("function", 80),)
    >>> heard = [Fact("function", 90, at(2030, 1, 5), "quiz"), Fact("sign-off", 100, at(2030, 1, 9), "played", "I.")]
    >>> standing(heard, asked).learned_on.day
    9
    >>> standing(heard[:1], asked).missing
    ('sign-off',)
    """
    by_kind: dict[str, list[Fact]] = {}
    for fact in sorted(facts, key=lambda f: f.on):
        by_kind.setdefault(fact.kind, []).append(fact)
    steps = tuple(
        replace(_step(by_kind.get(r.kind, []), r), asked=given is None or r.kind in given)
        for r in with_sign_off(requirements)
    )
    learned = all(step.done for step in steps)
    signed = by_kind.get(SIGN_OFF, [])
    last = signed[-1] if signed else None
    return Standing(
        steps=steps,
        learned=learned,
        learned_on=max(step.done_on for step in steps if step.done_on) if learned else None,
        signed_by=last.by if last else "",
        signed_on=last.on if last else None,
        signed_for=last.what if last else "",
    )


def _step(facts: list[Fact], asked: Requirement) -> StepStanding:
    met = [fact for fact in facts if fact.percent >= asked.pass_mark]
    done = len(met) >= asked.times
    return StepStanding(
        kind=asked.kind,
        done=done,
        best=max((fact.percent for fact in facts), default=None),
        count=len(met),
        times=asked.times,
        done_on=met[asked.times - 1].on if done else None,
        facts=tuple(facts),
    )
