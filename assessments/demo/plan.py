"""What the demo programme has assigned, and how far everybody is. All of it is invented.

Days count from today; negative ones are past. `skill` is the share of chords a player names right.
"""

from __future__ import annotations

from dataclasses import dataclass, field

ALL_KINDS = ("listening", "form", "function", "key-areas", "hand-in", "sign-off")


@dataclass(frozen=True)
class Plan:
    """One assignment. `done` is the share of its players who are through with it; `signed` of those signed off."""

    ensemble: str
    tune: str
    assigned: int
    due: int
    instructions: str
    done: float = 0.0
    signed: float = 0.0
    kinds: tuple[str, ...] = ALL_KINDS
    last_term: bool = False
    begun: bool = False  # some are in the middle of it
    fields: dict[str, object] = field(default_factory=dict)


PLANS = (
    Plan(
        "first",
        "Counting the Stairs",
        -150,
        -120,
        "Sing every bass note of a diminished chord before you name it.",
        done=1.0,
        signed=1.0,
        last_term=True,
    ),
    Plan(
        "first",
        "Cobalt Street",
        -44,
        -22,
        "Start from the bass. Say the numbers aloud, one chorus without a mistake, before you write anything.",
        done=1.0,
        signed=0.75,
        kinds=("listening", "form", "changes", "function", "key-areas", "hand-in", "sign-off"),
        fields={"strictness": "numerals", "attempts_allowed": 3},
    ),
    Plan(
        "first",
        "Paper Lantern Weather",
        -16,
        -2,
        "The bridge is the work. For each bar of it say where the run is heading, then where it lands.\n\n"
        "The melody by ear: from the reference recording, not from the page.",
        done=0.6,
        signed=0.0,
        begun=True,
        fields={"key_prefix": True},
    ),
    Plan(
        "first",
        "Winter Ferry",
        -2,
        8,
        "Two choruses of listening for every chorus of writing.",
        begun=True,
        kinds=("listening", "form", "function", "sign-off"),
        fields={"release": "due"},
    ),
    Plan(
        "second",
        "Low Tide Ledger",
        -40,
        -12,
        "Minor blues: say which chords the major one would have had instead.",
        done=1.0,
        signed=1.0,
        fields={"strictness": "numerals"},
    ),
    Plan(
        "second",
        "Three Rivers Meet",
        -13,
        -3,
        "Three keys a major third apart. Name each key as you enter it.",
        done=0.5,
        begun=True,
        fields={"release": "by-hand", "key_prefix": True},
    ),
    Plan("second", "The Glassblower's Letter", -1, 13, "", kinds=("listening", "function", "key-areas", "sign-off")),
    Plan("combo", "Side Street Almanac", -9, 5, "First the plain version, then this one.", done=0.34, begun=True),
    Plan(
        "combo",
        "Low Tide Ledger",
        -6,
        3,
        "From the recording, one bar at a time: the bass first, then what stands on it. "
        "The charts open when you hand in.",
        done=0.34,
        begun=True,
        kinds=("changes", "listening", "function", "sign-off"),
    ),
    Plan(
        "combo",
        "Two Doors North",
        -3,
        11,
        "Sing the tonic through the whole form.",
        kinds=("listening", "form", "by-heart", "hand-in", "sign-off"),
    ),
)

# The year's repertoire, in its order: tune and the day, counted from today, that it should be known by (None: no day yet).
YEAR: dict[str, tuple[tuple[tuple[str, int | None], ...], tuple[tuple[str, int | None], ...]]] = {
    # ensemble: (this term, next term)
    "first": (
        (
            ("Cobalt Street", -22),
            ("Paper Lantern Weather", 6),
            ("Winter Ferry", 16),
            ("Rehearsal Letter J", 40),
            ("Salt on the Awning", 58),
        ),
        (("The Long Parade", 112), ("Three Rivers Meet", 140), ("Side Street Almanac", None)),
    ),
    "second": (
        (("Low Tide Ledger", -12), ("Three Rivers Meet", -3), ("The Glassblower's Letter", 21), ("Cobalt Street", 48)),
        (("Paper Lantern Weather", 119), ("Two Doors North", None)),
    ),
    "combo": (
        (("Low Tide Ledger", 10), ("Side Street Almanac", 12), ("Two Doors North", 25), ("Cobalt Street", None)),
        (("Winter Ferry", 126), ("Salt on the Awning", None)),
    ),
}

BAR_COMMENTS = (
    "Listen to the bass once more here: which chord is it walking towards?",
    "Right number. Now say where it is heading before you look at the next bar.",
    "You heard the colour. The dominant behind it is the same one as two bars earlier.",
    "Sing the third of this chord, then the third of the next one: half a step tells you.",
)
WHOLE_COMMENTS = (
    "Solid. Next time without the chart in front of you.",
    "The A sections are yours. Play the bridge slowly in the left hand of a piano and answer it again.",
    "Good ears. Write the spoken form too, it is faster on the stand.",
)
SOUND_COMMENTS = (
    (1.2, "Lovely start. The pick-up drags a little."),
    (0.4, "Check this interval against the reference: you play a fourth."),
)
HEARD = (
    "The bass lays back in the bridge; the tune never does.",
    "Second chorus: the piano leaves out every root.",
    "They play the turnaround differently each time.",
    "",
    "The drummer marks the end of each eight bars with one stroke.",
)
NOTES = (
    "Taken in one go, with the recording in one ear.",
    "The bridge is still slow. I wanted you to hear it as it is.",
    "",
)
SIGNED_FOR = "Two choruses from memory, changes named aloud, at a medium tempo"
OVERRIDE_REASON = "Defensible here: the recording does sit on that chord for two bars"
# (ensemble, text, to how many of its players; 0: to all)
LETTERS = (
    ("combo", "Thursday we begin with the bridge of Side Street Almanac.\n\nSing the bass before you come, please.", 0),
    ("first", "Could you two bring mutes for Winter Ferry?", 2),
)
# (ensemble, days from now, where, (tune, key of the day, tempo, remark))
SET = (
    "first",
    21,
    "Foyer of the conservatory",
    (
        ("Cobalt Street", "", 184, "trumpet begins"),
        ("Counting the Stairs", "F major", 120, ""),
        ("Paper Lantern Weather", "", None, "brushes"),
    ),
)
