"""Every rule of the analysis has a name, a sentence, a source, and an example of its own where it is the one named."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.harmony.test_analysis import chart_of
from tests.harmony.test_reasons import CLAUSES
from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.explain.rules import RULES
from tunes.harmony.explain.sentences import told
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.function import KINDS, ROLES

# rule → (chart, bar, place in the bar) of a chord that the rule is named for. Charts are made up here.
END = "| Dm7 | G7 | Cmaj7 | Cmaj7 |"
C, CM = "key: C major\n", "key: C minor\n"
EXAMPLES: dict[str, tuple[str, int]] = {
    "rest": (C + "| Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 |", 0),
    "local-rest": (C + "| Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 | F#m7 | B7 | Emaj7 | Emaj7 " + END, 7),
    "landed": (C + "| Cmaj7 | D7 | G6 | Cmaj7 " + END, 2),
    "landed-subdominant": (C + "| Cmaj7 | Gm7 C7 | Fmaj7 | Bbmaj7 | Ebmaj7 " + END, 3),
    "blues-rest": (C + "| C7 | F7 | C7 | C7 | F7 | F7 | C7 | C7 | G7 | F7 | C7 | C7 |", 0),
    "seventh-rest": (CM + "| Cm7 | Dm7b5 | G7 | Cm7 | Fm7 | Dm7b5 | G7 | C7 |", 7),
    "blues-four": (C + "| C7 | F7 | C7 | C7 | F7 | F7 | C7 | C7 | G7 | F7 | C7 | C7 |", 9),
    "blues-colour": (C + "| Cmaj7 | Fmaj7 | F7 | Am7 | Cmaj7 | Dm7 | G7 | Cmaj7 |", 2),
    "put-off": (C + "| Dm7 G7 | Em7b5 A7 | Dm7 G7 | Cmaj7 | Cmaj7 | Cmaj7 |", 1),
    "taken-up": (C + "| Cmaj7 | Dm7 G7 | Dm7 G7 | Cmaj7 | Cmaj7 | Cmaj7 |", 2),
    "suspended": (C + "| Cmaj7 | Dm7 | G7sus G7 | Cmaj7 | Cmaj7 |", 2),
    "turns-minor": (C + "| Cmaj7 | Fmaj7 | Fm7 Bb7 | Em7 A7 | Dm7 G7 | Cmaj7 |", 1),
    "to-three": (C + "| Cmaj7 | Fmaj7 | Fm6 | Em7 | Fmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 |", 2),
    "three-onward": (C + "| Cmaj7 | Fmaj7 | Fm6 | Em7 A7 | Dm7 G7 | Cmaj7 |", 2),
    "in-place": (C + "| Cmaj7 | Dm7 | G7 | Abmaj7 | Fmaj7 | Dm7 | G7 | Cmaj7 |", 3),
    "left-two": (C + "| Cmaj7 | Cmaj7 | Gm7 | Fmaj7 | Em7 A7 | Dm7 G7 | Cmaj7 |", 2),
    "left-two-of-two": (C + "| Cmaj7 | Fmaj7 | Em7b5 | Dm7 G7 | Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 |", 2),
    "rootless": (C + "| C6 | Dm7 G7 | Em7b5 | Fmaj7 | Dm7 | G7 | C6 | C6 |", 3),
    "rootless-substitute": (C + "| Ebm6 | G7 | C6 | C6 | Ebm6 | G7 | C6 | C6 |", 0),
    "half-plagal": (C + "| C6 | Dm7 | Dm7b5 | C6 | Dm7 | G7 | C6 | C6 |", 2),
    "side-slip": (C + "| Cmaj7 Dbmaj7 | Dmaj7 Dbmaj7 | Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 1),
    "turns-seventh": (C + "| Cmaj7 | Dm7 | Gmaj7 | G7 | Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 |", 2),
    "suspended-home": (C + "| C7sus | C7sus | Eb7sus | Eb7sus | C7sus | C7sus | Bb7sus | Bb7sus |", 0),
    "suspended-colour": (C + "| C7sus | C7sus | Eb7sus | Eb7sus | C7sus | C7sus | Bb7sus | Bb7sus |", 2),
    "leaning": (C + "| Cmaj7 | Ebmaj7 | Dbmaj7 | Cmaj7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 2),
    "steps-down": (C + "| Cmaj7 | Dm7 | Em7 | Fmaj7 | Em7 Am7 | Dm7 G7 | Cmaj7 |", 3),
    "climbing": (C + "| C6 | F6 | F#dim7 | C/G | A7 | Dm7 G7 | C6 | C6 |", 1),
    "climbing-on": (C + "| C7 | F7 | C7 | C7 | F7 | F#dim7 | C7 | A7 | Dm7 | G7 | C7 | C7 |", 5),
    "circle": (CM + "| Cm7 | Bbmaj7 | G7 | Bbmaj7 | Ebmaj7 | Bbmaj7 | Gm7 | G7 | Cm6 |", 3),
    "narrow-fifth": (C + "| Dm7 | G7 | Cmaj7 | Fmaj7 | Bm7b5 | E7 | Am7 | Am7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 3),
    "subtonic": (CM + "| Cm7 | Bb7 | Cm7 | Cm7 | Dm7b5 | G7 | Cm7 | Cm7 |", 1),
    "exchanged": (C + "| Cmaj7 | Dm7 | Db7 | G7 | Cmaj7 | Cmaj7 |", 2),
    "to-flat-seven": (C + "| Cmaj7 | Fmaj7 | Bb7 | Cmaj7 | Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 |", 1),
    "over-five": (C + "| Cmaj7 | Dm7 | C/G | G7 | Cmaj7 | Cmaj7 |", 2),
    "moving-bass": (C + "| C6 | C/E | F6 | Dm7 G7 | C6 | C6 |", 1),
    "bass-line": (C + "| C6 | C/B | Am7 | Dm7 G7 | C6 | C6 |", 1),
    "held-five": (C + "| Cmaj7 | G7sus | Eb/G | G7 | Cmaj7 | Cmaj7 |", 1),
    "mode": (C + "| Cmaj7 " + END + "| Fmaj7 | G/F | Fmaj7 | G/F " + END, 6),
    "dominant": (C + "| Cmaj7 " + END, 2),
    "applied": (C + "| Cmaj7 | A7 " + END, 1),
    "chain": (C + "| Cmaj7 | E7 | A7 | D7 | G7 | Cmaj7 | Cmaj7 | Cmaj7 |", 1),
    "tritone": (C + "| Cmaj7 | Dm7 | Db7 | Cmaj7 | Cmaj7 |", 2),
    "backdoor": (C + "| Cmaj7 | Fm7 | Bb7 | Cmaj7 | Cmaj7 |", 2),
    "backdoor-three": (C + "| Cmaj7 | Cmaj7 | Fm7 Bb7 | Em7 | Ebm7 Ab7 | Dm7 G7 | Cmaj7 | Cmaj7 |", 3),
    "backdoor-left": (C + "| Cmaj7 | Bb7 | Em7 | Eb7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 1),
    "backdoor-open": (C + "| Cmaj7 | Fm7 Bb7 | Dm7 G7 | Cmaj7 | Cmaj7 |", 2),
    "to-substitute": (C + "| Cmaj7 | Fmaj7 | Bb7 | A7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 1),
    "leading-delayed": (C + "| C6 | F6 F#dim7 | Dm7 G7 | C6 | A7 | Dm7 G7 | C6 | C6 |", 2),
    "supertonic": (C + "| Cmaj7 " + END, 1),
    "related-ii": (C + "| Cmaj7 | Gm7 C7 | Fmaj7 | Fmaj7 " + END, 1),
    "substitute-ii": (C + "| Cmaj7 | Abm7 Db7 | Cmaj7 " + END, 1),
    "chromatic-ii": (C + "| Cmaj7 | Dm7 | Db7 | Cmaj7 | Cmaj7 |", 1),
    "chromatic-approach": (C + "| Cmaj7 | Dm7 | Abm7 | G7 | Cmaj7 | Cmaj7 |", 2),
    "backdoor-four": (C + "| Cmaj7 | Fm7 | Bb7 | Cmaj7 | Cmaj7 |", 1),
    "leading": (C + "| Cmaj7 | Bdim7 | Cmaj7 " + END, 1),
    "leading-turned": (C + "| Cmaj7 | Ddim7 | Cmaj7/E | Cmaj7 " + END, 1),
    "passing-up": (C + "| C6 | C#dim7 | Dm7 | G7 | C6 | C6 |", 1),
    "passing-down": (C + "| C6 | Em7 | Ebdim7 | Dm7 | G7 | C6 | C6 |", 2),
    "auxiliary": (C + "| C6 | Cdim7 | C6 | Dm7 G7 | C6 |", 1),
    "common-tone": (C + "| Cmaj7 | F#dim7 | Cmaj7 | Cmaj7 " + END, 1),
    "passing-bass": (C + "| C6 | F6 | F#dim7 | C/G | A7 | Dm7 G7 | C6 | C6 |", 2),
    "augmented": (C + "| Cmaj7 | Dm7 | Gaug | Cmaj7 | Cmaj7 |", 2),
    "raised-fifth": (C + "| Cmaj7 | Caug | Dm7 | G7 | C6 | Dm7 G7 | C6 | C6 |", 1),
    "prolonged": (C + "| C6 | Dm7 | G7sus Gdim7 | G7 | C6 | Dm7 G7 | C6 | C6 |", 2),
    "plagal": (C + "| C6 | F6 | C6 | Dm7 G7 | C6 | C6 |", 1),
    "minor-plagal": (C + "| Cmaj7 | Fm6 | Cmaj7 | Cmaj7 " + END, 1),
    "predominant": (C + "| Cmaj7 | Fmaj7 | G7 | Cmaj7 | Cmaj7 |", 1),
    "predominant-borrowed": (C + "| Cmaj7 | Am7 | Abmaj7 | G7 | Cmaj7 | Cmaj7 |", 2),
    "turns": (C + "| Cmaj7 | Em7 | Am7 | F#m7 | F#m7b5 | Fmaj7 | G7 | Cmaj7 |", 3),
    "fifths-out": (C + "| Cmaj7 | G7 | Em | Am | Fmaj7 | Bbmaj7 | Cmaj7 | Cmaj7 |", 4),
    "fifths": (C + "| Cmaj7 | Em7 | Am7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 1),
    "tonic-family": (C + "| Cmaj7 | Am7 | Cmaj7 | Em7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 1),
    "passing-step": (C + "| Cmaj7 | Dm7 | Em7 | Dm7 | Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 |", 1),
    "slide": (C + "| Cmaj7 | Em7 Ebm7 | Dm7 G7 | Cmaj7 | Cmaj7 |", 1),
    "neighbour": (C + "| Cmaj7 | Dbmaj7 | Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 |", 1),
    "interchange": (C + "| Cmaj7 | Bbmaj7 | Fmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 |", 1),
    "diatonic": (C + "| Cmaj7 | Bm7b5 | Am7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 1),
    "deceptive": (C + "| Cmaj7 | Dm7 | G7 | Abmaj7 | Abmaj7 | Dm7 | G7 | Cmaj7 |", 2),
    "unresolved": (C + "| Dm7 | G7 | Cmaj7 | Cmaj7 | Dm7 | G7 | Cmaj7 | Bb7 |", 7),
    "chromatic": (C + "| Cmaj7 | Emaj7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 1),
    "approach": (C + "| Cmaj7 | Cmaj7 | Ebm7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 2),
    "line-cliche": (CM + "| Cm Cm(maj7) | Cm7 Cm6 | Dm7b5 | G7 | Cm6 | Cm6 |", 1),
    "vamp": (CM + "| Cm7 | F7 | Cm7 | F7 | Cm7 | F7 | Cm7 | F7 |", 1),
    "third-cycle": (C + "| Cmaj7 Eb7 | Abmaj7 B7 | Emaj7 G7 | Cmaj7 | Dm7 G7 | Cmaj7 | Dm7 G7 | Cmaj7 |", 2),
    "pedal": (C + "| Cmaj7 | D/C | Fm6/C | Cmaj7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 2),
    "silence": (C + "| Cmaj7 | N.C. | Dm7 G7 | Cmaj7 |", 1),
}
SECOND = {
    "heard-as-one": (C + "| Cmaj7 | Fmaj7 | G7 | Cmaj7 | F#m7 B7 | Emaj7 | Cmaj7 | F#m7 B7 | Emaj7 | Dm7 G7 | Cmaj7 |", "can be heard here"),
    "goal-exchanged": (C + "| Cmaj7 | Cmaj7 | E7 | Eb7 | D7 | Db7 | Cmaj7 | Cmaj7 |", "comes in its place."),
}  # fmt: skip
"""Rules that only a second reading is named for: a chart, and words of the sentence."""
AREAS = {
    "area-home": (C + "| Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 |", 0),
    "area-cadence": (C + "| Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 | F#m7 | B7 | Emaj7 | Emaj7 " + END, 1),
    "area-touched": (C + "| Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 | F#m7 B7 | Emaj7 | Dm7 G7 | Cmaj7 | Cmaj7 |", 1),
    "area-turns": (
        C
        + "| Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 | Cm | Cm | Fm7 | Abmaj7 | Ebmaj7 | Fm7 | Cm | Cm | Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 |",
        1,
    ),
    "area-stays": (CM + "| Cm7 | % | % | % | % | % | % | % | C#m7 | % | % | % | % | % | % | % | Cm7 | % | % | % |", 1),
    "area-return": (C + "| Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 | F#m7 | B7 | Emaj7 | Emaj7 " + END, 2),
}


@pytest.mark.parametrize("rule", SECOND)
def test_a_rule_of_second_readings_has_an_example(rule: str) -> None:
    """Common practice, no source; the charts are made up here."""
    text, words = SECOND[rule]
    said = [told(other.reason) for reading in analyse(chart_of(text)).readings for other in reading.alternatives]
    assert any(words in one for one in said), said


def test_every_rule_has_an_example() -> None:
    assert sorted(
        EXAMPLES.keys()
        | SECOND.keys()
        | AREAS.keys()
        | {"area-held", "by-hand", "to-heard", "area-by-hand", "heard-nearly"}
        | CLAUSES.keys()
    ) == sorted(RULES)


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.id)
def test_a_rule_says_what_and_from_where(rule: object) -> None:
    found = RULES[rule.id]  # type: ignore[attr-defined]
    assert found.name
    assert found.source
    assert found.sentence.endswith((".", "{why}"))


@pytest.mark.parametrize("rule", EXAMPLES, ids=str)
def test_the_example_of_a_rule(rule: str) -> None:
    text, event = EXAMPLES[rule]
    found = analyse(chart_of(text))
    reading = found.readings[event]
    assert reading.rule == rule, [(r.function.numeral, r.rule) for r in found.readings]
    assert reading.function.kind in KINDS
    assert reading.function.role in ROLES


@pytest.mark.parametrize("rule", AREAS, ids=str)
def test_the_example_of_an_area(rule: str) -> None:
    text, area = AREAS[rule]
    found = analyse(chart_of(text))
    assert told(found.areas[area].reason).startswith(RULES[rule].sentence.split("{")[0])


def test_a_key_held_by_hand() -> None:
    chart = chart_of(C + "| Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | Cmaj7 |")
    held = {1: Key.parse("A minor")}
    found = analyse(chart, held=held)
    assert found.readings[1].key == Key.parse("A minor")
    assert found.readings[1].function.numeral == "i7"
    assert "by a person" in told(found.areas[1].reason)


# rule → semitones up from the chord to its goal, wherever the sentence says how far it goes (definitions: logical).
MOTIONS = {
    "dominant": {5}, "applied": {5}, "chain": {5}, "tritone": {11}, "leading": {1}, "supertonic": {5}, "chromatic-ii": {11},
    "backdoor": {2}, "narrow-fifth": {6}, "leading-delayed": {1}, "passing-up": {1}, "chromatic-approach": {11}, "approach": {1, 11},
}  # fmt: skip
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
QUALITIES = ("maj7", "m7", "7", "m7b5", "dim7", "6", "m6", "7sus", "")


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(ROOTS), st.sampled_from(QUALITIES)), min_size=4, max_size=16))
def test_a_sentence_says_how_the_roots_really_move(chords: list[tuple[str, str]]) -> None:
    chart = chart_of(" ".join(f"| {root}{quality}" for root, quality in chords) + " |")
    roots = [event.symbol.root.pc for event in chart.events()]
    for reading in analyse(chart).readings:
        if reading.rule in MOTIONS and reading.resolves_to is not None:
            move = (roots[reading.resolves_to] - roots[reading.event]) % 12
            assert move in MOTIONS[reading.rule], (reading.event, told(reading.reason))
