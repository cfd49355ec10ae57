"""The grammar of preparation: which chord each chord is heading for.

Every chord either rests on the tonic, holds on to a later chord of its own root, or prepares a later chord,
and nothing crosses: what stands between a chord and its goal belongs to one of the two (Steedman 1984;
Granroth-Wilding & Steedman 2014; Rohrmeier 2020).  So a chord's possible goals are the next chord, that
chord's goal, the goal's goal, and so on up to the last tonic; an unfinished cadence before another one shares
its resolution.  `parser` reads the whole form from its end, keeping the best few readings; each choice is
weighed by a sum of small musical facts (`facts`) with the weights of `models`, fitted as
`tests/bench/fit.py` says.  Nothing in it depends on absolute pitch, so what one tune has asked is known for all:
a situation packed into one number (`Codes`) finds its weight in a table that fills as it is used.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from tunes.harmony.analysis.models import PREPARATION, load
from tunes.harmony.analysis.relations import DOMINANT_MOVES, RELATIONS, relation
from tunes.harmony.analysis.sounds import AUG, DIM, DOM, HALF, MAJ, MIN, STABLE, SUS, Stretch, same_function

MOST_GOALS = 10
"""How many steps up the chain of goals are considered."""

Fact = tuple[object, ...]
WEIGHTS = load(PREPARATION).weights


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
    kind = relation(s.move, s.cls, s.goal_cls)
    found = [*_pair_facts(*s[:9]), ("onward", kind, s.onward)]
    if not s.near:
        found += _below_facts(*s[:4], s.below_cls, s.below_degree)
        found += _between_facts(*_between(kind, s))
    return found


def _pair_facts(
    move: int, cls: str, goal_cls: str, degree: int, near: bool, arrived: bool, from_four: bool, length: int, metre: int
) -> list[Fact]:
    """What the chord and its goal say by themselves; the arguments are the first fields of a situation."""
    goal_degree = (degree + move) % 12
    kind = relation(move, cls, goal_cls)
    where = "near" if near else "far"
    found: list[Fact] = [
        ("kind", kind, where),
        ("move", move, cls, goal_cls, where),
        ("goal", goal_degree, goal_cls, where),
        ("source", degree, cls, where),
        ("arrived", arrived, kind, where),
        ("arrived-goal", arrived, goal_degree, goal_cls),
        ("length", cls, length, where, kind),
        ("metre", metre, where, goal_cls),
    ]
    if from_four:
        found.append(("back door", kind, where))
    return found


def _below_facts(move: int, cls: str, goal_cls: str, degree: int, below_cls: str, below_degree: int) -> list[Fact]:
    """What the chord that already leads to the goal says."""
    kind = relation(move, cls, goal_cls)
    below = relation((degree + move - below_degree) % 12, below_cls, goal_cls)
    between = (below_degree - degree) % 12
    twin = between == 0 and same_function(cls, below_cls)
    return [
        ("shares", below, kind),
        ("twin", twin, below),
        ("below", below_cls, below_degree, kind),
        ("between", cls, below_cls, between),
    ]


def _between(kind: str, s: Situation) -> tuple[str, str, int, bool]:
    """What stands between the chord and a goal further off, by its relation to that goal and to the next chord."""
    return kind, relation(s.next_move, s.cls, s.next_cls), s.next_metre, s.passed_tonic


def _between_facts(kind: str, skipped: str, next_metre: int, passed_tonic: bool) -> list[Fact]:
    """What that says."""
    return [("skipped", skipped, kind), ("next-metre", next_metre, kind), ("passed-tonic", passed_tonic, kind)]


def weigh(s: Situation) -> float:
    """The summed weight of a situation; sums over parts that many situations share are kept."""
    kind = relation(s.move, s.cls, s.goal_cls)
    total = _pair_weight(*s[:9]) + WEIGHTS.get(("onward", kind, s.onward), 0.0)
    if s.near:
        return total
    return total + _below_weight(*s[:4], s.below_cls, s.below_degree) + _between_weight(*_between(kind, s))


def _sum(found: Sequence[Fact]) -> float:
    return sum([WEIGHTS.get(fact, 0.0) for fact in found])


@lru_cache(maxsize=65_536)
def _pair_weight(
    move: int, cls: str, goal_cls: str, degree: int, near: bool, arrived: bool, from_four: bool, length: int, metre: int
) -> float:
    return _sum(_pair_facts(move, cls, goal_cls, degree, near, arrived, from_four, length, metre))


@lru_cache(maxsize=65_536)
def _below_weight(move: int, cls: str, goal_cls: str, degree: int, below_cls: str, below_degree: int) -> float:
    return _sum(_below_facts(move, cls, goal_cls, degree, below_cls, below_degree))


@lru_cache(maxsize=2048)
def _between_weight(kind: str, skipped: str, next_metre: int, passed_tonic: bool) -> float:
    return _sum(_between_facts(kind, skipped, next_metre, passed_tonic))


class Node(NamedTuple):
    """What the grammar needs of one stretch, worked out once."""

    root: int
    cls: str
    degree: int
    arrived: bool
    from_four: bool
    length: int
    metre: int
    duration: float


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
        nodes.append(
            Node(chord.root, chord.cls, degree, arrived, from_four, length, metre(chord.onset / beats), chord.duration)
        )
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
    return Situation(*head, (follow.root - a.root) % 12, follow.cls, follow.metre, below.cls, below.degree, passed)


def onward_of(nodes: Sequence[Node], chain: Sequence[int], k: int) -> str:
    """What chain[k] goes on to do: its relation to its own goal, "" for the last tonic."""
    if k + 1 >= len(chain):
        return ""
    b, c = nodes[chain[k]], nodes[chain[k + 1]]
    return relation((c.root - b.root) % 12, b.cls, c.cls)


def chain_from(heads: Sequence[int | None], index: int) -> tuple[int, ...]:
    """`index`, its goal, the goal's goal, … as far as the parser looks."""
    chain = [index]
    while (goal := heads[chain[-1]]) is not None and len(chain) <= MOST_GOALS:
        chain.append(goal)
    return tuple(chain)


