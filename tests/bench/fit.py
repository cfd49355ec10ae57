"""Fit the weights of the grammar and of the home key, by cross-validation, and write the two tables.

    python -m tests.bench.fit --gold DIR [--write] [--folds 5] [--seeds 0 1 2]

DIR holds a corpus reader `corpus.py` with `load() -> tunes` and `gold(tune)` (heads, acceptable targets, home
tonic of an expert's tree) and its data; none of it enters the project.  Both models are conditional
log-linear: a softmax over the 24 keys of a tune, and over the possible goals of a chord given the goals chosen
after it; where the expert's tree accepts several goals, their probabilities are summed.  L2-regularised,
L-BFGS (SciPy, wanted by this script only).  Printed: the accuracy on folds not trained on.  `--write` then
fits on everything given and writes both models with their headers (`tunes/harmony/analysis/models`), weights rounded to
two decimals, those below `SMALL` left out.
"""

from __future__ import annotations

import argparse
import datetime as dt
import importlib
import random
import sys
from collections import defaultdict

from tests.bench.corpus import sounds_from
from tests.bench.given import given as need
from tunes.harmony.analysis import models
from tunes.harmony.analysis.home_key import home
from tunes.harmony.analysis.preparation import grammar
from tunes.harmony.analysis.sounds import Stretch, stretches

SMALL = 0.03
GRAMMAR_L2, HOME_L2 = 2.0, 2.0
EXPERT_WEIGHT, MINOR_WEIGHT, LOOSE_WEIGHT = 5.0, 3.0, 0.1
"""How far a label of a home key is trusted: an expert's against a printed one, minor because it is rare, and a
printed key whose tonic is nowhere near the ends."""


def softmax_fit(groups, l2, weights=None):
    """groups: list of (list of {fact: amount}, set of right rows). Returns {fact: weight}."""
    import numpy as np  # wanted by this script only
    from scipy.optimize import minimize
    from scipy.sparse import csr_matrix

    names: dict = {}
    rows, cols, vals, starts, right, importance = [], [], [], [], [], []
    row = 0
    for number, (options, good) in enumerate(groups):
        starts.append(row)
        for k, option in enumerate(options):
            for fact, amount in option.items():
                rows.append(row)
                cols.append(names.setdefault(fact, len(names)))
                vals.append(amount)
            right.append(1.0 if k in good else 0.0)
            importance.append(1.0 if weights is None else weights[number])
            row += 1
    matrix = csr_matrix((vals, (rows, cols)), shape=(row, len(names)))
    begin, good, imp = np.array(starts), np.array(right), np.array(importance)
    group = np.repeat(np.arange(len(starts)), np.diff([*starts, row]))

    def loss(w):
        s = matrix @ w
        top = np.maximum.reduceat(s, begin)
        e = np.exp(s - top[group])
        z, zg = np.add.reduceat(e, begin), np.add.reduceat(e * good, begin)
        p, q = e / z[group], e * good / zg[group]
        value = -(imp[begin] * (np.log(zg) - np.log(z))).sum() + l2 / 2 * (w @ w)
        return value, matrix.T @ (imp * (p - q)) + l2 * w

    best = minimize(loss, np.zeros(len(names)), jac=True, method="L-BFGS-B", options={"maxiter": 300})
    return {fact: float(best.x[k]) for fact, k in names.items()}


class Example:
    """One tune with an expert's tree, over stretches."""

    def __init__(self, tune, gold):
        self.tune, self.gold = tune, gold
        sounds, self.beats = sounds_from(tune.chords, tune.meter)
        chords = stretches(sounds)
        place = {event: k for k, chord in enumerate(chords) for event in range(chord.first, chord.last + 1)}
        leaf = {x: place[gold.map[x]] for x in range(len(gold.L)) if x in gold.map}
        self.chords = chords[: max(leaf.values()) + 1]
        if gold.root not in leaf:
            first = chords[0]
            self.chords.append(Stretch(*first[:3], tune.nbars * self.beats, self.beats, -1, -1))
            leaf[gold.root] = len(self.chords) - 1
        self.leaf = leaf
        self._targets()

    def _targets(self):
        gold, leaf = self.gold, self.leaf
        self.accept, self.resting, self.loose, self.heads = defaultdict(set), set(), set(), {}
        by_node = defaultdict(list)
        for x, node in leaf.items():
            by_node[node].append(x)
            if gold.targets[x] is None:
                self.loose.add(node)
            else:
                self.accept[node] |= {leaf[y] for y in gold.targets[x] if y in leaf}
                if not gold.targets[x]:
                    self.resting.add(node)
        for node, leaves in by_node.items():
            x = max(leaves)
            while x != gold.root and leaf.get(gold.heads[x]) == node:
                x = gold.heads[x]
            self.heads[node] = None if x == gold.root else leaf.get(gold.heads[x])

    def right(self, nodes, heads, index, goal):
        """Whether choosing `goal` for stretch `index` leads to an accepted resolution."""
        if nodes[index].root != nodes[goal].root:
            return goal in self.accept[index]
        x = goal
        while heads[x] is not None and nodes[x].root == nodes[heads[x]].root:
            x = heads[x]
        return index in self.resting if heads[x] is None else heads[x] in self.accept[index]

    def decisions(self):
        nodes = grammar.nodes_of(self.chords, self.gold.home[0], self.beats)
        heads: list = [None] * len(nodes)
        for index in range(len(nodes) - 2, -1, -1):
            chain = grammar.chain_from(heads, index + 1)[: grammar.MOST_GOALS]
            true = self.heads.get(index)
            good = {k for k, goal in enumerate(chain) if self.right(nodes, heads, index, goal) or goal == true}
            if good and index not in self.loose:
                options = [
                    dict.fromkeys(
                        grammar.facts(grammar.situation(nodes, chain, k, grammar.onward_of(nodes, chain, k), index)),
                        1.0,
                    )
                    for k in range(len(chain))
                ]
                yield options, good
            if true in chain:
                heads[index] = true
            else:
                later = [goal for goal in chain if true is not None and goal > true > index]
                heads[index] = later[0] if later else chain[-1] if true is None else chain[0]


