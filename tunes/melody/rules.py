"""The roles a note can have, and the rules that give them, in the order in which they are asked.

A rule is a row: its name, the role that it gives, a sentence for the player, and where it is from. The sentence is
filled in by `tunes.melody.wording`; the test that a rule makes is listed in `tunes.melody.roles.ORDER` under the same name.

Sources named in the table:
COKER       Jerry Coker, *Elements of the Jazz Language for the Developing Improvisor* (1991), chapters on enclosure and
            on approach and passing tones.
BAKER       David Baker, *How to Play Bebop* 1 (1985): chromatic passing tones that keep chord tones on the beat.
LIGON       Bert Ligon, *Connecting Chords with Linear Harmony* (1996): targets, encircling, leading tones.
KOSTKA      Kostka and Payne, *Tonal Harmony*, chapters on non-chord tones: passing, neighbour, suspension,
            retardation, anticipation, appoggiatura.
NETTLES     Nettles and Graf, *The Chord Scale Theory and Jazz Harmony* (1997): available tensions.
Chapters are named from memory; the rules themselves are what these books share.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Role = Literal[
    "chord tone", "passing", "neighbour", "approach", "double approach", "enclosure", "delay", "anticipation", "tension",
    "other", "rest",
]  # fmt: skip
ROLES: tuple[Role, ...] = (
    "chord tone", "passing", "neighbour", "approach", "double approach", "enclosure", "delay", "anticipation", "tension",
    "other", "rest",
)  # fmt: skip

COKER = "Coker, Elements of the Jazz Language (1991)"
BAKER = "Baker, How to Play Bebop 1 (1985)"
LIGON = "Ligon, Connecting Chords with Linear Harmony (1996)"
KOSTKA = "Kostka and Payne, Tonal Harmony, on non-chord tones"
NETTLES = "Nettles and Graf, The Chord Scale Theory and Jazz Harmony (1997)"
PRACTICE = "common practice, no single source"


@dataclass(frozen=True, slots=True)
class Rule:
    """Why a note has its role. sentence may name {degree}, {chord}, {target} (the degree it leads to), {where} and {step}."""

    id: str
    role: Role
    sentence: str
    source: str


RULES: dict[str, Rule] = {
    rule.id: rule
    for rule in (
        Rule("no-chord", "rest", "no chord sounds here", PRACTICE),
        Rule("chord-tone", "chord tone", "the {degree} of {chord}", KOSTKA),
        Rule("held-over", "delay", "held over from {before} into {chord}, and falls by step to {target}", KOSTKA),
        Rule(
            "late-step",
            "delay",
            "still a note of {before} on the beat that brings {chord}; it resolves by step to {target}",
            KOSTKA,
        ),
        Rule("held-into", "anticipation", "{target}, already sounding before the chord comes", KOSTKA),
        Rule("neighbour", "neighbour", "{step} beside the {degree_target} that it leaves and comes back to", KOSTKA),
        Rule("passing", "passing", "by step from {origin} to {target}", BAKER),
        Rule("passing-run", "passing", "one of a run of steps from {origin} to {target}", BAKER),
        Rule("enclosure", "enclosure", "above and below, then {target}{where}", COKER),
        Rule("enclosure-of-three", "enclosure", "three notes from both sides, then {target}{where}", COKER),
        Rule("enclosure-of-tension", "enclosure", "half a step above and below, then {target}{where}", COKER),
        Rule("double-approach", "double approach", "two half steps to {target}{where}", LIGON),
        Rule("approach", "approach", "{step} {target}{where}", LIGON),
        Rule("approach-tension", "approach", "{step} {target}{where}", LIGON),
        Rule("tension", "tension", "the {degree} of {chord}, a tension it can hold", NETTLES),
        Rule("of-the-two", "tension", "the 11th of {chord}: the third of the 2 that goes with it", BAKER),
        Rule("passing-tension", "passing", "by step from {origin} to {target}", BAKER),
        Rule(
            "neighbour-tension",
            "neighbour",
            "{step} beside the {degree_target} that it leaves and comes back to",
            KOSTKA,
        ),
        Rule("escape", "neighbour", "{step} {target} that it comes from, left by leap", KOSTKA),
        Rule("open", "other", "outside {chord}, and no rule explains it", PRACTICE),
    )
}