_CLASSES = (MAJ, MIN, DOM, HALF, DIM, AUG, SUS)
_CLASS_CODE = {cls: code for code, cls in enumerate(_CLASSES)}
RELATION_CODE = {"": 0} | {name: code for code, name in enumerate(RELATIONS, start=1)}
_RELATION_OF = ("", *RELATIONS)


NO_ONWARD = ~0b11110
"""Takes what a goal goes on to do out of a code."""


class Codes(NamedTuple):
    """The nodes as numbers. The sum of `choice[i]` (chord i and the chord after it), `goal[j]`, twice the relation
    of j to its own goal, and, when chords stand between, `below` of the last of them and one `tonic` packs the
    situation of chord i with the goal j: from the low end 1 bit passed_tonic, 4 onward, 7 below, 9 goal, 9 next, 12 chord."""

    choice: list[int]
    goal: list[int]
    below: list[int]
    tonic: list[int]


def codes(nodes: Sequence[Node]) -> Codes:
    """The nodes as numbers; the last has no choice."""
    sounds = [_CLASS_CODE[node.cls] * 12 + node.degree for node in nodes]
    goals = [(sound << 2 | node.metre) << 12 for sound, node in zip(sounds, nodes, strict=True)]
    choice = [
        (((sound << 1 | node.arrived) << 1 | node.from_four) << 3 | node.length) << 30 | goal << 9
        for sound, node, goal in zip(sounds, nodes, goals[1:], strict=False)
    ]
    tonic = [int(node.degree == 0 and node.cls != DOM) for node in nodes]
    return Codes(choice, goals, [(sound + 1) << 5 for sound in sounds], tonic)


def unpacked(code: int) -> Situation:
    """The situation that a sum of codes stands for."""
    length, by_four, arrived = code >> 30 & 7, bool(code >> 33 & 1), bool(code >> 34 & 1)
    a, degree = divmod(code >> 35, 12)
    b, goal_degree = divmod(code >> 14 & 127, 12)
    onward = _RELATION_OF[code >> 1 & 15]
    below = code >> 5 & 127
    head = (
        (goal_degree - degree) % 12, _CLASSES[a], _CLASSES[b], degree, below == 0, arrived, by_four, length,
        code >> 12 & 3, onward,
    )  # fmt: skip
    if not below:
        return Situation(*head, 0, "", 0, "", 0, False)
    follow, next_degree = divmod(code >> 23 & 127, 12)
    under, below_degree = divmod(below - 1, 12)
    return Situation(
        *head,
        (next_degree - degree) % 12,
        _CLASSES[follow],
        code >> 21 & 3,
        _CLASSES[under],
        below_degree,
        bool(code & 1),
    )


class _Scores(dict[int, float]):
    """The weight of every packed situation that was ever asked for. Clear it when the weights change."""

    def __missing__(self, code: int) -> float:
        if len(self) > _MOST_SCORES:
            self.clear()
        found = self[code] = weigh(unpacked(code))
        return found

    def clear(self) -> None:
        """Forget everything that depends on the weights."""
        super().clear()
        _pair_weight.cache_clear()
        _below_weight.cache_clear()
        _between_weight.cache_clear()


_MOST_SCORES = 500_000
_SCORES = _Scores()
