"""Chord scales as data: what each contains, and the rules that choose one.

Sources named in the table:
NETTLES     Nettles and Graf, *The Chord Scale Theory and Jazz Harmony* (1997): a tension lies a whole step above a chord tone;
            a scale tone a semitone above one is avoided, dominants exempt; p. 44 for secondary dominants: chord tones
            and the tensions that are diatonic to the home key, only the fourth avoided.
MULHOLLAND  Mulholland and Hojnacki, *The Berklee Book of Jazz Harmony* (2013), chapters 3–6.
PRACTICE    common practice, no single source.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale over a chord root. degrees are spelled against the major scale ("b2", "#4"), root first."""

    id: str
    name: str
    degrees: tuple[str, ...]


def _scale(scale_id: str, name: str, degrees: str) -> Scale:
    return Scale(scale_id, name, tuple(degrees.split()))


SCALES: dict[str, Scale] = {
    scale.id: scale
    for scale in (
        _scale("ionian", "Ionian", "1 2 3 4 5 6 7"),
        _scale("dorian", "Dorian", "1 2 b3 4 5 6 b7"),
        _scale("phrygian", "Phrygian", "1 b2 b3 4 5 b6 b7"),
        _scale("lydian", "Lydian", "1 2 3 #4 5 6 7"),
        _scale("mixolydian", "Mixolydian", "1 2 3 4 5 6 b7"),
        _scale("aeolian", "Aeolian", "1 2 b3 4 5 b6 b7"),
        _scale("locrian", "Locrian", "1 b2 b3 4 b5 b6 b7"),
        _scale("melodic-minor", "melodic minor", "1 2 b3 4 5 6 7"),
        _scale("harmonic-minor", "harmonic minor", "1 2 b3 4 5 b6 7"),
        _scale("dorian-b9", "Dorian ♭9", "1 b2 b3 4 5 6 b7"),
        _scale("lydian-augmented", "Lydian augmented", "1 2 3 #4 #5 6 7"),
        _scale("lydian-b7", "Lydian ♭7", "1 2 3 #4 5 6 b7"),
        _scale("mixolydian-b13", "Mixolydian ♭13", "1 2 3 4 5 b6 b7"),
        _scale("mixolydian-b9b13", "Mixolydian ♭9♭13", "1 b2 3 4 5 b6 b7"),
        _scale("locrian-9", "Locrian natural 9", "1 2 b3 4 b5 b6 b7"),
        _scale("altered", "altered", "1 b2 #2 3 #4 b6 b7"),
        _scale("half-whole", "half-whole diminished", "1 b2 #2 3 #4 5 6 b7"),
        _scale("whole-half", "whole-half diminished", "1 2 b3 4 b5 b6 bb7 7"),
        _scale("whole-tone", "whole tone", "1 2 3 #4 #5 b7"),
        _scale("ionian-augmented", "Ionian augmented", "1 2 3 4 #5 6 7"),
    )
}

BLUES_SCALE = _scale("blues", "blues scale", "1 b3 4 b5 5 b7")


@dataclass(frozen=True, slots=True)
class ScaleRule:
    """Why a scale is chosen: an id, a sentence for the player, and where the rule is from."""

    id: str
    sentence: str
    source: str


NETTLES = "Nettles and Graf, The Chord Scale Theory and Jazz Harmony (1997)"
NETTLES_SECONDARY = "Nettles and Graf, The Chord Scale Theory and Jazz Harmony (1997) p. 44"
MULHOLLAND = "cf. Mulholland and Hojnacki, The Berklee Book of Jazz Harmony (2013), ch. 3–5"
MULHOLLAND_BLUES = "cf. Mulholland and Hojnacki, The Berklee Book of Jazz Harmony (2013), ch. 6"
MILLER = "Miller, Modal Jazz Composition & Harmony (1996)"
PRACTICE = "common practice, no single source"

