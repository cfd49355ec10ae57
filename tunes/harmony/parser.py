"""The search: the best way for every chord of a phrase to prepare or rest, by the weights of `grammar`.

The phrase is read from its end.  What may come before a reading depends on its chain only: the chord just read,
its goal, the goal's goal, and so on.  A link of a chain is one number, sixteen times the place of the chord plus
the code of its relation to the next link, so readings that have come to the same chain share one weighing.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from math import exp, log
from typing import NamedTuple

from .grammar import _SCORES, MOST_GOALS, RELATION_CODE, Codes, Node, chain_from, codes
from .relations import relation

BEAM = 6
"""How many readings are kept."""

Chain = tuple[int, ...]


class _Choice(NamedTuple):
    """The goal `chain[k]` chosen among `chances` (log-probabilities), and the choices of the chords after it."""

    chain: Chain
    chances: list[float]
    k: int
    later: _Choice | None


class _State(NamedTuple):
    score: float
    chain: Chain
    choice: _Choice | None


class Parse(NamedTuple):
    """`heads[i]` is the stretch that i holds on to or prepares (None for the last); `sure[i]` the probability
    of that choice given what follows, `rival[i]` the next best goal."""

    heads: list[int | None]
    sure: list[float]
    rival: list[int | None]


def parse(nodes: Sequence[Node]) -> Parse:
    """The best reading of a run of chords whose last one is the tonic everything leads to."""
    if not nodes:
        return Parse([], [], [])
    numbers = codes(nodes)
    states = [_State(0.0, ((len(nodes) - 1) << 4,), None)]
    for index in range(len(nodes) - 2, -1, -1):
        states = _step(nodes, numbers, states, index)
    choices: list[_Choice] = []
    choice = states[0].choice
    while choice is not None:
        choices.append(choice)
        choice = choice.later
    return _with_margins(nodes, numbers, choices)


def _chances(numbers: Codes, chain: Chain, index: int) -> list[float]:
    """Log-probabilities of the goals along the chain."""
    goal, below, tonic = numbers.goal, numbers.below, numbers.tonic
    chord, between, passed = numbers.choice[index], 0, 0
    raw: list[float] = []
    for link in chain[:MOST_GOALS]:
        at = link >> 4
        raw.append(_SCORES[chord + goal[at] + (link & 15) * 2 + between])
        passed |= tonic[at]
        between = below[at] + passed
    top = max(raw)
    total = top + log(sum([exp(x - top) for x in raw]))
    return [x - total for x in raw]


def _step(nodes: Sequence[Node], numbers: Codes, states: list[_State], index: int) -> list[_State]:
    """The best readings from chord `index` on."""
    known: dict[Chain, list[float]] = {}
    totals: list[float] = []
    ways: list[tuple[_State, int]] = []
    for state in states:
        chances = known.get(state.chain)
        if chances is None:
            chances = known[state.chain] = _chances(numbers, state.chain, index)
        totals += [state.score + chance for chance in chances]
        ways += [(state, k) for k in range(len(chances))]
    order = sorted(range(len(totals)), key=totals.__getitem__, reverse=True)
    grown: list[_State] = []
    for place in order[:BEAM]:
        state, k = ways[place]
        choice = _Choice(state.chain, known[state.chain], k, state.choice)
        grown.append(_State(totals[place], _longer(nodes, state.chain, k, index), choice))
    return grown


def _longer(nodes: Sequence[Node], chain: Chain, k: int, index: int) -> Chain:
    """The chain of a chord that has chosen the goal chain[k]; links too far up to be looked at are cut off."""
    link = index << 4 | _onward(nodes, index, chain[k] >> 4)
    if k or len(chain) <= MOST_GOALS:
        return (link, *chain[k:])
    return (link, *chain[: MOST_GOALS - 1], chain[MOST_GOALS - 1] >> 4 << 4)


def _onward(nodes: Sequence[Node], index: int, goal: int) -> int:
    a, b = nodes[index], nodes[goal]
    return RELATION_CODE[relation((b.root - a.root) % 12, a.cls, b.cls)]


def _with_margins(nodes: Sequence[Node], numbers: Codes, choices: Sequence[_Choice]) -> Parse:
    """Every choice with its probability and its rival, over the whole chain where the search had cut it."""
    heads: list[int | None] = [*(choice.chain[choice.k] >> 4 for choice in choices), None]
    depth = [1] * len(nodes)
    for index in range(len(choices) - 1, -1, -1):
        depth[index] = depth[choices[index].chain[choices[index].k] >> 4] + 1
    sure: list[float] = []
    rival: list[int | None] = []
    for index, choice in enumerate(choices):
        if len(choice.chain) < min(depth[index + 1], MOST_GOALS + 1):
            choice = _whole(nodes, numbers, heads, index)
        chances = choice.chances
        others = [k for k in range(len(chances)) if k != choice.k]
        best = max(others, key=chances.__getitem__, default=None)
        sure.append(exp(chances[choice.k]))
        rival.append(None if best is None else choice.chain[best] >> 4)
    return Parse(heads, [*sure, 1.0], [*rival, None])


def _whole(nodes: Sequence[Node], numbers: Codes, heads: Sequence[int | None], index: int) -> _Choice:
    """The same choice with nothing cut off its chain."""
    places = chain_from(heads, index + 1)
    onward = [_onward(nodes, a, b) for a, b in itertools.pairwise(places)]
    chain = tuple(at << 4 | code for at, code in zip(places, [*onward, 0], strict=True))
    goal = heads[index]
    return _Choice(chain, _chances(numbers, chain, index), places.index(goal if goal is not None else -1), None)
