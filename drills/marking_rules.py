"""The marking table: every way an answer can earn points, by name.  Instructors read it as it stands.

Points are a share of the question (1 = all of it).  ``points`` holds where only numerals are asked,
``strict_points`` where the quality of the chord is asked too.  The values are common practice among teachers,
no source; the instructor may overrule any single mark.
"""

from __future__ import annotations

from dataclasses import dataclass

from tunes.harmony.comparison.substitutions import RELATIONS

_TONES = ("chord-tones", "guide-tones", "nearest", "guide-line", "scale")


@dataclass(frozen=True, slots=True)
class MarkingRule:
    """One row of the table: identifier, name, one sentence, points and an example."""

    id: str
    name: str
    sentence: str
    points: float
    strict_points: float
    example: str
    kinds: tuple[str, ...] = ("function",)
    source: str = "common practice, no source"


def _rule(
    rule_id: str,
    name: str,
    sentence: str,
    points: float,
    strict: float,
    example: str,
    kinds: tuple[str, ...] = ("function",),
) -> MarkingRule:
    return MarkingRule(rule_id, name, sentence, points, strict, example, kinds)


_FUNCTION_RULES: tuple[MarkingRule, ...] = (
    _rule(
        "exact",
        "Exactly so",
        "The name in the key, in any accepted spelling.",
        1.0,
        1.0,
        "V7/ii, V/ii and 5 of 2 for A7 going to Dm7 in C",
    ),
    _rule(
        "equivalent",
        "Another name for the same thing",
        "A different name that says the same chord and the same job.",
        1.0,
        1.0,
        "II7 for V7/V; bII7 for subV7; vm7 for ii7/IV; vii°7/ii for #i°7; IV/V for V7sus4",
    ),
    _rule(
        "home-name",
        "Counted from home",
        "The right name in the home key, for a chord of a passage in another key.",
        1.0,
        1.0,
        "bVImaj7 for Abmaj7 at home in a bridge in A flat, in a tune in C",
    ),
    _rule(
        "passing-name",
        "Counted from the key that passes",
        "The right name in the key of the chord that this one leads to, belongs to or is.",
        1.0,
        1.0,
        "Ab: 2, or V7 of Ab, for what is 2 of 4 and 5 of 4 in E flat",
    ),
    _rule(
        "alternative",
        "Another accepted reading",
        "A reading the analysis ranks next; full, part or no credit as the instructor set for the assignment.",
        1.0,
        1.0,
        "ii7/ii where the key says iii7 (with part credit: 0.75)",
    ),
    _rule(
        "enharmonic",
        "Right sound, other spelling",
        "The right chord, spelled from the enharmonic degree.",
        0.9,
        0.75,
        "b5 for #4 in #iv°7",
    ),
    _rule(
        "rootless",
        "The dominant behind the diminished chord",
        "A diminished seventh named by the dominant whose upper notes it is.",
        1.0,
        0.75,
        "V7/ii for #i°7",
    ),
    _rule(
        "other-bass",
        "Right chord, other bass",
        "The chord is right; the bass that was named with it is another.",
        0.9,
        0.75,
        "I/5 for C/E in C",
    ),
    _rule(
        "degree-only",
        "Right number, quality not given",
        "The number is right; the chord is another one than the number alone says, and its quality was asked.",
        1.0,
        0.6,
        "2 for iiø7, or 4 for iv7, with quality asked",
    ),
    _rule(
        "degree-wrong-quality",
        "Right number, other quality",
        "The number is right, the quality is another one.",
        0.75,
        0.5,
        "IV7 for IVmaj7",
    ),
    _rule(
        "relative-key",
        "Right chord, named in the relative key",
        "The chord is right, but counted from the relative major or minor.",
        0.75,
        0.75,
        "A minor: iv for ii in C",
    ),
    _rule(
        "parallel-key",
        "Right function, parallel key",
        "The function is right; the key is major for minor or the reverse.",
        0.75,
        0.75,
        "C minor: V7 for V7 in C major",
    ),
    _rule(
        "key-not-named",
        "A new key area, not named",
        "The function is right in the new key, but the new key was to be written in front.",
        0.75,
        0.75,
        "2 for Ab: 2, with key names asked",
    ),
    _rule(
        "dominant-substitute",
        "Right goal, other dominant",
        "The chord does aim there, but dominant, substitute or diminished are confused.",
        0.6,
        0.6,
        "V7/V for subV7/V",
    ),
    _rule(
        "other-key-area",
        "Right chord, other key area",
        "The chord is right, but counted from another key area.",
        0.5,
        0.5,
        "F: 6 for 2 in C",
    ),
    _rule(
        "same-chord-other-role",
        "Right chord, other job",
        "The chord is right, but here it does something else.",
        0.5,
        0.5,
        "V7/IV for the I7 of a blues",
    ),
    _rule(
        "root-only",
        "Root right, goal not named",
        "The number of the root is right; what the chord aims at is missing.",
        0.5,
        0.4,
        "6 for V7/ii",
    ),
    _rule(
        "function-relative-key",
        "Right function, in the relative key",
        "The function would be right in the relative major or minor.",
        0.5,
        0.5,
        "A minor: V7 for V7 in C",
    ),
    _rule(
        "function-other-key",
        "Right function, other key",
        "The function is right, the key in front is not.",
        0.4,
        0.4,
        "Eb: 2 for 2 in Ab",
    ),
    _rule(
        "target-missing",
        "Kind right, goal not named",
        "What kind of chord is right; of which chord is missing.",
        0.4,
        0.4,
        "5 for V7/ii; 2 for ii7/IV",
    ),
    _rule(
        "chain-position",
        "Right goal, other step of the run",
        "The run does aim there, but this chord is another step of it.",
        0.4,
        0.4,
        "5 of 4 for 2 of 4",
    ),
    _rule(
        "diminished-other-root",
        "Same four notes, other root",
        "A diminished seventh named from another of its four roots.",
        0.4,
        0.4,
        "vi°7 for #iv°7",
    ),
    _rule(
        "root-other-chord",
        "Root right, another chord on it",
        "The root is right, but heard as another kind of chord.",
        0.4,
        0.3,
        "vim7 for V7/ii",
    ),
    _rule(
        "related-ii-other-target",
        "Related ii of another chord",
        "It is a related ii, but it prepares another chord.",
        0.3,
        0.3,
        "2 of 5 for 2 of 4",
    ),
    _rule(
        "other-target",
        "A dominant, of another chord",
        "It is a dominant, but it aims elsewhere.",
        0.25,
        0.25,
        "V7/iii for V7/ii",
    ),
    _rule(
        "family",
        "Right family",
        "Tonic, predominant or dominant is right, the chord is another of that family.",
        0.25,
        0.25,
        "IV for ii",
    ),
    _rule(
        "adjacent",
        "The chord next door",
        "That is the number of the chord before or after: the right run, one place off.",
        0.1,
        0.1,
        "5 where the 2 before it stands",
    ),
    _rule(
        "other",
        "Another one",
        "The answer names another function, form or note.",
        0.0,
        0.0,
        "iii for V",
        ("function", "form", *_TONES, "solo-notes"),
    ),
)

