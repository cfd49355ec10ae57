"""The rules that reasons name: each with an id, a name, a sentence and a source.

In a sentence, ``{chord}`` is the chord as players say it, ``{target}`` its goal, ``{key}`` the local key and
``{next}`` the chord that follows, all by function; ``{aim}`` is the degree it promises, ``{parallel}`` the other mode,
``{witnesses}`` what speaks for a key; ``{itself}`` and ``{again}`` name a goal by what it does in its turn, ``{between}``
what stands before it; `explain.sentences` fills them in. A sentence that begins with a comma or a semicolon goes on with the one
before it.
"""

from __future__ import annotations

from dataclasses import dataclass

from tunes.harmony.readings.rule_ids import RuleId

_BERKLEE = "Mulholland & Hojnacki, The Berklee Book of Jazz Harmony (2013)"
_NETTLES = "Nettles & Graf, The Chord Scale Theory and Jazz Harmony (1997)"
_PEASE = "Pease, Jazz Composition (2003), p. 53"
_STEEDMAN = "Granroth-Wilding & Steedman, JNMR 43 (2014)"
_ROHRMEIER = "Rohrmeier, The Syntax of Jazz Harmony, Music Theory and Analysis 7 (2020)"
_KOSTKA = "Kostka & Payne, Tonal Harmony (pedal point)"
_MILLER = "Miller, Modal Jazz Composition & Harmony (1996)"
_COMMON = "common practice, no single source"


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule of the analysis and where it is from."""

    id: RuleId
    name: str
    sentence: str
    source: str


_ROWS = (
    Rule(RuleId.REST, "At rest", "{chord} is home: {key} rests here.", _STEEDMAN),
    Rule(RuleId.HEARD_AS_ONE, "Heard as 1 of another key", "{chord} of {key} can be heard here.", _COMMON),
    Rule(RuleId.LOCAL_REST, "A new key at rest", "{chord} is at rest: a dominant has led here, and {key} is home for now.", _ROHRMEIER),
    Rule(RuleId.LANDED, "Landed", "A dominant has just led here: the run lands on {chord}.", _STEEDMAN),
    Rule(RuleId.LANDED_FOUR, "Landed on a subdominant", "A dominant has just led here: the run lands on {chord}, a subdominant in {key}.", _STEEDMAN + "; function of the degree: " + _NETTLES),
    Rule(RuleId.BLUES_REST, "Blues seventh at home", "{chord} is home with a flat 7: in the blues it asks for no resolution.", _BERKLEE + ", ch. 6"),
    Rule(RuleId.SEVENTH_REST, "Seventh at home", "{chord} is home; its flat 7 is colour and asks for no resolution.", _BERKLEE + ", ch. 6"),
    Rule(RuleId.BLUES_FOUR, "Blues 4", "{chord} is the 4 of the blues: its flat 7 is colour and asks for no resolution.", _BERKLEE + ", ch. 6"),
    Rule(RuleId.BLUES_COLOUR, "Flat 7 for colour", "{chord} has a flat 7 for colour: it asks for no resolution.", _BERKLEE + ", ch. 6"),
    Rule(RuleId.DOMINANT, "Dominant to tonic", "{chord} falls a fifth to {target}{itself}{between}.", _STEEDMAN),
    Rule(RuleId.APPLIED, "Secondary dominant", "{chord} falls a fifth to {target}{itself}{between}.", _PEASE),
    Rule(RuleId.PUT_OFF, "Another chord in place of the tonic", "{chord} promises {target}, but {next} comes in its place; {target} comes later{again}.", _NETTLES),
    Rule(RuleId.TAKEN_UP, "Taken up again", "{chord} goes on to {next} first and is taken up again before {target}.", _ROHRMEIER),
    Rule(RuleId.SUSPENDED, "Suspended, then settled", "{chord} is suspended: its fourth settles into the third of the same chord first.", _NETTLES),
    Rule(RuleId.SUSPENDED_HOME, "Suspended, at home", "{chord} is home, suspended, and promises nothing.", _MILLER),
    Rule(RuleId.SUSPENDED_COLOUR, "Suspended for colour", "{chord} is suspended for its colour and promises nothing.", _MILLER),
    Rule(RuleId.CHAIN, "Chain of dominants", "{chord} falls a fifth to {target}{itself}{between}: the chain runs on.", _BERKLEE + ", p. 38"),
    Rule(RuleId.TRITONE, "Tritone substitute", "{chord} stands for the dominant a tritone away and falls a semitone to {target}{itself}{between}.", _PEASE),
    Rule(RuleId.BACKDOOR, "Backdoor dominant", "{chord} comes to {target} from a tone below, with the sound of minor 4.", _COMMON),
    Rule(RuleId.SUBTONIC, "Flat 7 of minor", "{chord} of natural minor rises a tone to {target}.", _COMMON),
    Rule(RuleId.EXCHANGED, "Substitute exchanged for 5", "{chord} gives way to 5, the dominant that it stands for.", _COMMON),
    Rule(RuleId.TO_FLAT_SEVEN, "4 to flat 7", "{chord} goes on to flat 7{itself}: both have the sound of 4.", _COMMON),
    Rule(RuleId.BACKDOOR_THREE, "By the back door to 3", "{chord} goes to 3, which takes the place of 1: home by the back door.", _COMMON),
    Rule(RuleId.BACKDOOR_LEFT, "By the back door to 3 and on", "{chord} opens the back door, but 3 comes and sets out again.", _COMMON),
    Rule(RuleId.BACKDOOR_OPEN, "The back door left open", "{chord} leaves the back door open and goes on to {next}; {target} comes later.", _COMMON),
    Rule(RuleId.TO_SUBSTITUTE, "On to a substitute", "{chord} goes on to flat 7{itself}.", _COMMON),
    Rule(RuleId.SUPERTONIC, "ii before V", "{chord} prepares the dominant a fifth below it, {target}{between}.", _STEEDMAN),
    Rule(RuleId.RELATED_II, "Related ii", "{chord} goes with the dominant {ahead}: together they are the 2 and 5 of {aim}.", _PEASE),
    Rule(RuleId.SUBSTITUTE_II, "ii of a substitute", "{chord} belongs to the substitute dominant after it, {target}, as its 2.", _PEASE),
    Rule(RuleId.CHROMATIC_II, "ii before a substitute", "{chord} prepares {target}, the tritone substitute a semitone below{between}.", _PEASE),
    Rule(RuleId.CHROMATIC_APPROACH, "Minor a semitone above", "{chord} slides down a semitone into {target}; it is nobody's 2.", _COMMON),
    Rule(RuleId.BACKDOOR_FOUR, "Minor 4 by the back door", "{chord} is borrowed from minor and prepares flat 7, the dominant of the back door.", _COMMON),
    Rule(RuleId.LEADING, "Leading diminished", "{chord} lies a semitone below {target}: 5 of {target} with a flat 9, without its root.", "logical identity; " + _PEASE),
    Rule(RuleId.LEADING_TURNED, "Leading diminished, turned", "{chord} has the notes of 5 of {target} with a flat 9, without its root and over another of them.", "logical identity; " + _PEASE),
    Rule(RuleId.LEADING_DELAYED, "Leading diminished, delayed", "{chord} has the sound of 5 of {target} with a flat 9 and leads to {target}{between}.", "logical identity; " + _PEASE),
    Rule(RuleId.PASSING_UP, "Rising passing diminished", "{chord} fills the whole step up to {target}, and leads there like its 5 with a flat 9.", _PEASE),
    Rule(RuleId.PASSING_DOWN, "Falling passing diminished", "{chord} slides down a semitone to {aim}; it is no dominant.", _COMMON),
    Rule(RuleId.AUXILIARY, "Auxiliary diminished", "{chord} decorates {aim} on the same root; it is no dominant.", _COMMON),
    Rule(RuleId.COMMON_TONE, "Common-tone diminished", "{chord} keeps notes in common with {target} and needs no resolution.", _COMMON),
    Rule(RuleId.PASSING_BASS, "Passing from 4 to 5 in the bass", "{chord} carries the bass from 4 up to 5, with the sound of 5 of 5 with a flat 9.", "logical identity; " + _PEASE),
    Rule(RuleId.AUGMENTED, "Augmented dominant", "{chord} stands for a dominant with a raised fifth and leads to {target}.", _BERKLEE + ", p. 38"),
    Rule(RuleId.RAISED_FIFTH, "Raised fifth", "{chord} leads its raised fifth up a semitone into {next}.", _BERKLEE + ", p. 38"),
    Rule(RuleId.PROLONGED, "Held through its diminished chord", "{chord} is held through {next} on the same root.", _COMMON),
    Rule(RuleId.PLAGAL, "Plagal", "{chord} falls back to {target} without a dominant{between}.", _STEEDMAN),
    Rule(RuleId.MINOR_PLAGAL, "Minor plagal", "{chord} is the minor 4, borrowed from minor, and falls back to {target}.", _BERKLEE + ", ch. 5"),
    Rule(RuleId.PREDOMINANT, "Before the dominant", "{chord} prepares {target}, the dominant ahead{between}.", _ROHRMEIER),
    Rule(RuleId.PREDOMINANT_BORROWED, "Borrowed, before the dominant", "{chord} is borrowed from {parallel} and prepares {target}, the dominant ahead{between}.", _BERKLEE + ", ch. 5"),
    Rule(RuleId.FIFTHS, "Falling fifths", "{chord} moves down a fifth to {target} in the circle of the key.", _COMMON),
    Rule(RuleId.FIFTHS_OUT, "A fifth down, out of the key", "{chord} moves down a fifth, out of {key}, to {next}.", _COMMON),
    Rule(RuleId.TONIC_FAMILY, "In place of the tonic", "{chord} shares its sound with 1 and takes its place for a while.", _NETTLES),
    Rule(RuleId.PASSING_STEP, "Stepping through", "{chord} is passed through by step, between 1 and 3.", _STEEDMAN),
    Rule(RuleId.SLIDE, "Sliding down to 2", "{chord} starts the slide 3, flat 3, 2, down to the chord before the dominant.", _COMMON),
    Rule(RuleId.NEIGHBOUR, "Neighbour of the tonic", "{chord} stands between two tonics and only decorates them.", _ROHRMEIER),
    Rule(RuleId.TURNS, "Turns on the same root", "{chord} stays on its root and turns into {next}.", _COMMON),
    Rule(RuleId.TURNS_MINOR, "Major turns minor", "{chord} turns into {next}.", _COMMON),
    Rule(RuleId.TO_THREE, "Minor 4 to 3", "{chord} is borrowed from minor and falls to 3, which takes the place of 1.", _COMMON),
    Rule(RuleId.THREE_ONWARD, "Minor 4 to 3 and on", "{chord} is borrowed from minor and falls to 3, which sets out again.", _COMMON),
    Rule(RuleId.IN_PLACE, "In the place of 1 after 5", "{chord} takes the place of 1 after 5.", _NETTLES),
    Rule(RuleId.LEFT_TWO, "2 of 4 without its 5", "{chord} is the 2 of 4 with the 5 left out: it goes straight to 4.", _COMMON),
    Rule(RuleId.LEFT_TWO_OF_TWO, "2 of 2 without its 5", "{chord} is the 2 of 2 with the 5 left out: it goes straight to 2.", _COMMON),
    Rule(RuleId.ROOTLESS, "5 of 4 without its root", "{chord} has the notes of 5 of 4 with its ninth, without the root, and leads to {next}.", "logical identity; " + _PEASE),
    Rule(RuleId.HALF_PLAGAL, "Minor plagal over 2", "{chord} has the notes of minor 4 with its sixth and falls back to {next}.", "logical identity; " + _BERKLEE + ", ch. 5"),
    Rule(RuleId.SIDE_SLIP, "Side-slip", "{chord} is the same sound moved by a semitone, and asks for nothing.", _COMMON),
    Rule(RuleId.TURNS_SEVENTH, "Major turns into a seventh", "{chord} turns into a dominant seventh on the same root.", _COMMON),
    Rule(RuleId.LEANING, "Leaning on 1", "{chord}, from the Phrygian mode, leans on 1 from a semitone above.", _NETTLES),
    Rule(RuleId.STEPS_DOWN, "Stepping down", "{chord} steps down to {next}.", _COMMON),
    Rule(RuleId.CLIMBING, "Climbing in the bass", "{chord} climbs to {next} in the bass.", _PEASE),
    Rule(RuleId.CLIMBING_ON, "Climbing from 4", "{chord} climbs from 4 in the bass and keeps notes in common with {target}; it needs no resolution.", _COMMON),
    Rule(RuleId.CIRCLE, "In the circle of the key", "{chord} moves down a fifth to {next} in the circle of the key.", _COMMON),
    Rule(RuleId.NARROW_FIFTH, "The narrow step of the circle", "{chord} moves on to {next} in the circle of the key, by the diminished fifth.", _COMMON),
    Rule(RuleId.INTERCHANGE, "Modal interchange", "{chord} is borrowed from {parallel}.", _BERKLEE + ", ch. 5"),
    Rule(RuleId.DIATONIC, "Chord of the key", "{chord} belongs to {key} and moves on to {next}.", _NETTLES),
    Rule(RuleId.DECEPTIVE, "Deceptive dominant", "{chord} promises {aim}, but {next} comes in its place.", _NETTLES),
    Rule(RuleId.UNRESOLVED, "Unresolved dominant", "{chord} would lead to {aim}, which does not come next.", _BERKLEE + ", appendix"),
    Rule(RuleId.GOAL_EXCHANGED, "Goal exchanged for its substitute", "{chord} would lead to {aim}; the dominant a tritone from it comes in its place.", _PEASE),
    Rule(RuleId.CHROMATIC, "Chromatic colour", "{chord} comes from outside {key} and moves on to {next}.", _COMMON),
    Rule(RuleId.TO_HEARD, "To a chord heard by hand", "{chord} goes on to what is heard here as {target}.", _COMMON),
    Rule(RuleId.ROOTLESS_SUBSTITUTE, "Rootless substitute", "{chord} has the notes of sub 5 of {target} with its 9 and without its root, and leads to {target}.", "logical identity; " + _PEASE),
    Rule(RuleId.APPROACH, "Chromatic approach", "{chord} is the same kind of chord a semitone from its goal, {target}{itself}.", _COMMON),
    Rule(RuleId.OVER_FIVE, "Tonic over 5", "{chord} stands over 5 in the bass: it is not at rest on its root.", _COMMON),
    Rule(RuleId.MOVING_BASS, "Over a moving bass", "{chord} is held while the bass moves on from its root.", _COMMON),
    Rule(RuleId.LINE_CLICHE, "Line cliché", "{chord} is the same chord held while an inner voice moves by step.", _COMMON),
    Rule(RuleId.VAMP, "Vamp", "{chord} belongs to a pair of chords that goes round without a cadence.", _COMMON),
    Rule(RuleId.THIRD_CYCLE, "Major-third cycle", "{chord} belongs to a cycle of keys a major third apart.", _COMMON),
    Rule(RuleId.BASS_LINE, "Over a bass that moves by step", "{chord} carries a bass that {line}.", _COMMON),
    Rule(RuleId.PEDAL, "Pedal", "{chord} is heard over a bass that stays on {pedal}.", _KOSTKA),
    Rule(RuleId.HELD_FIVE, "Held 5", "{chord} is held: the bass stays on 5, and the chords over it are its colours.", _KOSTKA),
    Rule(RuleId.MODE, "Modal passage", "{chord} shows the mode of the passage, {passage}.", _MILLER),
    Rule(RuleId.SILENCE, "No chord", "No chord sounds here.", "MusicXML 4.0, kind none"),
    Rule(RuleId.AREA_HOME, "Home key", "{witnesses} for {key}.", "after Temperley (2001) and Choi, CMJ 35/2 (2011)"),
    Rule(RuleId.TYPED_OTHERWISE, "Another key is typed", "The key that is typed is {key}; the chords speak against it.", _COMMON),
    Rule(RuleId.AREA_CADENCE, "Key set up by a cadence", "A cadence leads to {key} and the chords stay with it.", "Choi, CMJ 35/2 (2011)"),
    Rule(RuleId.AREA_STAYS, "Key of a section", "The music stays on 1 of {key} for a section.", _MILLER),
    Rule(RuleId.AREA_TURNS, "Key without a cadence", "The music turns to {key} without a cadence to its 1.", _COMMON),
    Rule(RuleId.AREA_TOUCHED, "Key touched by a cadence", "A cadence touches {key}.", "Choi, CMJ 35/2 (2011)"),
    Rule(RuleId.AREA_RETURN, "Back home", "Back in {key}.", "Choi, CMJ 35/2 (2011)"),
    Rule(RuleId.AREA_HELD, "Key set by hand", "{key} was set here by a person.", "the person's own reading"),
    Rule(RuleId.BASS_MEMBER, "Over another note in the bass", "; {member} is in the bass.", _COMMON),
    Rule(RuleId.IN_A_MODE, "In a modal passage", ", in {passages}.", _MILLER),
    Rule(RuleId.MODE_DEGREE, "With the degree of a mode", "; it has the {shows} of {passages}.", _MILLER),
    Rule(RuleId.ENDS_OTHERWISE, "Ends in the other mode", "It ends in {parallel}.", _COMMON),
    Rule(RuleId.HEARD_NEARLY, "Another key nearly as well", "{where} can be heard in {key} nearly as well.", _COMMON),
    Rule(RuleId.ALL_IN_MODE, "All in a mode", "All of it is in {passages}.", _MILLER),
    Rule(RuleId.MODES_IN, "Passages in a mode", "It has passages in {passages}.", _MILLER),
    Rule(RuleId.BY_HAND, "Heard so by a person", "{by} hears it so{why}", "the person's own reading"),
    Rule(RuleId.AREA_BY_HAND, "Set by hand", "Set by hand, or changed by what was.", "the person's own reading"),
)  # fmt: skip
RULES: dict[RuleId, Rule] = {rule.id: rule for rule in _ROWS}
