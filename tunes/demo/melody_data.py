"""The demo's melodies, phrase maps and first lines. All written for this demo.

A melody is one bar after another, as its agreed chart prints them: `C5` is one beat, `C5:3` three, `-` a rest.
"""

from __future__ import annotations

_PAPER_A = "G4:2 Bb4 C5 | Eb5:2 C5 A4 | C5:2 Bb4 Ab4 | Bb4:2 Db5 C5 | Ab4:2 C5 Eb5 | Eb5:2 Cb5 Ab4"
_PAPER_HOME = "C5 Ab4 F4 D4 | Eb4:3 -"
_FERRY_A = "B4:2 D5 | G5:2 F#5 | E5:2 C5 | A4:3 | D5:2 F5 | F5 E5 D5 | C5:2 E5 | Eb5:3"
_LETTER_A = "C5:3 Eb5 | Db5:2 Cb5 Ab4 | G4:4 | Gb4:2 A4:2 | F5:3 Db5 | Fb5:2 Db5 Bb4 | Eb5:2 C5 Gb4 | F4:2 G4:2"
_JAY_A = "-:2 F5 D5 | Eb5 C5 A4 F4 | -:2 F5 D5 | Eb5 C5 A4:2 | -:1 Ab4 Bb4 D5 | Eb5:2 Db5:2"
_AWNING_CALL = "A4:3/2 G4:1/2 A4:2"
_PARADE_A = "A4:4 | - C5 D5 F5 | G4:4 | - Bb4 C5 Eb5 | F5:2 A4:2 | B4:2 D5:2 | Bb4:4 | -:4 | C5:2 Eb5:2 | D5:2 C5:2 | Bb4:3 D5 | Db5:2 Bb4:2"
_PARADE_HOME = "Bb4:2 D5:2 | C5:2 G4:2 | F4:3 - | -:4"
_ALMANAC_A = "E5:2 D5 C5 | C5:2 Ab4:2 | G4:2 A4 B4 | B4:2 Bb4:2 | A4:3 F4 | Ab4:2 F4:2"