RULES: dict[str, ScaleRule] = {
    rule.id: rule
    for rule in (
        ScaleRule("diatonic-1", "A major tonic chord takes Ionian; the 11th is avoided.", NETTLES),
        ScaleRule("diatonic-2", "The ii chord takes Dorian; its 13th is left to the V chord.", NETTLES),
        ScaleRule("diatonic-3", "The iii chord takes Phrygian, the notes of the key.", NETTLES),
        ScaleRule("diatonic-4", "The IV chord takes Lydian; nothing is avoided.", NETTLES),
        ScaleRule("diatonic-5", "The V chord takes Mixolydian; the 11th is avoided.", NETTLES),
        ScaleRule("diatonic-6", "The vi chord takes Aeolian, the notes of the key.", NETTLES),
        ScaleRule("diatonic-7", "The vii chord takes Locrian, the notes of the key.", NETTLES),
        ScaleRule(
            "dominant-home", "A dominant takes its own notes and the tensions that the key has.", NETTLES_SECONDARY
        ),
        ScaleRule("dominant-major", "A dominant that aims at a major chord takes 9 and 13.", NETTLES_SECONDARY),
        ScaleRule("dominant-minor", "A dominant that aims at a minor chord takes flat 9 and flat 13.", MULHOLLAND),
        ScaleRule(
            "lydian-dominant",
            "A dominant that falls a semitone, or flat 7 going home, takes Lydian flat 7.",
            MULHOLLAND,
        ),
        ScaleRule("dominant-chain", "A dominant that runs on into another dominant takes Mixolydian.", MULHOLLAND),
        ScaleRule("flat-six-seven", "A flat VI7 that does not fall a fifth takes Lydian flat 7.", MULHOLLAND),
        ScaleRule("five-major", "A V major seventh is heard as 1 of its own key: Ionian.", PRACTICE),
        ScaleRule("minor-sixth-key", "A minor sixth chord away from 1 and 4 takes Dorian.", PRACTICE),
        ScaleRule("four-seven", "A IV7 takes Lydian flat 7.", MULHOLLAND),
        ScaleRule(
            "blues-home",
            "A seventh at home takes Mixolydian, coloured by the blues scale.",
            MULHOLLAND_BLUES,
        ),
        ScaleRule(
            "blues-four",
            "IV7 at home takes Lydian flat 7, coloured by the blues scale.",
            MULHOLLAND_BLUES,
        ),
        ScaleRule("suspended", "A suspended dominant takes Mixolydian.", MULHOLLAND),
        ScaleRule(
            "dominant-half-two", "After its own half-diminished 2 a dominant takes flat 9 and flat 13.", MULHOLLAND
        ),
        ScaleRule("minor-tonic", "A minor tonic takes Dorian, or Aeolian.", PRACTICE),
        ScaleRule("minor-vamp", "A minor chord at rest in a vamp takes Dorian.", PRACTICE),
        ScaleRule("modal", "In a modal passage every chord takes the notes of the mode.", MILLER),
        ScaleRule("minor-six", "A minor sixth or minor-major chord takes melodic minor.", MULHOLLAND),
        ScaleRule("minor-ii", "A half-diminished ii takes Locrian, or Locrian natural 9.", MULHOLLAND),
        ScaleRule(
            "minor-vi",
            "The half-diminished vi takes Locrian natural 9, the notes of melodic minor.",
            MULHOLLAND,
        ),
        ScaleRule("minor-iv", "A minor iv takes Dorian.", MULHOLLAND),
        ScaleRule("minor-v", "A minor v in a minor key takes Phrygian, the notes of the key.", PRACTICE),
        ScaleRule(
            "flat-three",
            "A flat III major chord takes Ionian in its minor key, Lydian when borrowed.",
            MULHOLLAND,
        ),
        ScaleRule("borrowed-major", "A borrowed major seventh chord takes Lydian.", MULHOLLAND),
        ScaleRule("related-ii", "The ii of another chord takes Dorian.", PRACTICE),
        ScaleRule("minor-any", "A minor chord from outside the key takes Dorian.", PRACTICE),
        ScaleRule("major-any", "A major chord from outside the key takes Lydian.", PRACTICE),
        ScaleRule("half-diminished-any", "A half-diminished chord takes Locrian.", MULHOLLAND),
        ScaleRule(
            "diminished",
            "A diminished chord takes whole-half: a whole step above every chord tone.",
            MULHOLLAND,
        ),
        ScaleRule("power", "A root and fifth alone take the scale of the key.", PRACTICE),
        ScaleRule("symbol-alt", "The symbol asks for altered tensions.", PRACTICE),
        ScaleRule("symbol-half-whole", "Flat or sharp 9 with a natural 13 is the half-whole scale.", PRACTICE),
        ScaleRule("symbol-lydian-b7", "A sharp 11 over a dominant is Lydian flat 7.", PRACTICE),
        ScaleRule("symbol-whole-tone", "A sharp 5 with a natural 9 is the whole-tone scale.", PRACTICE),
        ScaleRule("symbol-b9b13", "Flat 9 and flat 13 are Mixolydian flat 9 flat 13.", PRACTICE),
        ScaleRule("symbol-b13", "A flat 13 with a natural 9 is Mixolydian flat 13.", PRACTICE),
        ScaleRule("symbol-lydian", "A sharp 11 over a major chord is Lydian.", PRACTICE),
        ScaleRule("symbol-lydian-augmented", "A major seventh with a sharp 5 is Lydian augmented.", PRACTICE),
        ScaleRule("symbol-locrian-9", "A natural 9 over a half-diminished chord is Locrian natural 9.", PRACTICE),
        ScaleRule(
            "symbol-sus-b9",
            "A suspended chord with a flat 9 takes Phrygian, or Dorian flat 9 with a 13.",
            PRACTICE,
        ),
        ScaleRule("symbol-augmented", "An augmented triad takes the whole-tone scale.", PRACTICE),
        ScaleRule("symbol-minor-b9", "A minor chord with a flat 9 takes Phrygian.", PRACTICE),
        ScaleRule("symbol-minor-b13", "A minor chord with a flat 13 takes Aeolian.", PRACTICE),
        ScaleRule("heard", "What the melody or the bass plays decides.", PRACTICE),
    )
}
