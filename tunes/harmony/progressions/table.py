"""Progressions that return in tune after tune, as patterns. The ids describe; the names are for a class to give.

Sources: cadences, backdoor, minor plagal, turnarounds, clichés, cycles and vamps: common practice; tritone substitution and
the chain of dominants: Pease, *Jazz Composition* (Berklee Press, 2003) p. 53; chromatic ii–Vs: cf. Baerman, *Intermediate
Jazz Keyboard* (1998) p. 63; deceptive resolutions: cf. Mulholland and Hojnacki (2013), appendix.
"""

from __future__ import annotations

from dataclasses import dataclass

from tunes.harmony.progressions.pattern import Pattern, parse_pattern

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
    ("cadence-minor", "2 5 1 in minor", "home: 2half 5dom|5sus 1min", PRACTICE),
    ("two-five-to-minor", "minor 2 5 to a minor chord that is not home", "away: 2half 5dom|5sus 1min", PRACTICE),
    ("cadence-minor-melodic", "minor 2, 5, minor 1", "home: 2min 5dom|5sus 1min", PRACTICE),
    ("cadence-minor-to-major", "minor 2 5, major 1", "2half 5dom 1maj", PRACTICE),
    ("two-five", "2 5", "2min|2half 5dom|5sus", PRACTICE),
    ("two-five-with-substitute", "2, substitute of 5 of 5, 5", "home: 2min|2half b6dom 5dom|5sus", PEASE),
    ("two-five-left-open", "2 5 left open", "open: 2min|2half 5dom", PRACTICE),
    ("backdoor", "flat 7 to 1", "(4min) b7dom 1maj", PRACTICE),
    ("backdoor-to-3", "flat 7 to 3", "home: (4min) b7dom 3min", PRACTICE),
    ("backdoor-minor", "minor 4, flat 7, minor 1", "home: 4min b7dom 1min", PRACTICE),
    ("tritone-cadence", "2, flat 2, 1", "home: 2min|2half b2dom 1", PEASE),
    ("tritone-two-five", "2 5 of the tritone substitute, 1", "home: b6min|b6half b2dom 1maj|1min", PEASE),
    ("minor-plagal", "minor 4 to 1", "(4maj) 4min 1maj", PRACTICE),
    ("minor-four-to-3", "4, minor 4, 3", "home: 4maj 4min 3min", PRACTICE),
    ("turnaround-1-6-2-5", "1 6 2 5", "home: 1maj|1dom 6min 2min 5dom|5sus", PRACTICE),
    ("turnaround-1-5of2-2-5", "1, 5 of 2, 2 5", "home: 1maj|1dom 6dom|6sus 2min 5dom|5sus", PRACTICE),
    ("turnaround-3-6-2-5", "3 6 2 5", "home: 3min|3half 6dom|6min|6sus 2min 5dom|5sus", PRACTICE),
    ("turnaround-3-6-2-flat-2", "3 6 2 flat 2", "home: 3min|3half 6dom|6min 2min b2dom", PRACTICE),
    ("turnaround-1-6-2-5-dominants", "1, then 6 2 5 as dominants", "home: 1maj|1dom 6dom 2dom 5dom", PRACTICE),
    ("turnaround-dominants", "3 6 2 5, all dominants", "home: 3dom 6dom 2dom 5dom", PRACTICE),
    (
        "turnaround-substitutes",
        "1, flat 3, flat 6, flat 2",
        "sound: 1maj b3dom b6dom|b6maj b2dom",
        PRACTICE,
    ),
    (
        "turnaround-major-sevenths",
        "1, flat 3, flat 6, flat 2, major",
        "home: 1maj b3maj b6maj b2maj",
        PRACTICE,
    ),
    ("turnaround-flat-3-2-flat-2", "1, flat 3, 2, flat 2", "home: 1maj b3dom 2dom|2min b2dom", PRACTICE),
    ("turnaround-rising-diminished", "1, sharp 1 diminished, 2 5", "home: 1maj #1dim 2min 5dom", PRACTICE),
    (
        "turnaround-falling-diminished",
        "1, flat 3 diminished, 2 5",
        "home: 1maj|3min b3dim 2min 5dom",
        PRACTICE,
    ),
    ("turnaround-minor-6", "1 6 2 5 in minor", "home: 1min 6half 2half|2min 5dom", PRACTICE),
    ("turnaround-minor-flat-6", "1, flat 6, 2 5 in minor", "home: 1min b6maj|b6dom 2half|2min 5dom", PRACTICE),
    ("falling-6-flat-6-5", "6 half diminished, flat 6, 5", "home: 6half b6dom (2min|2half) 5dom", PRACTICE),
    ("flat-3-flat-6-5", "flat 3, flat 6, 5, dominants", "home: b3dom b6dom 5dom", PRACTICE),
    ("flat-6-5-minor", "flat 6 dominant, 5, minor 1", "home: b6dom 5dom 1min", PRACTICE),
    ("turnaround-falling-dominants", "flat 7, 6, flat 6, 5, dominants", "home: b7dom 6dom b6dom 5dom", PRACTICE),
    ("circle-minor", "the circle of minor", "4min b7dom b3maj b6maj 2half 5dom 1min", PRACTICE),
    (
        "circle-to-relative-minor",
        "2 5 1 4, and 2 5 1 of the relative minor",
        "2min 5dom 1maj 4maj 7half 3dom 6min",
        PRACTICE,
    ),
    ("chromatic-two-fives", "2 5 and the 2 5 a semitone lower", "sound: 2min|2half 5dom b2min|b2half b5dom", BAERMAN),
    ("two-five-slipping-up", "2 5 and the 2 5 a semitone higher", "sound: 2min|2half 5dom b3min b6dom", PRACTICE),
    ("side-slip", "a minor chord, the one a semitone off, and back", "sound: 1min b2min|7min 1min", PRACTICE),
    ("slide-3-2", "3, flat 3, 2 sliding down", "home: 3min b3min|b3maj|b3dom (b6dom) 2min", PRACTICE),
    ("falling-from-sharp-4", "sharp 4 half diminished, minor 4, 3", "home: #4half 4min 3min", PRACTICE),
    (
        "two-five-falling-by-tone",
        "2 5 and the 2 5 a tone lower",
        "3min|3half 6dom|6sus 2min|2half 5dom|5sus",
        PRACTICE,
    ),
    (
        "two-fives-by-fifths",
        "2 5, and the 2 5 a fifth lower",
        "sound: 2min|2half 5dom|5sus (b2dom) 5min|5half 1dom|1sus",
        PEASE,
    ),
    (
        "key-falling-by-tone",
        "2 5 1, and the 2 5 1 a tone lower",
        "sound: 2min 5dom|5sus 1maj 1min 4dom|4sus|7dom b7maj",
        PRACTICE,
    ),
    (
        "key-falling-by-semitone",
        "2 5 1, and the 2 5 1 a semitone lower",
        "sound: 2min 5dom|5sus 1maj b2min b5dom|b5sus 7maj",
        PRACTICE,
    ),
    (
        "two-fives-rising-by-minor-third",
        "2 5s, each a minor third higher",
        "sound: 2min 5dom|5sus 4min b7dom|b7sus b6min b2dom|b2sus",
        PRACTICE,
    ),
    (
        "two-fives-falling-by-minor-third",
        "2 5s, each a minor third lower",
        "sound: 2min 5dom|5sus 7min 3dom|3sus b6min b2dom|b2sus",
        PRACTICE,
    ),
    ("dominants-by-minor-thirds-up", "dominants rising by minor thirds", "sound: 1dom b3dom #4dom", PRACTICE),
    ("dominants-by-minor-thirds-down", "dominants falling by minor thirds", "sound: 1dom 6dom #4dom", PRACTICE),
    ("dominants-rising-by-semitones", "dominants rising by semitones", "sound: 1dom b2dom 2dom", PRACTICE),
    ("dominants-rising-by-tones", "dominants rising by tones", "sound: 1dom 2dom 3dom", PRACTICE),
    ("triads-rising-by-tones", "major triads rising by tones", "sound: 1triad 2triad 3triad", PRACTICE),
    ("flat-6-flat-7-1", "flat 6, flat 7, 1", "home: b6maj b7maj|b7dom 1maj", PRACTICE),
    (
        "two-fives-falling-to-4",
        "2 5 of 6, 2 5 of 5, 2 5 of 4, and 4",
        "home: 7half|7min 3dom 6min 2dom 5min 1dom 4dom|4maj|4min",
        BAERMAN,
    ),
    ("dominants-by-semitones", "dominants falling by semitones", "sound: 2dom b2dom 1dom", PRACTICE),
    ("line-falling", "minor, 8 to 6 falling", "sound: 1mtriad 1mmaj7 1m7 (1m6|6half)", PRACTICE),
    ("line-falling-from-7", "minor, 7 to 6 falling", "sound: 1mmaj7 1m7 1m6|6half", PRACTICE),
    ("line-falling-by-steps", "minor, 8, 7, 6", "sound: 1mtriad 1m7 1m6 (1m7)", PRACTICE),
    ("line-falling-in-major", "major, 7 to flat 6 falling", "sound: 1maj7 1dom 16 (1aug)", PRACTICE),
    ("line-rising", "5, sharp 5, 6", "sound: 1maj 1aug 16 (1dom)", PRACTICE),
    ("bass-falling-1-to-5", "bass falling 1, flat 7, 6, flat 6, 5", "home: _1 _b7 _6 _b6 _5", PRACTICE),
    ("bass-falling-1-to-6", "bass falling 1, 7, flat 7, 6", "home: _1 _7 _b7 _6", PRACTICE),
    ("bass-falling-scale", "bass falling down the scale from 1 to 4", "home: 1 5_7|3 6min|4_6 1_5|3min_5 4", PRACTICE),
    (
        "bass-falling-under-minor",
        "bass falling under a minor chord",
        "sound: 1min 1min_b7 6half|4_6|b6maj|4_b6",
        PRACTICE,
    ),
    ("bass-rising", "bass rising from 1 to 4", "home: 1 2|5_2 1_3 4", PRACTICE),
    ("major-third-cycle", "keys a major third apart", "2min b3dom b6maj 7dom 3maj 5dom 1maj", PRACTICE),
    (
        "major-thirds-by-dominants",
        "each dominant opens the key a major third lower",
        "sound: 1maj b3dom b6maj 7dom 3maj",
        PRACTICE,
    ),
    ("vamp-dorian", "minor 1 and 4 dominant", "home: 1min 4dom 1min 4dom", PRACTICE),
    ("vamp-mixolydian", "1 dominant and flat 7", "home: 1dom b7maj 1dom", PRACTICE),
    ("vamp-phrygian", "minor 1 and flat 2", "home: (b2maj) 1min b2maj 1min", PRACTICE),
    ("vamp-lydian", "1 and major 2", "home: 1maj 2maj 1maj", PRACTICE),
    ("vamp-aeolian", "minor 1, flat 6, flat 7", "home: 1min b6maj b7maj|b7dom", PRACTICE),
    ("deceptive", "5 that goes elsewhere", "5dom 6min|6dom|3min|3half|3dom|4maj|b6maj|#4half|4min", MULHOLLAND),
    ("blues-one-four", "1 and 4, both at home", "home: 1dom 4dom 1dom", MULHOLLAND),
    ("blues-five-four", "5, 4, 1", "home: 5dom 4dom 1dom", MULHOLLAND),
    ("dominant-chain", "dominants falling by fifths", "6dom (6min) 2dom (2min) 5dom (1)", PEASE),
    ("two-dominant-five", "2 dominant to 5", "home: 2dom 5dom 1maj", PEASE),
    ("passing-1-2", "sharp 1 diminished from 1 to 2", "1maj #1dim 2min", PEASE),
    ("passing-2-3", "sharp 2 diminished from 2 to 3", "2min #2dim 3min", PEASE),
    ("passing-4-5", "sharp 4 diminished from 4 to 5", "4 #4dim 5|1_5", PEASE),
    ("climb-4-back-to-1", "4, sharp 4 diminished and back to 1", "home: 4 #4dim 1maj_1|1dom_1|1maj_3|1dom_3", PRACTICE),
    ("passing-5-6", "sharp 5 diminished from 5 to 6", "5 #5dim 6min", PEASE),
    ("passing-3-2", "flat 3 diminished from 3 to 2", "3min b3dim 2min|2dom", PRACTICE),
    ("auxiliary-1", "1 diminished and back", "1maj 1dim 1maj", PRACTICE),
)

BUILT_IN: dict[str, Idiom] = {row[0]: make_idiom(*row) for row in _ROWS}
"""The idioms every programme starts with; ids are neutral, names may be replaced."""