_COMMON: tuple[MarkingRule, ...] = (
    _rule("blank", "Left open", "Nothing was written.", 0.0, 0.0, "(empty)", ("all",)),
    _rule(
        "unreadable",
        "Could not be read",
        "What was written could not be read; the field said so at the time.",
        0.0,
        0.0,
        "hello",
        ("all",),
    ),
)

_FORM_RULES: tuple[MarkingRule, ...] = (
    _rule(
        "form-exact",
        "The form, exactly",
        "Letters, bars or place are right, however set out.",
        1.0,
        1.0,
        "A A B A for AABA; 4 x 8 for 8 8 8 8",
        ("form",),
    ),
    _rule(
        "form-other-letters",
        "Right pattern, other letters",
        "The pattern of return is right, the letters are others.",
        0.75,
        0.75,
        "BBAB for AABA",
        ("form",),
    ),
    _rule(
        "form-coarser",
        "Divided otherwise",
        "The bars add up, but sections are joined or halved.",
        0.75,
        0.75,
        "16 16 for 8 8 8 8",
        ("form",),
    ),
    _rule(
        "form-one-section",
        "All but one section",
        "One section is changed, added or left out.",
        0.5,
        0.5,
        "ABBA for AABA",
        ("form",),
    ),
    _rule(
        "form-length-only",
        "Length of the whole only",
        "The number of bars in all is right; the sections were asked.",
        0.5,
        0.5,
        "32 for AABA",
        ("form",),
    ),
    _rule(
        "form-name-other-length",
        "Right name, other length",
        "The form is named rightly, with another number of bars.",
        0.75,
        0.75,
        "16-bar blues for a 12-bar blues",
        ("form",),
    ),
    _rule(
        "form-half-or-double",
        "Counted at half or double speed",
        "Exactly half or twice the number of bars.",
        0.5,
        0.5,
        "64 for 32",
        ("form",),
    ),
    _rule(
        "form-near",
        "One bar off",
        "The place or length is one bar off.",
        0.5,
        0.5,
        "16 for a bridge in bar 17",
        ("form",),
    ),
    _rule(
        "form-other-count",
        "Right place, counted on the chart",
        "The bridge is where it was said to be, by the number written on the chart; as played it has another.",
        1.0,
        1.0,
        "11 on a chart that writes the repeated A once, for bar 17 as played",
        ("form",),
    ),
    _rule(
        "form-letter-for-bar",
        "Section instead of bar",
        "The section is named, its bar was asked.",
        0.25,
        0.25,
        "B for bar 17",
        ("form",),
    ),
)

