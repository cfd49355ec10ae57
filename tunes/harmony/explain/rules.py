"""The rules that reasons name: each with an id, a name, a sentence and a source.

In a sentence, ``{chord}`` is the chord as players say it, ``{target}`` its goal, ``{key}`` the local key and
``{next}`` the chord that follows, all by function; ``{aim}`` is the degree it promises, ``{parallel}`` the other mode,
``{witnesses}`` what speaks for a key; ``{itself}`` and ``{again}`` name a goal by what it does in its turn, ``{between}``
what stands before it.
"""

from __future__ import annotations

from dataclasses import dataclass

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

    id: str
    name: str
    sentence: str
    source: str


_ROWS = (
    Rule("rest", "At rest", "{chord} is home: {key} rests here.", _STEEDMAN),
    Rule("heard-as-one", "Heard as 1 of another key", "{chord} of {key} can be heard here.", _COMMON),
    Rule("local-rest", "A new key at rest", "{chord} is at rest: a dominant has led here, and {key} is home for now.", _ROHRMEIER),
    Rule("landed", "Landed", "A dominant has just led here: the run lands on {chord}.", _STEEDMAN),
    Rule("blues-rest", "Blues seventh at home", "{chord} is home with a flat 7: in the blues it asks for no resolution.", _BERKLEE + ", ch. 6"),
    Rule("seventh-rest", "Seventh at home", "{chord} is home; its flat 7 is colour and asks for no resolution.", _BERKLEE + ", ch. 6"),
    Rule("blues-four", "Blues 4", "{chord} is the 4 of the blues: its flat 7 is colour and asks for no resolution.", _BERKLEE + ", ch. 6"),
    Rule("blues-colour", "Flat 7 for colour", "{chord} has a flat 7 for colour: it asks for no resolution.", _BERKLEE + ", ch. 6"),
    Rule("dominant", "Dominant to tonic", "{chord} falls a fifth to {target}{itself}{between}.", _STEEDMAN),
    Rule("applied", "Secondary dominant", "{chord} falls a fifth to {target}{itself}{between}.", _PEASE),
    Rule("put-off", "Another chord in place of the tonic", "{chord} promises {target}, but {next} comes in its place; {target} comes later{again}.", _NETTLES),
    Rule("taken-up", "Taken up again", "{chord} goes on to {next} first and is taken up again before {target}.", _ROHRMEIER),
    Rule("suspended", "Suspended, then settled", "{chord} is suspended: its fourth settles into the third of the same chord first.", _NETTLES),
    Rule("chain", "Chain of dominants", "{chord} falls a fifth to {target}{itself}{between}: the chain runs on.", _BERKLEE + ", p. 38"),
    Rule("tritone", "Tritone substitute", "{chord} stands for the dominant a tritone away and falls a semitone to {target}{itself}{between}.", _PEASE),
    Rule("backdoor", "Backdoor dominant", "{chord} comes to {target} from a tone below, with the sound of minor 4.", _COMMON),
    Rule("subtonic", "Flat 7 of minor", "{chord} of natural minor rises a tone to {target}.", _COMMON),
    Rule("exchanged", "Substitute exchanged for 5", "{chord} gives way to 5, the dominant that it stands for.", _COMMON),
    Rule("to-flat-seven", "4 to flat 7", "{chord} goes on to flat 7{itself}: both have the sound of 4.", _COMMON),
    Rule("backdoor-three", "By the back door to 3", "{chord} goes to 3, which takes the place of 1: home by the back door.", _COMMON),
    Rule("backdoor-left", "By the back door to 3 and on", "{chord} opens the back door, but 3 comes and sets out again.", _COMMON),
    Rule("backdoor-open", "The back door left open", "{chord} leaves the back door open and goes on to {next}; {target} comes later.", _COMMON),
    Rule("to-substitute", "On to a substitute", "{chord} goes on to flat 7{itself}.", _COMMON),
    Rule("supertonic", "ii before V", "{chord} prepares the dominant a fifth below it, {target}{between}.", _STEEDMAN),
    Rule("related-ii", "Related ii", "{chord} goes with the dominant {ahead}: together they are the 2 and 5 of {aim}.", _PEASE),
    Rule("substitute-ii", "ii of a substitute", "{chord} belongs to the substitute dominant after it, {target}, as its 2.", _PEASE),
    Rule("chromatic-ii", "ii before a substitute", "{chord} prepares {target}, the tritone substitute a semitone below{between}.", _PEASE),
    Rule("chromatic-approach", "Minor a semitone above", "{chord} slides down a semitone into {target}; it is nobody's 2.", _COMMON),
    Rule("backdoor-four", "Minor 4 by the back door", "{chord} is borrowed from minor and prepares flat 7, the dominant of the back door.", _COMMON),
    Rule("leading", "Leading diminished", "{chord} lies a semitone below {target}: 5 of {target} with a flat 9, without its root.", "logical identity; " + _PEASE),
    Rule("leading-turned", "Leading diminished, turned", "{chord} has the notes of 5 of {target} with a flat 9, without its root and over another of them.", "logical identity; " + _PEASE),
    Rule("leading-delayed", "Leading diminished, delayed", "{chord} has the sound of 5 of {target} with a flat 9 and leads to {target}{between}.", "logical identity; " + _PEASE),
    Rule("passing-up", "Rising passing diminished", "{chord} fills the whole step up to {target}, and leads there like its 5 with a flat 9.", _PEASE),
    Rule("passing-down", "Falling passing diminished", "{chord} slides down a semitone to {aim}; it is no dominant.", _COMMON),
    Rule("auxiliary", "Auxiliary diminished", "{chord} decorates {aim} on the same root; it is no dominant.", _COMMON),
    Rule("common-tone", "Common-tone diminished", "{chord} keeps notes in common with {target} and needs no resolution.", _COMMON),
    Rule("passing-bass", "Passing from 4 to 5 in the bass", "{chord} carries the bass from 4 up to 5, with the sound of 5 of 5 with a flat 9.", "logical identity; " + _PEASE),
    Rule("augmented", "Augmented dominant", "{chord} stands for a dominant with a raised fifth and leads to {target}.", _BERKLEE + ", p. 38"),
    Rule("plagal", "Plagal", "{chord} falls back to {target} without a dominant{between}.", _STEEDMAN),
    Rule("minor-plagal", "Minor plagal", "{chord} is the minor 4, borrowed from minor, and falls back to {target}.", _BERKLEE + ", ch. 5"),
    Rule("predominant", "Before the dominant", "{chord} prepares {target}, the dominant ahead{between}.", _ROHRMEIER),
    Rule("fifths", "Falling fifths", "{chord} moves down a fifth to {target} in the circle of the key.", _COMMON),
    Rule("tonic-family", "In place of the tonic", "{chord} shares its sound with 1 and takes its place for a while.", _NETTLES),
    Rule("passing-step", "Stepping through", "{chord} is passed through by step, between two chords at rest.", _STEEDMAN),
    Rule("slide", "Sliding down to 2", "{chord} starts the slide 3, flat 3, 2, down to the chord before the dominant.", _COMMON),
    Rule("neighbour", "Neighbour of the tonic", "{chord} stands between two tonics and only decorates them.", _ROHRMEIER),
    Rule("turns-minor", "Major turns minor", "{chord} turns into {next}.", _COMMON),
    Rule("to-three", "Minor 4 to 3", "{chord} is borrowed from minor and falls to 3, which takes the place of 1.", _COMMON),
    Rule("three-onward", "Minor 4 to 3 and on", "{chord} is borrowed from minor and falls to 3, which sets out again.", _COMMON),
    Rule("in-place", "In the place of 1 after 5", "{chord} takes the place of 1 after 5.", _NETTLES),
    Rule("left-two", "2 of 4 without its 5", "{chord} is the 2 of 4 with the 5 left out: it goes straight to 4.", _COMMON),
    Rule("leaning", "Leaning on 1", "{chord}, from the Phrygian mode, leans on 1 from a semitone above.", _NETTLES),
    Rule("steps-down", "Stepping down", "{chord} steps down to {next}.", _COMMON),
    Rule("climbing", "Climbing in the bass", "{chord} climbs to {next} in the bass.", _PEASE),
    Rule("climbing-on", "Climbing from 4", "{chord} climbs from 4 in the bass and keeps notes in common with {target}; it needs no resolution.", _COMMON),
    Rule("circle", "In the circle of the key", "{chord} moves down a fifth to {next} in the circle of the key.", _COMMON),
    Rule("narrow-fifth", "The narrow step of the circle", "{chord} moves on to {next} in the circle of the key, by the diminished fifth.", _COMMON),
    Rule("interchange", "Modal interchange", "{chord} is borrowed from {parallel}.", _BERKLEE + ", ch. 5"),
    Rule("diatonic", "Chord of the key", "{chord} belongs to {key} and moves on to {next}.", _NETTLES),
    Rule("deceptive", "Deceptive dominant", "{chord} promises {aim}, but {next} comes in its place.", _NETTLES),
    Rule("unresolved", "Unresolved dominant", "{chord} would lead to {aim}, which does not come next.", _BERKLEE + ", appendix"),
    Rule("goal-exchanged", "Goal exchanged for its substitute", "{chord} would lead to {aim}; the dominant a tritone from it comes in its place.", _PEASE),
    Rule("chromatic", "Chromatic colour", "{chord} comes from outside {key} and moves on to {next}.", _COMMON),
    Rule("approach", "Chromatic approach", "{chord} is the same kind of chord a semitone from its goal, {target}{itself}.", _COMMON),
    Rule("over-five", "Tonic over 5", "{chord} stands over 5 in the bass: it is not at rest on its root.", _COMMON),
    Rule("moving-bass", "Over a moving bass", "{chord} is held while the bass moves on from its root.", _COMMON),
    Rule("line-cliche", "Line cliché", "{chord} is the same chord held while an inner voice moves by semitones.", _COMMON),
    Rule("vamp", "Vamp", "{chord} belongs to a pair of chords that goes round without a cadence.", _COMMON),
    Rule("third-cycle", "Major-third cycle", "{chord} belongs to a cycle of keys a major third apart.", _COMMON),
    Rule("bass-line", "Over a bass that moves by step", "{chord} carries a bass that {aim}.", _COMMON),
    Rule("pedal", "Pedal", "{chord} is heard over a bass that stays on {aim}.", _KOSTKA),
    Rule("held-five", "Held 5", "{chord} is held: the bass stays on 5, and the chords over it are its colours.", _KOSTKA),
    Rule("mode", "Modal passage", "{chord} shows the mode of the passage, {aim}.", _MILLER),
    Rule("silence", "No chord", "No chord sounds here.", "MusicXML 4.0, kind none"),
    Rule("area-home", "Home key", "{witnesses} for {key}.", "after Temperley (2001) and Choi, CMJ 35/2 (2011)"),
    Rule("typed-otherwise", "Another key is typed", "The key that is typed is {key}; the chords speak against it.", _COMMON),
    Rule("area-cadence", "Key set up by a cadence", "A cadence leads to {key} and the chords stay with it.", "Choi, CMJ 35/2 (2011)"),
    Rule("area-stays", "Key of a section", "The music stays on 1 of {key} for a section.", _MILLER),
    Rule("area-touched", "Key touched by a cadence", "A cadence touches {key}.", "Choi, CMJ 35/2 (2011)"),
    Rule("area-return", "Back home", "Back in {key}.", "Choi, CMJ 35/2 (2011)"),
    Rule("area-held", "Key set by hand", "{key} was set here by a person.", "the person's own reading"),
)  # fmt: skip
RULES: dict[str, Rule] = {rule.id: rule for rule in _ROWS}
