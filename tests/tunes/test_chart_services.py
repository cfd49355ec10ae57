"""Drafts, immutable revisions, overrules: what is written, what is refused, what is kept."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from tests import factories
from tunes import selectors
from tunes.harmony.analysis.pipeline import Function
from tunes.harmony.pitch.spelling import Key
from tunes.models import ChartDraft, ChartRevision, ChartVersion, ImmutableRevision, LabelOverride
from tunes.services import charts as services
from tunes.services import overrules
from tunes.services import tunes as tune_services
from tunes.study import study_chart

pytestmark = pytest.mark.django_db
BLUES = "key: F major\n\nA:\n| F7 | Bb7 | F7 | % |"
TONIC = Function("1", "7", "tonic", "blues")


def save(version: ChartVersion, text: str, **extra: object) -> ChartRevision:
    return services.save_revision(version=version, text=text, by=None, **extra)


def test_a_revision_holds_text_analysis_and_engine() -> None:
    revision = factories.make_version(text=BLUES)
    revision.refresh_from_db()
    assert (revision.number, revision.text) == (1, BLUES)
    assert len(revision.analysis["readings"]) == 4
    assert revision.engine == revision.analysis["engine"] != ""


def test_a_revision_is_never_rewritten() -> None:
    revision = factories.make_version()
    revision.text = "| C |"
    with pytest.raises(ImmutableRevision):
        revision.save()
    with pytest.raises(ImmutableRevision):
        revision.save(update_fields=["text"])
    revision.refresh_from_db()
    assert revision.text == factories.TWO_FIVE_ONE


def test_checking_is_the_one_thing_that_may_change() -> None:
    person = factories.make_user()
    revision = services.set_checked(revision=factories.make_version(), by=person, checked=True)
    revision.refresh_from_db()
    assert (revision.checked, revision.checked_by) == (True, person)
    services.set_checked(revision=revision, by=person, checked=False)
    revision.refresh_from_db()
    assert (revision.checked, revision.checked_by, revision.checked_on) == (False, None, None)


def test_saving_the_same_again_makes_no_second_revision() -> None:
    """A double click."""
    first = factories.make_version(text=BLUES)
    again = save(first.version, BLUES + "\n\n")
    assert again == first
    assert save(first.version, BLUES, source_note="heard again").number == 2


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", ""),
        ("| C7 | Hm7 |", "written B"),
        ("key: H major\n| C7 |", "H major"),
        ("| C7 |" * 5000, str(services.MAX_TEXT)),
    ],
)
def test_a_text_with_problems_is_refused_and_nothing_is_written(text: str, says: str) -> None:
    tune = factories.make_tune()
    with pytest.raises(services.ChartHasProblems) as refused:
        services.save_chart(tune=tune, version=None, name="new", text=text, by=factories.make_user())
    assert says in " ".join(problem.message for problem in refused.value.problems) or not refused.value.problems
    assert not ChartVersion.objects.exists()


def test_a_revision_saved_meanwhile_is_a_conflict_and_keeps_both() -> None:
    first = factories.make_version(text=BLUES)
    second = save(first.version, BLUES + "\n| C7 |", based_on=1)
    with pytest.raises(services.RevisionConflict) as conflict:
        save(first.version, BLUES + "\n| D7 |", based_on=1)
    assert conflict.value.latest == second
    assert save(first.version, BLUES + "\n| D7 |", based_on=2).number == 3


def test_the_first_version_of_a_tune_is_the_agreed_one_until_another_is() -> None:
    tune = factories.make_tune()
    first, second = (tune_services.create_version(tune=tune, name=name, by=None) for name in ("one", "two"))
    assert (first.is_agreed, second.is_agreed) == (True, False)
    tune_services.agree_on(version=second)
    assert list(tune.versions.filter(is_agreed=True)) == [second]


def test_a_new_reference_recording_replaces_the_one_before() -> None:
    tune, person = factories.make_tune(), factories.make_user()
    old = factories.make_recording(tune, is_reference=True)
    new = factories.make_recording(tune)
    new.is_reference = True
    tune_services.save_recording(recording=new, by=person)
    old.refresh_from_db()
    assert (old.is_reference, new.is_reference) == (False, True)


# --- drafts


@pytest.fixture
def desk() -> dict[str, object]:
    return {"user": factories.make_user(), "tune": factories.make_tune(), "version": None}


def test_a_draft_counts_its_writes(desk: dict[str, object]) -> None:
    serials = []
    serial = 0
    for text in ("| C", "| C7", "| C7 |"):
        outcome = services.keep_draft(**desk, text=text, serial=serial)
        serial = outcome.draft.serial
        serials.append((serial, outcome.conflict))
    assert serials == [(1, False), (2, False), (3, False)]
    assert ChartDraft.objects.get().text == "| C7 |"


def test_the_same_text_twice_is_one_write(desk: dict[str, object]) -> None:
    services.keep_draft(**desk, text="| C |", serial=0)
    again = services.keep_draft(**desk, text="| C |", serial=0)
    assert (again.conflict, again.draft.serial) == (False, 1)


def test_a_second_window_overwrites_nothing(desk: dict[str, object]) -> None:
    services.keep_draft(**desk, text="| C |", serial=0)
    services.keep_draft(**desk, text="| C | F |", serial=1)
    stale = services.keep_draft(**desk, text="| D |", serial=1)
    assert stale.conflict
    assert stale.draft.text == "| C | F |"
    assert ChartDraft.objects.get().text == "| C | F |"
    chosen = services.keep_draft(**desk, text="| D |", serial=stale.draft.serial)
    assert not chosen.conflict


def test_saving_a_chart_ends_its_draft_and_nobody_elses(desk: dict[str, object]) -> None:
    other = factories.make_user()
    services.keep_draft(**desk, text=BLUES, serial=0)
    services.keep_draft(**(desk | {"user": other}), text="| C |", serial=0)
    services.save_chart(**{k: desk[k] for k in ("tune", "version")}, name="new", text=BLUES, by=desk["user"])
    assert [draft.user for draft in ChartDraft.objects.all()] == [other]


# --- overrules


def test_an_overrule_stands_beside_the_computed_reading() -> None:
    revision, person = factories.make_version(text=BLUES), factories.make_user("Ines")
    key = Key.parse("Bb major")
    function = Function("5", "7", "dominant", "diatonic")
    overrules.overrule(revision=revision, event=0, key=key, function=function, why="the bass", by=person)
    study = study_chart(selectors.revisions_for_study().get(pk=revision.pk))
    assert (study.reading(0).function, study.reading(0).key) == (function, key)
    assert study.overridden[0].computed == study.computed.readings[0]
    assert study.overridden[0].computed.function != function
    assert (study.overridden[0].by, study.overridden[0].why) == ("Ines", "the bass")


def test_a_second_overrule_replaces_the_first_which_stays_on_record() -> None:
    revision, person = factories.make_version(text=BLUES), factories.make_user()
    first, second = (
        overrules.overrule(revision=revision, event=0, key=Key.parse(key), function=TONIC, why="", by=person)
        for key in ("C", "D")
    )
    first.refresh_from_db()
    assert first.withdrawn is not None
    assert first.withdrawn_by == person
    overrules.withdraw_overrule(row=second, by=person)
    assert not study_chart(revision).overridden
    overrules.restore_overrule(row=first, by=person)
    assert study_chart(ChartRevision.objects.get()).overridden[0].key == Key.parse("C")
    assert LabelOverride.objects.count() == 2


def test_withdrawing_brings_the_computed_analysis_back_exactly() -> None:
    revision, person = factories.make_version(text=BLUES), factories.make_user()
    before = study_chart(revision).analysis
    label = overrules.overrule(revision=revision, event=1, key=Key.parse("C"), function=TONIC, why="", by=person)
    area = overrules.overrule_area(revision=revision, first=2, last=3, key=Key.parse("D"), why="", by=person)
    assert study_chart(ChartRevision.objects.get()).analysis != before
    overrules.withdraw_overrule(row=label, by=person)
    overrules.withdraw_overrule(row=area, by=person)
    assert study_chart(ChartRevision.objects.get()).analysis == before


def test_an_overruled_area_changes_the_keys_of_its_events_only() -> None:
    revision, person = factories.make_version(text=BLUES), factories.make_user()
    overrules.overrule_area(revision=revision, first=1, last=2, key=Key.parse("Bb"), why="", by=person)
    study = study_chart(ChartRevision.objects.get())
    keys = [reading.key.text for reading in study.analysis.readings]
    computed = [reading.key.text for reading in study.computed.readings]
    assert keys == [computed[0], "Bb major", "Bb major", computed[3]]
    assert [(area.first, area.last) for area in study.analysis.areas if area.key.text == "Bb major"] == [(1, 2)]


@pytest.mark.parametrize(
    ("text", "events"),
    [
        ("key: F major\n\nA:\n| F7 | Bb7 | F7 | C7 |", {1: 1, 2: 2}),  # the last bar changed
        ("key: F major\n\nA:\n| C7 | F7 | Bb7 | F7 | % |", {1: 2, 2: 3}),  # a bar before it all
        ("key: F major\n\nA:\n| F7 | Eb7 | Ab7 | Db7 |", {}),  # the overruled chords are gone
    ],
)
def test_overrules_follow_their_chords_into_the_next_revision(text: str, events: dict[int, int]) -> None:
    revision, person = factories.make_version(text=BLUES), factories.make_user()
    for event in (1, 2):
        overrules.overrule(
            revision=revision, event=event, key=Key.parse("F"), function=TONIC, why=str(event), by=person
        )
    new = save(revision.version, text)
    found = {int(row.why): row.event for row in new.label_overrides.filter(withdrawn=None)}
    assert found == events
    assert revision.label_overrides.count() == 2
    assert [row.split(" (")[1] for row in new.left_behind] == [f"{event})" for event in (1, 2) if event not in events]


def test_overruled_areas_that_lost_a_chord_are_told() -> None:
    revision, person = factories.make_version(text=BLUES), factories.make_user()
    overrules.overrule_area(revision=revision, first=1, last=2, key=Key.parse("Bb"), why="a long visit", by=person)
    kept = save(revision.version, "key: F major\n\nA:\n| F7 | Bb7 | F7 | C7 |")
    assert kept.left_behind == ()
    assert save(kept.version, "key: F major\n\nA:\n| F7 | Eb7 | Ab7 | Db7 |").left_behind == (
        "bars 2 to 3: Bb major (a long visit)",
    )


def test_a_nul_in_a_draft_is_dropped() -> None:
    """PostgreSQL refuses NUL in text; a draft with one once answered 500 there."""
    tune = factories.make_tune()
    instructor = factories.make_instructor(factories.make_ensemble())
    kept = services.keep_draft(user=instructor, tune=tune, version=None, text="| C\x00 | F |", serial=0)
    assert kept.draft.text == "| C | F |"


@pytest.mark.django_db
def test_a_tune_goes_with_charts_that_name_its_recordings() -> None:
    """A chart by ear protects its recording, but not against the tune that both belong to."""
    tune = factories.make_tune()
    recording = factories.make_recording(tune)
    factories.make_version(tune, source_kind="by-ear", source_recording=recording)
    tune_services.delete_tune(tune=tune)
    assert not type(tune).objects.exists()


def test_a_withdrawn_key_is_listed_and_set_again_by_undo() -> None:
    ensemble = factories.make_ensemble()
    instructor, revision = factories.make_instructor(ensemble), factories.make_version()
    row = overrules.overrule_area(
        revision=revision, first=0, last=1, key=Key.parse("Eb"), why="As heard", by=instructor
    )
    client = Client()
    client.force_login(instructor)
    panel = reverse("tunes:area", args=[revision.pk, 0])
    assert "set by" in client.get(panel).content.decode()
    client.post(reverse("tunes:withdraw_area", args=[row.pk]))
    text = client.get(panel).content.decode()
    assert "set by" not in text
    assert "As heard" in text
    assert reverse("tunes:restore_area", args=[row.pk]) in text
    client.post(reverse("tunes:restore_area", args=[row.pk]))
    text = client.get(panel).content.decode()
    assert "set by" in text
    assert "Earlier overrules" not in text
