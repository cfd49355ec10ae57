"""The quick sums that the engine reads by are the sums of the facts that the weights were fitted to.

The facts are the model (`grammar.facts`, `home.home_facts`); packed codes, shared chains and rows for all keys at once
are only a quicker way to the same number.
"""

from __future__ import annotations

from math import exp, isclose, log

from hypothesis import example, given, settings
from hypothesis import strategies as st

from tunes.harmony.analysis.home_key import home
from tunes.harmony.analysis.preparation import grammar
from tunes.harmony.analysis.preparation.constraints import bars_of
from tunes.harmony.analysis.preparation.parser import parse
from tunes.harmony.analysis.sounds import Stretch

BEATS = 4.0
SOUNDS = st.tuples(
    st.integers(0, 11),
    st.sampled_from(["maj", "min", "dom", "hdim", "dim", "aug", "sus"]),
    st.sampled_from([1, 2, 4, 8]),
)
CHORUSES = st.lists(SOUNDS, min_size=1, max_size=30)
IN_KEY = st.sampled_from(
    [
        (0, "maj", 4),
        (2, "min", 2),
        (7, "dom", 2),
        (9, "dom", 1),
        (4, "min", 4),
        (11, "hdim", 2),
        (5, "min", 4),
        (10, "dom", 4),
    ]
)
LONG = st.lists(IN_KEY, min_size=30, max_size=60)
"""Chords of one key, so that chains of goals grow long and pass the tonic at rest."""
FALLING = [(7 * step % 12, "dom", 2) for step in range(10, 0, -1)]
BEFORE = [(10, "min", 2), (0, "dom", 2), (0, "min", 2)]
"""Before a long run of dominants, chords that pass over one another: the search has cut the chain they hang on."""


def chorus(sounds: list[tuple[int, str, int]]) -> list[Stretch]:
    chords: list[Stretch] = []
    onset = 0.0
    for index, (root, cls, length) in enumerate(sounds):
        chords.append(Stretch(root, cls, "", onset, float(length), index, index))
        onset += length
    return chords


@given(CHORUSES)
@settings(max_examples=60, deadline=None)
def test_home_keys_weigh_what_their_facts_weigh(sounds: list[tuple[int, str, int]]) -> None:
    chords = chorus(sounds)
    weighed = {(tonic, mode): weight for weight, tonic, mode in home.weigh_keys(chords, BEATS)}
    for key, found in zip(home.CANDIDATES, home.home_facts(chords, BEATS), strict=True):
        expected = sum(home.WEIGHTS.get(fact, 0.0) * amount for fact, amount in found.items())
        assert isclose(weighed[key], expected, abs_tol=1e-9), key


@given(CHORUSES, st.integers(1, 11))
@settings(max_examples=60, deadline=None)
def test_home_keys_move_with_the_chords(sounds: list[tuple[int, str, int]], up: int) -> None:
    here = home.weigh_keys(chorus(sounds), BEATS)
    there = home.weigh_keys(chorus([((root + up) % 12, cls, length) for root, cls, length in sounds]), BEATS)
    assert there == [(weight, (tonic + up) % 12, mode) for weight, tonic, mode in here]


@given(CHORUSES | LONG)
@example([*BEFORE, *FALLING, (0, "maj", 8)])
@settings(max_examples=60, deadline=None)
def test_choices_are_as_sure_as_their_facts_say(sounds: list[tuple[int, str, int]]) -> None:
    nodes = grammar.nodes_of(chorus(sounds), 0, BEATS)
    found = parse(nodes)
    for index, goal in enumerate(found.heads[:-1]):
        chain = grammar.chain_from(found.heads, index + 1)
        goals = chain[: grammar.MOST_GOALS]
        raw = [
            sum(grammar.WEIGHTS.get(fact, 0.0) for fact in grammar.facts(
                grammar.situation(nodes, chain, k, grammar.onward_of(nodes, chain, k), index)
            ))
            for k in range(len(goals))
        ]  # fmt: skip
        assert goal in goals
        bars = bars_of(nodes, index)
        barred = set(bars(nodes, index, goals)) if bars and len(goals) > 1 else set()
        total = log(sum(exp(x) for k, x in enumerate(raw) if k not in barred))
        assert isclose(found.sure[index], exp(raw[goals.index(goal)] - total), rel_tol=1e-6), index
        others = [k for k in range(len(goals)) if goals[k] != goal and k not in barred]
        rival = found.rival[index]
        assert (rival is None) == (not others)
        if rival is not None:
            assert isclose(raw[goals.index(rival)], max(raw[k] for k in others), abs_tol=1e-9), index