def key_groups(tunes, golds, reader):
    """The 24 candidates of each tune, the right one, and how far the label is trusted."""
    groups, weights = [], []
    for tune in tunes:
        sounds, beats = sounds_from(tune.chords, tune.meter)
        chords = stretches(sounds)
        expert = reader.expert_tonic(tune, golds)
        label = expert or tune.key
        near = [chords[0], *chords[-4:]]
        sure = expert is not None or any(home._rest_of(c) == tune.key for c in near)
        trust = EXPERT_WEIGHT if expert is not None else 1.0 if sure else LOOSE_WEIGHT
        weights.append(trust * (MINOR_WEIGHT if label[1] == "minor" else 1.0))
        groups.append((home.home_facts(chords, beats), {home.CANDIDATES.index(label)}))
    return groups, weights


def folds(count, parts, seed):
    order = list(range(count))
    random.Random(seed).shuffle(order)
    return [order[k::parts] for k in range(parts)]


def prune(weights):
    return {fact: round(w, 2) for fact, w in weights.items() if abs(w) >= SMALL}


def check_grammar(examples, parts, seeds):
    groups = [list(example.decisions()) for example in examples]
    hits = total = 0
    for seed in seeds:
        for test in folds(len(examples), parts, seed):
            train = [g for k, gs in enumerate(groups) if k not in set(test) for g in gs]
            weights = prune(softmax_fit(train, GRAMMAR_L2))
            for k in test:
                for options, good in groups[k]:
                    sums = [sum(weights.get(f, 0.0) for f in option) for option in options]
                    hits += sums.index(max(sums)) in good
                    total += 1
    print(f"grammar: right goal given what follows, on unseen folds {100 * hits / total:.1f} % of {total}")
    return round(100 * hits / total, 1)


def check_home(groups, weights, parts, seeds):
    hits = total = 0
    for seed in seeds:
        for test in folds(len(groups), parts, seed):
            train = [k for k in range(len(groups)) if k not in set(test)]
            fitted = prune(softmax_fit([groups[k] for k in train], HOME_L2, [weights[k] for k in train]))
            for k in test:
                sums = [sum(fitted.get(f, 0.0) * a for f, a in option.items()) for option in groups[k][0]]
                hits += sums.index(max(sums)) in groups[k][1]
                total += 1
    print(f"home key: right on unseen folds {100 * hits / total:.1f} % of {total}")
    return round(100 * hits / total, 1)


def header(what, given, l2, right):
    """Where a model is from, as its file says it."""
    old = models.load(what).header
    command = (
        f"python -m tests.bench.fit --gold DIR --folds {given.folds} --seeds {' '.join(map(str, given.seeds))} --write"
    )
    return {**old, "date": dt.date.today().isoformat(), "command": command, "folds": given.folds, "seeds": given.seeds,
            "regularisation": f"L2, {l2}", "scores": {"right on unseen folds, %": right}}  # fmt: skip


def main():
    need("--gold DIR, a folder with a corpus reader corpus.py and its data")
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--gold", required=True)
    parser.add_argument("--folds", type=int, default=5)
    parser.add_argument("--seeds", type=int, nargs="+", default=[0, 1])
    parser.add_argument("--write", action="store_true")
    given = parser.parse_args()
    sys.path.insert(0, given.gold)
    reader = importlib.import_module("corpus")
    tunes = reader.load()
    golds = {tune.title: reader.gold(tune) for tune in tunes if tune.tree}
    examples = [Example(tune, golds[tune.title]) for tune in tunes if tune.tree]
    groups, weights = key_groups(tunes, golds, reader)
    goals_right = check_grammar(examples, given.folds, given.seeds)
    keys_right = check_home(groups, weights, given.folds, given.seeds)
    if given.write:
        every = [g for example in examples for g in example.decisions()]
        fitted = prune(softmax_fit(every, GRAMMAR_L2))
        models.write(models.PREPARATION, header(models.PREPARATION, given, GRAMMAR_L2, goals_right), fitted)
        fitted = prune(softmax_fit(groups, HOME_L2, weights))
        models.write(models.HOME_KEY, header(models.HOME_KEY, given, HOME_L2, keys_right), fitted)


if __name__ == "__main__":
    main()
