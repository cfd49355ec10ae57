"""The grammar of preparation: which chord each chord is heading for.

Every chord either rests on the tonic, holds on to a later chord of its own root, or prepares a later chord,
and nothing crosses: what stands between a chord and its goal belongs to one of the two (Steedman 1984;
Granroth-Wilding & Steedman 2014; Rohrmeier 2020).  So a chord's possible goals are the next chord, that
chord's goal, the goal's goal, and so on up to the last tonic; an unfinished cadence before another one shares
its resolution.  The whole form is parsed from its end, keeping the best few readings; each choice is weighed
by a sum of small musical facts (`facts`) with the weights in `grammar_weights`, fitted as `tests/bench/fit.py`
says.  Nothing in it depends on absolute pitch.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log
from typing import NamedTuple

from .grammar_weights import WEIGHTS
from .relations import DOMINANT_MOVES, relation
from .sounds import DOM, STABLE, Stretch, same_function

BEAM = 6
MOST_GOALS = 10
"""How many steps up the chain of goals are considered."""

Fact = tuple[object, ...]


class Situation(NamedTuple):
    """One chord and one of its possible goals, with all that the weights look at; degrees are semitones
    above the home tonic, `move` semitones from chord to goal."""

    move: int
    cls: str
    goal_cls: str
    degree: int
    near: bool  # the goal is the next chord
    arrived: bool  # the chord itself has just been prepared by a dominant
    from_four: bool  # it is the dominant on flat seven, straight after 4 or minor 4
    length: int  # bucket of its duration
    metre: int  # 3 on an eight-bar line, 2 on a four-bar line, 1 on a bar line
    onward: str  # what the goal goes on to do
    next_move: int  # the next chord, when it is not the goal
    next_cls: str
    next_metre: int
    below_cls: str  # the chord that already leads to this goal
    below_degree: int
    passed_tonic: bool  # a tonic at rest stands between


def facts(s: Situation) -> list[Fact]:
    """The facts that are weighed."""
    goal_degree = (s.degree + s.move) % 12
    kind = relation(s.move, s.cls, s.goal_cls)
    where = "near" if s.near else "far"
    found: list[Fact] = [
        ("kind", kind, where),
        ("move", s.move, s.cls, s.goal_cls, where),
        ("goal", goal_degree, s.goal_cls, where),
        ("source", s.degree, s.cls, where),
        ("arrived", s.arrived, kind, where),
        ("arrived-goal", s.arrived, goal_degree, s.goal_cls),
        ("length", s.cls, s.length, where, kind),
        ("metre", s.metre, where, s.goal_cls),
        ("onward", kind, s.onward),
    ]
    if s.from_four:
        found.append(("back door", kind, where))
    if not s.near:
        found += _far_facts(s, kind, goal_degree)
    return found


def _far_facts(s: Situation, kind: str, goal_degree: int) -> list[Fact]:
    below = relation((goal_degree - s.below_degree) % 12, s.below_cls, s.goal_cls)
    between = (s.below_degree - s.degree) % 12
    twin = between == 0 and same_function(s.cls, s.below_cls)
    return [
        ("skipped", relation(s.next_move, s.cls, s.next_cls), kind),
        ("shares", below, kind),
        ("twin", twin, below),
        ("below", s.below_cls, s.below_degree, kind),
        ("between", s.cls, s.below_cls, between),
        ("next-metre", s.next_metre, kind),
        ("passed-tonic", s.passed_tonic, kind),
    ]


_SCORES: dict[Situation, float] = {}


def weigh(s: Situation) -> float:
    """The summed weight of a situation."""
    found = _SCORES.get(s)
    if found is None:
        if len(_SCORES) > 200_000:
            _SCORES.clear()
        found = _SCORES[s] = sum(WEIGHTS.get(fact, 0.0) for fact in facts(s))
    return found


class Node(NamedTuple):
    """What the grammar needs of one stretch, worked out once."""

    root: int
    cls: str
    degree: int
    arrived: bool
    from_four: bool
    length: int
    metre: int


_LENGTHS = (0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0)


def nodes_of(chords: Sequence[Stretch], home: int, beats: float) -> list[Node]:
    """The nodes of a run of chords; `beats` is the length of a bar."""
    nodes: list[Node] = []
    for index, chord in enumerate(chords):
        before = chords[index - 1] if index else None
        arrived = (
            before is not None
            and chord.cls in STABLE
            and relation((chord.root - before.root) % 12, before.cls, chord.cls) in DOMINANT_MOVES
        )
        length = sum(chord.duration > edge for edge in _LENGTHS)
        degree = (chord.root - home) % 12
        by_four = before is not None and before.cls in STABLE and (before.root - home) % 12 == 5
        from_four = by_four and chord.cls == DOM and degree == 10
        nodes.append(Node(chord.root, chord.cls, degree, arrived, from_four, length, metre(chord.onset / beats)))
    return nodes


def metre(bars: float) -> int:
    """Strength of a place that lies so many bars from the top: 3, 2, 1, or 0 inside a bar."""
    if bars % 1 > 0.01:
        return 0
    return 3 if bars % 8 < 0.01 else 2 if bars % 4 < 0.01 else 1


def situation(nodes: Sequence[Node], chain: Sequence[int], k: int, onward: str, index: int) -> Situation:
    """Chord `index` with the goal chain[k]."""
    a, b = nodes[index], nodes[chain[k]]
    head = ((b.root - a.root) % 12, a.cls, b.cls, a.degree, k == 0, a.arrived, a.from_four, a.length, b.metre, onward)
    if k == 0:
        return Situation(*head, 0, "", 0, "", 0, False)
    follow, below = nodes[chain[0]], nodes[chain[k - 1]]
    passed = any(nodes[x].degree == 0 and nodes[x].cls != DOM for x in chain[:k])
    return Situation(
        *head, (follow.root - a.root) % 12, follow.cls, follow.metre, below.cls, below.degree, passed
    )


def onward_of(nodes: Sequence[Node], chain: Sequence[int], k: int) -> str:
    """What chain[k] goes on to do: its relation to its own goal, "" for the last tonic."""
    if k + 1 >= len(chain):
        return ""
    b, c = nodes[chain[k]], nodes[chain[k + 1]]
    return relation((c.root - b.root) % 12, b.cls, c.cls)


Heads = tuple[int, "Heads"] | None
"""Goals already chosen, nearest chord first, as a linked list."""


class _State(NamedTuple):
    score: float
    heads: Heads
    chain: tuple[int, ...]


class Parse(NamedTuple):
    """`heads[i]` is the stretch that i holds on to or prepares (None for the last); `sure[i]` the probability
    of that choice given what follows, `rival[i]` the next best goal."""

    heads: list[int | None]
    sure: list[float]
    rival: list[int | None]


def parse(nodes: Sequence[Node]) -> Parse:
    """The best reading of a run of chords whose last one is the tonic everything leads to."""
    count = len(nodes)
    if count == 0:
        return Parse([], [], [])
    states = [_State(0.0, None, (count - 1,))]
    for index in range(count - 2, -1, -1):
        states = _step(nodes, states, index)
    heads: list[int | None] = []
    link = states[0].heads
    while link is not None:
        heads.append(link[0])
        link = link[1]
    heads.append(None)
    return _with_margins(nodes, heads)


def _options(nodes: Sequence[Node], chain: tuple[int, ...], index: int) -> list[float]:
    """Log-probabilities of the goals along the chain."""
    raw = [
        weigh(situation(nodes, chain, k, onward_of(nodes, chain, k), index))
        for k in range(min(len(chain), MOST_GOALS))
    ]
    top = max(raw)
    total = top + log(sum(exp(x - top) for x in raw))
    return [x - total for x in raw]


def _step(nodes: Sequence[Node], states: list[_State], index: int) -> list[_State]:
    grown: list[_State] = []
    for state in states:
        for k, chance in enumerate(_options(nodes, state.chain, index)):
            goal = state.chain[k]
            grown.append(
                _State(state.score + chance, (goal, state.heads), (index, *state.chain[k : k + MOST_GOALS]))
            )
    grown.sort(key=lambda state: -state.score)
    return grown[:BEAM]


def chain_from(heads: Sequence[int | None], index: int) -> tuple[int, ...]:
    """`index`, its goal, the goal's goal, … as far as the parser looks."""
    chain = [index]
    while (goal := heads[chain[-1]]) is not None and len(chain) <= MOST_GOALS:
        chain.append(goal)
    return tuple(chain)


def _with_margins(nodes: Sequence[Node], heads: list[int | None]) -> Parse:
    sure: list[float] = []
    rival: list[int | None] = []
    for index, goal in enumerate(heads):
        if goal is None:
            sure.append(1.0)
            rival.append(None)
            continue
        chain = chain_from(heads, index + 1)
        chances = _options(nodes, chain, index)
        ranked = sorted(range(len(chances)), key=lambda k: (-chances[k], k))
        chosen = chain.index(goal)
        sure.append(exp(chances[chosen]))
        other = next((k for k in ranked if k != chosen), None)
        rival.append(None if other is None else chain[other])
    return Parse(heads, sure, rival)
