"""An overrule holds for every time a bar sounds, unless it is set for this time only.

A folded repeat sounds each of its bars in each pass; a section written out again has the same letter (common practice, no
source).
"""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from tests import factories
from tunes.harmony.analysis.pipeline import Function
from tunes.harmony.pitch.spelling import Key
from tunes.models import AreaOverride, LabelOverride
from tunes.same_place import every_run, every_time
from tunes.services import overrules
from tunes.services.charts import save_revision
from tunes.study import study_chart

pytestmark = pytest.mark.django_db
FOLDED = (
    "key: F major\n\nA:\n|: Gm7 | C7 | Fmaj7 | Fmaj7 :|\nB:\n| Bbmaj7 | Eb7 | Am7 | D7 |\nA:\n| Gm7 | C7 | Fmaj7 | D7 |"
)
SPELLED = "key: F major\n\nA:\n| Gm7 | C7 | Fmaj7 | D7 |\nB:\n| Gm7 | C7 | Fmaj7 | D7 |"
FUNCTION = Function("2", "m7", "predominant", "diatonic")


@pytest.mark.parametrize(
    ("text", "event", "times"),
    [
        (FOLDED, 0, (0, 4, 12)),  # both passes, and the section written out again
        (FOLDED, 12, (0, 4, 12)),  # from whichever time it is looked at
        (FOLDED, 15, (15,)),  # the last bar of the last section leads elsewhere: another chord
        (FOLDED, 8, (8,)),
        (SPELLED, 0, (0,)),  # another letter is another place, though the chords are the same
    ],
)
def test_which_times_a_place_sounds(text: str, event: int, times: tuple[int, ...]) -> None:
    study = study_chart(factories.make_version(text=text))
    assert every_time(study.chart, study.computed, event) == times


def test_a_run_is_found_where_all_of_it_sounds() -> None:
    study = study_chart(factories.make_version(text=FOLDED))
    assert every_run(study.chart, study.computed, 0, 2) == ((0, 2), (4, 6), (12, 14))
    assert every_run(study.chart, study.computed, 2, 3) == ((2, 3), (6, 7))  # the last time bar 4 is another chord


@pytest.mark.parametrize(("every", "events"), [(True, [0, 4, 12]), (False, [0])])
def test_an_overrule_holds_every_time_or_once_and_goes_with_one_press(every: bool, events: list[int]) -> None:
    revision, person = factories.make_version(text=FOLDED), factories.make_user()
    row = overrules.overrule(
        revision=revision, event=0, key=Key.parse("F"), function=FUNCTION, why="", by=person, every_time=every
    )
    standing = LabelOverride.objects.filter(withdrawn=None)
    assert sorted(standing.values_list("event", flat=True)) == events
    overrules.withdraw_overrule(row=row, by=person)
    assert not standing.exists()
    row.refresh_from_db()
    overrules.restore_overrule(row=row, by=person)
    assert sorted(standing.values_list("event", flat=True)) == events
    newer = save_revision(version=revision.version, text=FOLDED.replace("Am7", "Ab7"), by=None)
    overrules.withdraw_overrule(row=newer.label_overrides.first(), by=person)
    assert not newer.label_overrides.filter(withdrawn=None).exists()
    assert sorted(standing.values_list("event", flat=True)) == events  # the older revision keeps its own


def test_one_time_set_apart_later_keeps_the_others() -> None:
    revision, person = factories.make_version(text=FOLDED), factories.make_user()
    everywhere = overrules.overrule(
        revision=revision, event=0, key=Key.parse("F"), function=FUNCTION, why="all", by=person
    )
    overrules.overrule(
        revision=revision, event=4, key=Key.parse("C"), function=FUNCTION, why="once", by=person, every_time=False
    )
    overrules.withdraw_overrule(row=everywhere, by=person)
    assert [(row.event, row.why) for row in LabelOverride.objects.filter(withdrawn=None)] == [(4, "once")]


@pytest.mark.parametrize(("data", "labels", "areas"), [({}, 3, 3), ({"holds": "once"}, 1, 1)])
def test_the_panel_asks_and_says_which_bars(data: dict[str, str], labels: int, areas: int) -> None:
    ensemble = factories.make_ensemble()
    revision, client = factories.make_version(text=FOLDED), Client()
    client.force_login(factories.make_instructor(ensemble))
    panel = client.get(reverse("tunes:event", args=[revision.pk, 4])).content.decode()
    assert "Every time: bars 1, 5 and 13" in panel
    assert "bar 5 (written 1)" in panel
    body = {"key": "F major", "reading": "2", "why": "so"} | data
    said = client.post(
        reverse("tunes:overrule", args=[revision.pk, 4]), body, headers={"HX-Request": "true"}
    ).content.decode()
    assert ("Overruled in bars 1, 5 and 13." if labels == 3 else "Overruled in bar 5.") in said
    assert LabelOverride.objects.count() == labels
    body = {"key": "C major", "first": 4, "last": 5, "why": ""} | data
    client.post(reverse("tunes:overrule_area", args=[revision.pk, 4]), body, headers={"HX-Request": "true"})
    assert AreaOverride.objects.count() == areas
