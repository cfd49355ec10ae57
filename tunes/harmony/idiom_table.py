"""Progressions that return in tune after tune, as patterns. The ids describe; the names are for a class to give.

Sources: cadences, backdoor, minor plagal, turnarounds, clichés, cycles and vamps: common practice; tritone substitution and
the chain of dominants: Pease, *Jazz Composition* (Berklee Press, 2003) p. 53; chromatic ii–Vs: cf. Baerman, *Intermediate
Jazz Keyboard* (1998) p. 63; deceptive resolutions: cf. Mulholland and Hojnacki (2013), appendix.
"""

from __future__ import annotations

from dataclasses import dataclass

from .idiom_pattern import Pattern, parse_pattern

PRACTICE = "common practice, no single source"
PEASE = "Pease, Jazz Composition (2003) p. 53"
BAERMAN = "cf. Baerman, Intermediate Jazz Keyboard (1998) p. 63"
MULHOLLAND = "cf. Mulholland and Hojnacki, The Berklee Book of Jazz Harmony (2013)"


@dataclass(frozen=True, slots=True)
class Idiom:
    """A named pattern. id is stable and kept in data; name is what a class says; source may be ""."""

    id: str
    name: str
    pattern: Pattern
    source: str = ""


def make_idiom(idiom_id: str, name: str, pattern: str, source: str = "") -> Idiom:
    """An idiom from pattern text; raises ValueError with the reader's message when it cannot be read."""
    reading = parse_pattern(pattern)
    if reading.pattern is None:
        raise ValueError(reading.problem.text if reading.problem else pattern)
    return Idiom(idiom_id, name, reading.pattern, source)


_ROWS: tuple[tuple[str, str, str, str], ...] = (
    ("cadence-major", "2 5 1 in major", "2min 5dom|5sus 1maj", PRACTICE),
    ("cadence-minor", "2 5 1 in minor", "2half 5dom|5sus 1min", PRACTICE),
    ("cadence-minor-melodic", "minor 2, 5, minor 1", "home: 2min 5dom|5sus 1min", PRACTICE),
    ("cadence-minor-to-major", "minor 2 5, major 1", "2half 5dom 1maj", PRACTICE),
    ("two-five", "2 5", "2min|2half 5dom|5sus", PRACTICE),
    ("two-five-left-open", "2 5 left open", "open: 2min|2half 5dom", PRACTICE),
    ("backdoor", "flat 7 to 1", "(4min) b7dom 1maj", PRACTICE),
    ("tritone-cadence", "2, flat 2, 1", "home: 2min|2half b2dom 1", PEASE),
    ("minor-plagal", "4, minor 4, 1", "4maj 4min 1maj", PRACTICE),
    ("turnaround-1-6-2-5", "1 6 2 5", "home: 1maj 6min 2min 5dom", PRACTICE),
    ("turnaround-1-5of2-2-5", "1, 5 of 2, 2 5", "home: 1maj 6dom 2min 5dom", PRACTICE),
    ("turnaround-3-6-2-5", "3 6 2 5", "home: 3min 6dom|6min 2min 5dom", PRACTICE),
    ("turnaround-dominants", "3 6 2 5, all dominants", "home: 3dom 6dom 2dom 5dom", PRACTICE),
    (
        "turnaround-substitutes",
        "1, flat 3, flat 6, flat 2, dominants",
        "home: 1maj b3dom b6dom b2dom",
        PRACTICE,
    ),
    (
        "turnaround-major-sevenths",
        "1, flat 3, flat 6, flat 2, major",
        "home: 1maj b3maj b6maj b2maj",
        PRACTICE,
    ),
    ("turnaround-rising-diminished", "1, sharp 1 diminished, 2 5", "home: 1maj #1dim 2min 5dom", PRACTICE),
    (
        "turnaround-falling-diminished",
        "1, flat 3 diminished, 2 5",
        "home: 1maj|3min b3dim 2min 5dom",
        PRACTICE,
    ),
    ("turnaround-minor-6", "1 6 2 5 in minor", "home: 1min 6half 2half|2min 5dom", PRACTICE),
    ("turnaround-minor-flat-6", "1, flat 6, 2 5 in minor", "home: 1min b6maj 2half|2min 5dom", PRACTICE),
    ("turnaround-falling-dominants", "flat 7, 6, flat 6, 5, dominants", "home: b7dom 6dom b6dom 5dom", PRACTICE),
    ("circle-minor", "the circle of minor", "4min b7dom b3maj b6maj 2half 5dom 1min", PRACTICE),
    ("chromatic-two-fives", "3 6, flat 3 flat 6, 2 5", "home: 3min 6dom b3min b6dom 2min 5dom", BAERMAN),
    ("two-five-falling-by-tone", "2 5 of flat 7, then 2 5", "3min 6dom 2min 5dom", BAERMAN),
    ("line-falling", "minor, 8 to 6 falling", "1m 1mmaj7 1m7 (1m6)", PRACTICE),
    ("line-rising", "5, sharp 5, 6", "1maj 1aug 16", PRACTICE),
    ("major-third-cycle", "keys a major third apart", "2min b3dom b6maj 7dom 3maj 5dom 1maj", PRACTICE),
    ("vamp-dorian", "minor 1 and 4 dominant", "home: 1min 4dom 1min 4dom", PRACTICE),
    ("vamp-mixolydian", "1 dominant and flat 7", "home: 1dom b7maj 1dom", PRACTICE),
    ("vamp-phrygian", "minor 1 and flat 2", "home: 1min b2maj 1min", PRACTICE),
    ("vamp-lydian", "1 and major 2", "home: 1maj 2maj 1maj", PRACTICE),
    ("vamp-aeolian", "minor 1, flat 6, flat 7", "home: 1min b6maj b7maj|b7dom", PRACTICE),
    ("deceptive", "5 that goes elsewhere", "5dom 6min|3min|4maj|b6maj|#4half|4min", MULHOLLAND),
    ("blues-one-four", "1 and 4, both at home", "home: 1dom 4dom 1dom", MULHOLLAND),
    ("dominant-chain", "5 of 6, 5 of 2, 5 of 5, 5", "3dom 6dom 2dom 5dom (1)", PEASE),
    ("two-dominant-five", "2 dominant to 5", "2dom 5dom 1maj", PEASE),
    ("passing-1-2", "sharp 1 diminished from 1 to 2", "1maj #1dim 2min", PEASE),
    ("passing-2-3", "sharp 2 diminished from 2 to 3", "2min #2dim 3min", PEASE),
    ("passing-4-5", "sharp 4 diminished after 4", "4 #4dim 5|1", PEASE),
    ("passing-5-6", "sharp 5 diminished from 5 to 6", "5 #5dim 6min", PEASE),
    ("passing-3-2", "flat 3 diminished from 3 to 2", "3min b3dim 2min", PRACTICE),
    ("auxiliary-1", "1 diminished and back", "1maj 1dim 1maj", PRACTICE),
)

BUILT_IN: dict[str, Idiom] = {row[0]: make_idiom(*row) for row in _ROWS}
"""The idioms every programme starts with; ids are neutral, names may be replaced."""