MELODIES: dict[str, str] = {
    "Cobalt Street": (
        "- C5 D5 F5 | F5:2 -:2 | - C5 D5 F5 | Eb5:3 - | - C5 D5 F5 | F5:2 -:2 | - C5 D5 Eb5 | Eb5:2 D5:2 | "
        "D5:3/2 Bb4:1/2 G4:2 | C5:3/2 Bb4:1/2 E4:2 | F4:2 F#4:2 | G4:2 -:2"
    ),
    "Low Tide Ledger": (
        "G4:2 C5 D5 | F5:2 D5 B4 | C5:3 - | Db5:2 C5 Bb4 | Ab4:2 C5 Eb5 | F5:2 D5:2 | Eb5:3 - | -:4 | "
        "Eb5 C5 Ab4 Gb4 | F4:2 Ab4 B4 | C5:4 | -:4"
    ),
    "Paper Lantern Weather": (
        f"{_PAPER_A} | G4:3 - | -:4 | {_PAPER_HOME} | "
        "G5:2 Eb5 C5 | D5:3 - | F5:2 Db5 Bb4 | C5:3 - | Eb5:2 Cb5 Ab4 | Bb4:3 - | Ab4:2 G4 E4 | F4 Ab4 D5 F5 | "
        f"{_PAPER_A} | {_PAPER_HOME}"
    ),
    "The Glassblower's Letter": (
        f"{_LETTER_A} | "
        "Gb5:2 Eb5:2 | C5:2 A4:2 | Db5:4 | Db5:2 C5:2 | C5:3 Ab4 | D5:4 | Db5:3 F5 | Ab4:2 G4:2 | "
        f"{_LETTER_A} | "
        "F5:3 Eb5 | F5:2 Ab5:2 | Eb5:3 C5 | Gb5:2 Eb5:2 | Db5:3 C5 | Ab4:2 G4:2 | Ab4:4 | -:4"
    ),
    "Two Doors North": (
        "A4:2 D5 E5 | F5:3 E5 | D5:2 B4:2 | A4:4 | C5:2 F5 G5 | Ab5:3 G5 | F5:2 D5:2 | C5:4 | "
        "G5:2 F5 D5 | A4:4 | A4 C5 D5 F5 | E5:4 | F5:2 D5 Bb4 | G4:4 | A4 C5 D5:2 | D5:3 -"
    ),
    "Winter Ferry": (
        f"{_FERRY_A} | "
        "D5:2 B4 | Db5:2 Bb4 | C5:2 A4 | F#4:3 | A4 B4 D5 | G#4 B4 E5 | C#5 E5 G5 | G5 E5 F#5 | "
        f"{_FERRY_A} | "
        "G5 E5 C#5 | D5 B4 G#4 | A4 C5 E5 | G4:2 F#4 | G4:3 | - Bb4 G4 | B4:3 | -:3"
    ),
    "Three Rivers Meet": (
        "A4:3 C5 | Bb4:2 C5:2 | F5:3 Eb5 | D5:2 G#4:2 | C#5:3 B4 | Bb4:2 E4:2 | A4:4 | -:4 | "
        "D5:3 F5 | E5:2 Eb5:2 | D5:2 Bb4:2 | G4:2 E4:2 | C#5:2 E5:2 | C5:2 Eb5:2 | F5:4 | D5:2 C5:2"
    ),
    "Salt on the Awning": (
        f"{_AWNING_CALL} | {_AWNING_CALL} | G#4:3/2 F#4:1/2 G#4:2 | G#4:4 | G4:3/2 F4:1/2 G4:2 | G4:2 Bb4:2 | A4:4 | -:4 | "
        "C#5:4 | C5:4 | B4:4 | G#4:2 B4:2 | C5:3 B4 | A4:2 F#4:2 | Bb4:3 A4 | G4:2 E4:2 | "
        f"{_AWNING_CALL} | {_AWNING_CALL} | {_AWNING_CALL} | D5:4 | D5:2 Bb4:2 | C#5:2 E5:2 | F5:4 | F#5:2 Eb5:2 | "
        "D5:3 Bb4 | E5:2 C5:2 | C5:3 A4 | D5:2 Bb4:2 | Bb4:2 G4:2 | G4:2 E4:2 | D4:4 | -:4"
    ),
    "The Long Parade": (
        f"{_PARADE_A} | C5:2 A4:2 | F#4:2 A4:2 | Bb4:2 G4:2 | E4:4 | {_PARADE_HOME} | "
        "Db5:4 | Db5:4 | C5:4 | -:4 | E5:4 | E5:4 | D#5:4 | -:4 | G5:4 | G5:4 | F#5:4 | -:4 | D5:4 | F5:4 | E5:4 | Bb4:4 | "
        f"{_PARADE_A} | {_PARADE_HOME}"
    ),
    "Side Street Almanac": (
        f"{_ALMANAC_A} | G4:2 Bb4:2 | C5:2 Ab4:2 | G4:2 E4:2 | C5:3 - | "
        "Bb4:2 D5:2 | Db5:2 Bb4:2 | C5:2 A4:2 | Ab4:2 D5:2 | G4:2 C5 E5 | Eb5:2 C5:2 | D5:2 A4:2 | C5:2 B4:2 | "
        f"{_ALMANAC_A} | G4:2 E4:2 | C5:3 -"
    ),
    "Counting the Stairs": (
        "F4:2 Ab4:2 | G4:2 Bb4:2 | A4:2 G4:2 | G4:2 A4:2 | Bb4:3 Ab4 | G4:2 Bb4:2 | D5:2 B4:2 | C5:2 A4:2 | "
        "F#4:4 | F4:4 | Eb4:4 | Gb4:4 | F4:2 Fb4:2 | Eb4:2 A4:2 | Bb4:2 G4:2 | Bb4:3 -"
    ),
    "Rehearsal Letter J": (
        f"{_JAY_A} | D5 F5 B4:2 | C5:2 A4:2 | C5 A4 F4:2 | Bb4:2 -:2 | "
        "F#5:4 | -:2 F#5 E5 | F5:4 | -:2 F5 D5 | E5:4 | -:2 E5 D5 | Eb5:4 | C5 Eb5 G5 A5 | "
        f"{_JAY_A} | C5 A4 F4:2 | Bb4:2 -:2"
    ),
}