_AREA_RULES: tuple[MarkingRule, ...] = (
    _rule(
        "areas-exact",
        "Every key area",
        "Every area has its bar and its key; each earns an equal share.",
        1.0,
        1.0,
        "1 F, 9 Ab, 17 F, in bars as written or as played",
        ("key-areas",),
    ),
    _rule(
        "areas-near-bar",
        "Right key, one bar off",
        "An area is in the right key and begins one bar off.",
        0.75,
        0.75,
        "8 Ab for 9 Ab",
        ("key-areas",),
    ),
    _rule(
        "areas-two-bars",
        "Right key, two bars off",
        "An area is in the right key and begins two bars off.",
        0.5,
        0.5,
        "11 Ab for 9 Ab",
        ("key-areas",),
    ),
    _rule(
        "areas-relative",
        "Relative key",
        "An area is named by its relative major or minor.",
        0.5,
        0.5,
        "9 F minor for 9 Ab",
        ("key-areas",),
    ),
    _rule(
        "areas-parallel",
        "Parallel key",
        "An area has the right tonic in the other mode.",
        0.5,
        0.5,
        "9 Ab minor for 9 Ab",
        ("key-areas",),
    ),
    _rule(
        "areas-other-beat",
        "Right bar, other beat",
        "The bar and the key are right, the beat that was added is another; a bar without a beat is enough.",
        0.9,
        0.9,
        "7 beat 1 Bb for an area that begins in bar 7 on beat 3",
        ("key-areas",),
    ),
    _rule(
        "areas-missing",
        "An area is missing",
        "An area was not written; it earns nothing.",
        0.0,
        0.0,
        "1 F for 1 F, 9 Ab",
        ("key-areas",),
    ),
    _rule(
        "areas-extra",
        "An area too many",
        "An area was written where the key does not change; it costs half an area.",
        0.0,
        0.0,
        "5 G where a single dominant of the dominant stands",
        ("key-areas",),
    ),
)

_NOTE_RULES: tuple[MarkingRule, ...] = (
    _rule(
        "notes-exact",
        "The right notes",
        "Every note asked for, in any order, rightly spelled.",
        1.0,
        1.0,
        "B F for G7",
        _TONES,
    ),
    _rule(
        "notes-enharmonic",
        "Right sound, other spelling",
        "A note sounds right and is spelled as another; it earns this share of its place.",
        0.75,
        0.75,
        "Cb for the 3rd of G7",
        _TONES,
    ),
    _rule(
        "notes-missing",
        "A note is missing",
        "Each asked note earns an equal share; one that is missing earns nothing.",
        0.0,
        0.0,
        "B alone for the 3rd and 7th of G7",
        _TONES,
    ),
    _rule(
        "notes-extra",
        "A note too many",
        "Each note that does not belong costs half a share.",
        0.5,
        0.5,
        "B F A for G7",
        _TONES,
    ),
    _rule(
        "nearest-chord-tone",
        "A note of the chord, not the nearest",
        "It belongs to the next chord; another lies nearer.",
        0.4,
        0.4,
        "C for the note of Cmaj7 nearest to F",
        ("nearest",),
    ),
    _rule(
        "line-chord-tone",
        "A note of the chord, not a guide tone",
        "It belongs to the chord, but is not its 3rd or 7th.",
        0.4,
        0.4,
        "G on G7",
        ("guide-line",),
    ),
    _rule(
        "line-not-smoothest",
        "Right notes, not the smoothest way",
        "Every note is a 3rd or 7th; three tenths of the points fall as the line moves more than it must.",
        0.85,
        0.85,
        "F B C for F F E",
        ("guide-line",),
    ),
)

