"""Changes by ear."""

from __future__ import annotations

from drills.comparers.changes import echo_changes, mark_changes
from drills.question_kind import AnsweredBy, Keypad, MarkingRule, Needs, Parts, QuestionKind, RuleTable
from drills.questions.changes import build_changes
from tunes.harmony.comparison.substitutions import RELATIONS

_EXAMPLES: dict[str, str] = {
    "same": "G13 for G7",
    "same-bass-differs": "C for C/E",
    "plain-triad": "G for G7",
    "same-notes": "Am7 for C6",
    "suspended-slash": "G7sus4 for Dm7/G",
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
_RULES = tuple(
    MarkingRule(f"changes-{row.id}", row.name, row.sentence, row.credit, row.credit, _EXAMPLES[row.id])
    for row in RELATIONS.values()
)

QUESTION_KIND = QuestionKind(
    id="changes",
    place=30,
    name="Changes by ear",
    short="By ear",
    asks="Take down what sounds in every bar, from the recording, with the chart closed.",
    examples=("Dm7 G7", "C / / F7", "N.C."),
    keypad=Keypad.CHANGES,
    notes=None,
    needs=Needs.RECORDING,
    parts=Parts(label="Take down", whole="The chords of every bar", alone={"bass": "The bass notes alone"}),
    answered_by=AnsweredBy.CHORDS,
    hides_chart=True,
    tells_chords=True,
    key_in_words=None,
    minutes=10,
    alone=None,  # its recording has to sound beside it, its charts would have to be closed
    table=RuleTable(9, "Changes by ear", _RULES),
    names_keys=False,
    upgrade=None,
    build=build_changes,
    mark=mark_changes,
    echo=echo_changes,
)
