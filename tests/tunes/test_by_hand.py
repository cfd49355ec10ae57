"""What follows from a reading that a person sets: where the chord then goes, and what is said about it."""

from __future__ import annotations

import pytest

from tests import factories
from tunes.harmony.answers.reader import read_answer
from tunes.harmony.explain.sentences import told
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.rule_ids import RuleId
from tunes.heard import function_of
from tunes.models import ChartRevision
from tunes.services import overrules
from tunes.study import study_chart

pytestmark = pytest.mark.django_db
C = "key: C major\n\nA:\n"


# Where a chord goes that does what its label says: Nettles & Graf (1997) for dominants and related twos.
@pytest.mark.parametrize(
    ("bars", "event", "label", "resolution", "target", "landing"),
    [
        ("| C6 | F#dim7 | G7 | C6 |", 1, "7 of 5", "direct", 2, 2),
        ("| C6 | F#dim7 | C6 | G7 |", 1, "7 of 5", "deceptive", 2, 1),
        ("| C6 | F#dim7 | C6/G | G7 |", 1, "7 of 5", "direct", 2, 1),  # 5 in the bass
        ("| Cmaj7 | A7 | Dm7 | G7 |", 1, "5 of 2", "direct", 2, 3),
        ("| Cmaj7 | A7 | A7 | Dm7 | G7 |", 1, "5 of 2", "direct", 3, 3),  # the same chord held
        ("| Em7 | A7 | Dm7 | G7 | Cmaj7 |", 0, "2 of 2", "direct", 1, 4),
        ("| Am7 | Dm7 | G7 | Cmaj7 |", 0, "1", "none", None, 0),
    ],
)
def test_a_chord_goes_where_its_label_says(
    bars: str, event: int, label: str, resolution: str, target: int | None, landing: int | None
) -> None:
    revision, person = factories.make_version(text=C + bars), factories.make_user("Ines")
    before = study_chart(revision).reading(event)
    key = Key.parse("A minor") if label == "1" else Key.parse("C")
    answer = read_answer(label, key).answer
    assert answer is not None
    overrules.overrule(
        revision=revision, event=event, key=key, function=function_of(answer, before), why="so", by=person
    )
    study = study_chart(ChartRevision.objects.get())
    found = study.reading(event)
    if found.function != before.function:
        assert (found.resolution, found.resolves_to) == (resolution, target)
    assert study.analysis.landing[event] == landing
    assert (found.rule, told(found.reason)) == (RuleId.BY_HAND, "Ines hears it so: so")