_SCALE_RULES: tuple[MarkingRule, ...] = (
    _rule(
        "scale-exact",
        "The scale and its note",
        "Six tenths for the scale, four for the notes that differ from the key.",
        1.0,
        1.0,
        "A mixolydian b13: C#",
        ("scale",),
    ),
    _rule(
        "scale-same-notes",
        "The same notes, another name",
        "Named from another root or as a mode of another scale.",
        1.0,
        1.0,
        "C major for D dorian",
        ("scale",),
    ),
    _rule(
        "scale-also",
        "Another scale used here",
        "A second scale that players use in that place is as right.",
        1.0,
        1.0,
        "locrian natural 9 for locrian",
        ("scale",),
    ),
    _rule(
        "scale-one-note-off",
        "One note off",
        "All notes but one are the scale's.",
        0.5,
        0.5,
        "ionian for lydian",
        ("scale",),
    ),
    _rule(
        "scale-fits-chord",
        "Fits the chord, not the place",
        "It has the notes of the chord, but not those of the key around it.",
        0.25,
        0.25,
        "whole tone for mixolydian",
        ("scale",),
    ),
    _rule(
        "scale-name-only",
        "Right scale, notes not right",
        "The scale is right; which notes differ from the key is not.",
        0.6,
        0.6,
        "A mixolydian b13 alone",
        ("scale",),
    ),
    _rule(
        "scale-notes-only",
        "Notes without the scale",
        "The notes that differ are named; the scale is not.",
        0.0,
        0.0,
        "C# for A mixolydian b13",
        ("scale",),
    ),
)

_SOLO_NOTES = ("solo-notes",)
_SOLO_RULES: tuple[MarkingRule, ...] = (
    _rule(
        "solo-exact",
        "Degree and role",
        "What the note is over its chord, and what it does there.",
        1.0,
        1.0,
        "b9, approach",
        _SOLO_NOTES,
    ),
    _rule(
        "solo-also",
        "Another way to hear it",
        "The degree is right; what it does is a second reading that was accepted.",
        1.0,
        1.0,
        "b9, enclosure, where both neighbours are played",
        _SOLO_NOTES,
    ),
    _rule(
        "solo-near",
        "Degree right, role near",
        "The degree is right; what it does is a neighbour of what was asked.",
        0.8,
        0.8,
        "approach for enclosure",
        _SOLO_NOTES,
    ),
    _rule(
        "solo-degree",
        "Degree alone",
        "The degree is right; what the note does is missing or another.",
        0.6,
        0.6,
        "b9 for b9, approach",
        _SOLO_NOTES,
    ),
    _rule(
        "solo-role",
        "Role alone",
        "What the note does is right; the degree is missing or another.",
        0.3,
        0.3,
        "approach for b9, approach",
        _SOLO_NOTES,
    ),
)

_CHANGES_EXAMPLES: dict[str, str] = {
    "same": "G13 for G7",
    "same-bass-differs": "C for C/E",
    "plain-triad": "G for G7",
    "same-notes": "Am7 for C6",
    "suspension": "G7sus4 for G7",
    "tritone-substitute": "Db7 for G7",
    "rootless-dominant": "Bdim7 for G7",
    "upper-part": "Bm7b5 for G9",
    "two-for-five": "Dm7 for G7",
    "third-apart": "Am7 for Cmaj7",
    "backdoor": "Bb7 for G7 in C",
    "other-quality": "Gm7 for G7",
    "bass-only": "G for G7",
    "chord-tone-bass": "B for G7",
    "same-role": "Em7 for Am7 in C",
    "fits-key": "Fmaj7 for Cmaj7",
    "contradicts": "F#m7 for Cmaj7",
}
_CHANGES_RULES: tuple[MarkingRule, ...] = tuple(
    _rule(
        f"changes-{row.id}",
        row.name,
        row.sentence,
        row.credit,
        row.credit,
        _CHANGES_EXAMPLES[row.id],
        ("changes", "by-heart"),
    )
    for row in RELATIONS.values()
)

MARKING_RULES: dict[str, MarkingRule] = {
    rule.id: rule
    for rule in (
        *_FUNCTION_RULES,
        *_FORM_RULES,
        *_AREA_RULES,
        *_NOTE_RULES,
        *_SCALE_RULES,
        *_SOLO_RULES,
        *_CHANGES_RULES,
        *_COMMON,
    )
}
"""Identifier → rule, in the order an instructor reads them."""

ALTERNATIVE_POINTS: dict[str, float] = {"full": 1.0, "part": 0.75, "none": 0.0}
OPEN_ALTERNATIVE = 0.6
"""Share kept by an accepted alternative whose quality was asked and left open."""


def points_for(rule_id: str, quality_asked: bool) -> float:
    """Points of a rule, 0..1, for numerals only or with quality."""
    rule = MARKING_RULES[rule_id]
    return rule.strict_points if quality_asked else rule.points
