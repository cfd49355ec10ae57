"""The script that fits the weights asks for the facts the engine weighs: it must not fall behind the engine."""

from __future__ import annotations

from types import SimpleNamespace

from tests.bench import fit
from tunes.harmony.analysis.home_key import home
from tunes.harmony.analysis.preparation import grammar

SYMBOLS = ("Cmaj7", "Am7", "Dm7", "G7", "Cmaj7")
TUNE = SimpleNamespace(
    title="x", meter=(4, 4), key=(0, "major"), nbars=5,
    chords=[{"bar": bar, "beat": 1, "symbol": symbol} for bar, symbol in enumerate(SYMBOLS, start=1)],
)  # fmt: skip
READER = SimpleNamespace(expert_tonic=lambda tune, golds: None)
GOLD = SimpleNamespace(
    L=list(SYMBOLS), map={k: k for k in range(5)}, root=4, home=(0, "major"), heads={0: 4, 1: 2, 2: 3, 3: 4},
    targets={0: {1}, 1: {2}, 2: {3}, 3: {4}, 4: set()},
)  # fmt: skip


def test_the_key_is_asked_for_with_facts_that_the_engine_knows() -> None:
    groups, weights = fit.key_groups([TUNE], {}, READER)
    options, right = groups[0]
    assert right == {home.CANDIDATES.index((0, "major"))}
    assert weights == [1.0]
    assert any(fact in home.WEIGHTS for fact in options[0])
    sums = [sum(home.WEIGHTS.get(fact, 0.0) * amount for fact, amount in option.items()) for option in options]
    assert sums.index(max(sums)) in right


def test_a_tree_becomes_choices_that_the_grammar_can_make() -> None:
    decisions = list(fit.Example(TUNE, GOLD).decisions())
    assert len(decisions) == 4
    for options, good in decisions:
        weighed = [sum(grammar.WEIGHTS.get(fact, 0.0) for fact in option) for option in options]
        assert weighed.index(max(weighed)) in good
    weights = fit.softmax_fit(decisions, 2.0)
    assert weights
    assert set(weights) >= set(decisions[-1][0][0])
