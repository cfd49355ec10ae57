"""Which of the changes are played, and in which chorus: drawn by a seed. Pure; the same seed draws the same.

Versions come before rules, and what the player has not yet heard out before what is known.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from tunes.harmony.charts import Slot

from .offers import Offer

AMOUNTS = {"one": "one change", "some": "two or three changes", "version": "a whole other version"}
SOME = 3
LEAST_CHORUSES, MOST_CHORUSES, USUAL_CHORUSES = 2, 8, 4
APART = 2  # bars between the beginnings of two changes, at least


@dataclass(frozen=True, slots=True)
class Drawn:
    """The changes of one chorus; `chorus` counts from 1 and is never the first, which is played as the chart has it."""

    chorus: int
    offers: tuple[Offer, ...]

    @property
    def bars(self) -> dict[int, tuple[Slot, ...]]:
        return {bar: slots for offer in self.offers for bar, slots in offer.bars}

    def offer_at(self, bar: int) -> Offer | None:
        return next((offer for offer in self.offers if bar in offer.places), None)


def draw(
    versions: Sequence[Sequence[Offer]],
    rules: Sequence[Offer],
    *,
    amount: str,
    choruses: int,
    seed: int,
    known: Collection[str] = (),
) -> Drawn | None:
    """The changes of a seed; None where there is nothing to change. `versions` are the offers of each version."""
    dice = random.Random(f"{seed}:{amount}:{choruses}")
    chorus = dice.randint(2, max(2, choruses))
    whole = [offers for offers in versions if offers]
    if amount == "version" and whole:
        return Drawn(chorus, tuple(dice.choice(whole)))
    most = 1 if amount == "one" else dice.choice((SOME - 1, SOME))
    chosen: list[Offer] = []
    for tier in _tiers([offer for offers in whole for offer in offers], rules, frozenset(known)):
        for offer in _mixed(tier, dice):
            if len(chosen) < most and _clear(offer, chosen):
                chosen.append(offer)
    return Drawn(chorus, tuple(sorted(chosen, key=lambda offer: offer.places))) if chosen else None


def _tiers(versions: Sequence[Offer], rules: Sequence[Offer], known: frozenset[str]) -> list[list[Offer]]:
    new_versions, new_rules = ([o for o in offers if o.id not in known] for offers in (versions, rules))
    old = [offer for offer in (*versions, *rules) if offer.id in known]
    return [new_versions, new_rules, old]


def _mixed(offers: Sequence[Offer], dice: random.Random) -> list[Offer]:
    """In the order of the dice, each rule once before any comes twice: a rule that fits everywhere is not drawn always."""
    shuffled = dice.sample(list(offers), len(offers))
    kinds: dict[str, list[Offer]] = {}
    for offer in shuffled:
        kinds.setdefault(offer.rule or "version", []).append(offer)
    order = dice.sample(sorted(kinds), len(kinds))
    turns = max((len(row) for row in kinds.values()), default=0)
    return [kinds[kind][turn] for turn in range(turns) for kind in order if turn < len(kinds[kind])]


def _clear(offer: Offer, chosen: Sequence[Offer]) -> bool:
    """Whether an offer keeps its distance from those that are chosen."""
    return all(abs(one - other) >= APART for one in offer.places for taken in chosen for other in taken.places)
