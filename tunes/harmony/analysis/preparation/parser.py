"""The search: the best way for every chord of a phrase to prepare or rest, by the weights of `grammar`.

The phrase is read from its end.  What may come before a reading depends on its chain only: the chord just read,
its goal, the goal's goal, and so on.  Readings that have come to the same chain share it, and one weighing of it;
a longer chain is a new link in front of an older one, and takes over what that one knows of the goals further up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, inf, log
from typing import NamedTuple

from tunes.harmony.analysis.preparation.constraints import Bars, all_others, bars_of
from tunes.harmony.analysis.preparation.grammar import (
    _SCORES,
    MOST_GOALS,
    NO_ONWARD,
    RELATION_CODE,
    Codes,
    Node,
    codes,
)
from tunes.harmony.analysis.relations import relation

BEAM = 6
"""How many readings are kept."""
_FINITE = 1e300
"""More than any reading costs: what is barred is not kept."""


@dataclass(eq=False, slots=True)
class _Chain:
    """A chord with the goals above it, as the possible goals of the chord before it.

    `near` is the code of the chord itself as the next goal; `far` those of the goals above it, nearest first, and
    `passed` the same where a tonic at rest has been passed before (see `grammar.Codes`), as many as are looked at.
    The search remembers no more than `reach` links; a chain that was once longer is `cut`.
    """

    at: int
    above: _Chain | None
    near: int
    far: tuple[int, ...] = ()
    passed: tuple[int, ...] = ()
    reach: int = 1
    cut: bool = False

    @property
    def shortened(self) -> bool:
        """Whether goals are missing that a whole chain would look at."""
        return self.cut and self.reach <= MOST_GOALS

    def goals(self) -> tuple[int, ...]:
        """The codes of all goals that the search remembers; what the last of a cut chain goes on to do is forgotten."""
        found = (self.near, *self.far)
        if self.cut and self.shortened:
            return (*found[: self.reach - 1], found[self.reach - 1] & NO_ONWARD)
        return found

    def places(self, count: int) -> list[int]:
        """The chords that the first goals are, the chord itself first."""
        found, link = [self.at], self.above
        while link is not None and len(found) < count:
            found.append(link.at)
            link = link.above
        return found


class _State(NamedTuple):
    """A reading: its last step is the goal number `k` of the chain of `later`, the reading before that step, chosen
    among `chances` (log-probabilities)."""

    score: float
    chain: _Chain
    chances: list[float]
    k: int
    later: _State | None


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
    numbers, last = codes(nodes), len(nodes) - 1
    states = [_State(0.0, _Chain(last, None, numbers.goal[last]), [], 0, None)]
    for index in range(last - 1, -1, -1):
        states = _step(nodes, numbers, states, index)
    return _with_margins(nodes, numbers, states[0])


def _step(nodes: Sequence[Node], numbers: Codes, states: list[_State], index: int) -> list[_State]:
    """The best readings from chord `index` on, best first; `states` are those of the chord after it."""
    weighed: dict[_Chain, list[float]] = {}
    longer: dict[tuple[_Chain, int, bool], _Chain] = {}
    grown: list[_State] = []
    for total, place, k in _best_ways(nodes, numbers, states, index, weighed):
        state = states[place]
        before = state.chain
        key = _goal(before, k) if k else before, before.reach - k, before.cut
        chain = longer.get(key)
        if chain is None:
            chain = longer[key] = _longer(nodes, numbers, index, *key)
        grown.append(_State(-total, chain, weighed[before], k, state))
    return grown


def _best_ways(
    nodes: Sequence[Node], numbers: Codes, states: list[_State], index: int, weighed: dict[_Chain, list[float]]
) -> list[tuple[float, int, int]]:
    """The best steps as (minus the score, place of the state, number of the goal), best first; fills `weighed`.
    Where the beam is full, the best step of every state fills it already: nothing below the worst of those gets in."""
    chord, bars = numbers.choice[index], bars_of(nodes, index)
    tops: list[float] = []
    for score, chain, _, _, _ in states:
        chances = weighed.get(chain)
        if chances is None:
            weighed[chain] = chances = _allowed(nodes, chain, chain.goals(), chord, bars)
        tops.append(score + max(chances))
    least = min(tops) if len(tops) == BEAM else -_FINITE
    found = [
        (-score - chance, place, k)
        for place, (score, chain, _, _, _) in enumerate(states)
        for k, chance in enumerate(weighed[chain])
        if score + chance >= least
    ]
    found.sort()
    return found[:BEAM]


def _chances(goals: tuple[int, ...], chord: int) -> list[float]:
    """Log-probabilities of some goals for a chord, all by their codes."""
    raw = [_SCORES[chord + goal] for goal in goals]
    top = max(raw)
    total = top + log(sum(map(exp, [x - top for x in raw])))
    return [x - total for x in raw]


def _allowed(
    nodes: Sequence[Node], chain: _Chain, goals: tuple[int, ...], chord: int, bars: Bars | None
) -> list[float]:
    """Log-probabilities of a chord's goals, the first of a chain: those that are barred have none, and the others share what
    they had. `goals` and `chord` are codes."""
    if bars is all_others:
        return [0.0, *[-inf] * (len(goals) - 1)]
    chances = _chances(goals, chord)
    if bars is None or len(chances) == 1:
        return chances
    barred = bars(nodes, chain.at - 1, chain.places(len(chances)))
    if not barred:
        return chances
    rest = log(sum(exp(chance) for k, chance in enumerate(chances) if k not in barred))
    return [-inf if k in barred else chance - rest for k, chance in enumerate(chances)]


def _goal(chain: _Chain, k: int) -> _Chain:
    """The chain from its k-th link on."""
    for _ in range(k):
        assert chain.above is not None
        chain = chain.above
    return chain


def _longer(nodes: Sequence[Node], numbers: Codes, index: int, goal: _Chain, reach: int, cut: bool) -> _Chain:
    """The chain of chord `index` when it has chosen the first of the chain `goal`, of which the search knows `reach`
    links."""
    a, b = nodes[index], nodes[goal.at]
    onward = RELATION_CODE[relation((b.root - a.root) % 12, a.cls, b.cls)]
    far, tonic = goal.near + numbers.below[index], numbers.tonic[index]
    passed = (far + 1, *goal.passed[: MOST_GOALS - 2])
    ahead = passed if tonic else (far, *goal.far[: MOST_GOALS - 2])
    near = numbers.goal[index] + onward * 2
    return _Chain(index, goal, near, ahead, passed, min(reach, MOST_GOALS) + 1, cut or reach > MOST_GOALS)


def _with_margins(nodes: Sequence[Node], numbers: Codes, state: _State) -> Parse:
    """Every choice of the reading with its probability and its rival, over the whole chain where the search had cut
    it."""
    found = Parse([], [], [])
    while state.later is not None:
        chances, chain = state.chances, state.later.chain
        if chain.shortened:
            bars, code = bars_of(nodes, chain.at - 1), numbers.choice[chain.at - 1]
            chances = _allowed(nodes, chain, (chain.near, *chain.far), code, bars)
        others = [k for k, chance in enumerate(chances) if k != state.k and chance > -inf]
        best = max(others, key=chances.__getitem__, default=None)
        found.heads.append(_goal(chain, state.k).at)
        found.sure.append(exp(chances[state.k]))
        found.rival.append(None if best is None else _goal(chain, best).at)
        state = state.later
    return Parse([*found.heads, None], [*found.sure, 1.0], [*found.rival, None])