PHRASES: dict[str, tuple[tuple[str, int, int, str], ...]] = {
    "Cobalt Street": (("a", 1, 4, "a call of three notes"), ("a", 5, 8, "the same call, its last note lowered"), ("b", 9, 12, "the answer, downhill")),
    "Low Tide Ledger": (("a", 1, 4, "climbs to the 4th"), ("a'", 5, 8, "climbs once more, then waits"), ("b", 9, 12, "all the way down, and back up by a step")),
    "Paper Lantern Weather": (("a", 1, 4, ""), ("b", 5, 8, "ends on the 3rd"), ("a", 9, 12, ""), ("b'", 13, 16, "ends on the root"),
                              ("c", 17, 20, "one idea, then a step lower"), ("c'", 21, 24, "lower again, then the way home"), ("a", 25, 28, ""), ("b'", 29, 32, "")),
    "The Glassblower's Letter": (("a", 1, 4, ""), ("b", 5, 8, "starts on the highest note so far"), ("c", 9, 12, ""), ("c'", 13, 16, "hangs on the leading note"),
                                 ("a", 17, 20, ""), ("b", 21, 24, ""), ("d", 25, 28, "the peak"), ("e", 29, 32, "home by step")),
    "Two Doors North": (("a", 1, 4, "up a fourth, down by step"), ("a'", 5, 8, "the same a third higher"), ("b", 9, 12, ""), ("b'", 13, 16, "closes where it began")),
    "Winter Ferry": (("a", 1, 8, "one long breath"), ("b", 9, 12, "downhill in half steps"), ("c", 13, 16, "broken chords, upwards"), ("a", 17, 24, ""), ("d", 25, 32, "c turned round")),
    "Three Rivers Meet": (("a", 1, 8, "thirds on the downbeats, three keys"), ("b", 9, 12, "down through F"), ("c", 13, 16, "three keys again, twice as fast")),
    "Salt on the Awning": (("a", 1, 8, "one note and its neighbour"), ("b", 9, 16, "falls with the inner voice"), ("a'", 17, 24, "the same note in major"), ("c", 25, 32, "")),
    "The Long Parade": (("a", 1, 16, "one idea, then a step lower"), ("a", 17, 32, ""), ("b", 33, 48, "long notes, a minor third higher each time"), ("a", 49, 64, "")),
    "Side Street Almanac": (("a", 1, 8, "asks"), ("a'", 9, 16, "answers"), ("b", 17, 24, ""), ("a'", 25, 32, "")),
    "Counting the Stairs": (("a", 1, 4, "climbs with the bass, two notes to the bar"), ("a'", 5, 8, ""), ("b", 9, 12, "held thirds"), ("a\"", 13, 16, "down again")),
    "Rehearsal Letter J": (("a", 1, 8, "a riff, moved about"), ("a", 9, 16, ""), ("b", 17, 24, "four held notes, each a half step lower"), ("a", 25, 32, "")),
}  # fmt: skip

FIRST_LINES: dict[str, tuple[str, str]] = {
    "Paper Lantern Weather": (
        "There's a light in the rain where the river bends",
        "https://words.example/paper-lantern-weather",
    ),
    "The Glassblower's Letter": ("I sealed this while the glass was warm", "https://words.example/glassblowers-letter"),
    "Salt on the Awning": ("The chairs are stacked, the tide is at the door", ""),
}
