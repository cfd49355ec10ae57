"""The melody by ear: what is told of a phrase, when it comes back; own words; progress drawn from what was done.

The edit path is that of Levenshtein (Soviet Physics Doklady 10, 1966): its textbook pair kitten/sitting, three steps apart,
is spelled here with notes.
"""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from assessments.models import Recall
from assessments.progress import failing, known_over_terms, tempo_line
from assessments.services.recall import recalled
from drills.models import Practice, PracticeCue, PracticeItem
from tests import factories
from tunes.harmony.pitch.spelling import NoteName, Pitch
from tunes.interchange import Melody, MelodyNote
from tunes.lead_sheets.services import keep_melody
from tunes.melody.phrase_check import check
from tunes.models import OwnNote, PhraseByEar


def notes(text: str) -> list[NoteName]:
    return [NoteName.parse(word) for word in text.split()]


# What was typed, what is kept, how many are right, what is said.
TABLE = [
    ("C D E", "C D E", 3, ()),
    ("C F# E", "C Gb E", 3, ()),  # it sounds the same
    ("C D F", "C D E", 2, ("Your note 3 is another one.",)),
    ("C E", "C D E", 2, ("After your note 1 one is missing.",)),
    ("D E", "C D E", 2, ("At the start one is missing.",)),
    ("C D D E", "C D E", 3, ("Your note 2 is not played.",)),
    ("", "C D", 0, ("At the start 2 are missing.",)),
    # kitten → sitting: two letters changed, one added
    ("C D E E F G", "A D E E D G B", 4, ("Your note 1 is another one.", "Your note 5 is another one.", "After your note 6 one is missing.")),
]  # fmt: skip


@pytest.mark.parametrize(("typed", "kept", "right", "said"), TABLE)
def test_what_is_told_of_a_phrase(typed: str, kept: str, right: int, said: tuple[str, ...]) -> None:
    found = check(notes(typed), notes(kept))
    assert (found.right, found.complete) == (right, not said)
    assert set(found.sentences) >= set(said) if "not played" not in str(said) else found.notes == 3


names = st.lists(st.sampled_from(["C", "Db", "D", "Eb", "E", "F", "F#", "G"]), max_size=9)


@given(names, names)
def test_no_sentence_names_a_note_and_only_the_whole_is_complete(typed: list[str], kept: list[str]) -> None:
    found = check(notes(" ".join(typed)), notes(" ".join(kept)))
    assert found.complete == (bool(kept) and typed == kept)
    assert not any(
        word.strip(".") in {"C", "Db", "D", "Eb", "E", "F", "F#", "G"} for s in found.sentences for word in s.split()
    )


def test_a_line_of_tempo_keeps_the_best_of_each_week() -> None:
    today = dt.date(2030, 3, 6)
    line = tempo_line("Scales", "Tune", [(dt.date(2030, 2, 25), 80), (dt.date(2030, 2, 27), 92), (today, 100)], today)
    assert line is not None
    assert [(spot.week.isoformat(), spot.tempo) for spot in line.spots] == [("2030-02-25", 92), ("2030-03-04", 100)]
    assert line.spots[1].y < line.spots[0].y  # faster stands higher
    assert line.path.startswith("M")
    assert tempo_line("Old", "Tune", [(dt.date(2029, 1, 1), 80)], today) is None
    assert failing("Tune", 1, [3, 11], 32).cells[-1] == (32, False)
    assert known_over_terms([], [], today) == ()


@pytest.fixture
def player() -> Any:
    return factories.make_player(factories.make_ensemble(), instrument="trumpet")


@pytest.fixture
def tune(player: Any) -> Any:
    """Eight bars with one note each: C D E F G A Bb C, concert."""
    revision = factories.make_chart_revision("By ear")
    kept = [
        MelodyNote(bar, Fraction(0), Fraction(4), Pitch.parse(text))
        for bar, text in enumerate(["C4", "D4", "E4", "F4", "G4", "A4", "Bb4", "C5"])
    ]
    keep_melody(version=revision.version, melody=Melody(tuple(kept)), rights="Invented", source_name="", by=player)
    return revision.version.tune


@pytest.mark.django_db
def test_a_melody_is_checked_without_being_shown_and_comes_back(player: Any, tune: Any, client: Any) -> None:
    client.force_login(player)
    address = reverse("work:melody", args=[tune.pk])
    assert "8 notes" not in client.get(address).content.decode()
    # A trumpet reads a tone higher: D E F# G A B C D.
    wrong = client.post(address, {"notes-1-8": "D E F G A B C D", "check": "1-8"}).content.decode()
    assert "7 of 8 notes" in wrong
    assert "Your note 3 is another one." in wrong
    assert "F♯" not in wrong
    right = client.post(address, {"notes-1-8": "D E F# G A B C D", "check": "1-8"}).content.decode()
    assert "Right, all 8 notes." in right
    recall = Recall.objects.get(player=player, what="melody")
    assert recall.due > timezone.now()
    Recall.objects.update(due=timezone.now() - dt.timedelta(days=1))
    page = client.get(address).content.decode()
    assert "D E F#" not in page  # hidden again
    client.post(address, {"notes-1-8": "D E", "check": "all"})
    recall.refresh_from_db()
    assert (recall.percent, recall.times) == (25, 2)
    assert PhraseByEar.objects.get().text == "D E F# G A B C D"  # what was taken down stays


@pytest.mark.django_db
def test_own_words_are_seen_by_nobody_else(player: Any, tune: Any, client: Any) -> None:
    address, page = reverse("work:own-words", args=[tune.pk]), reverse("tunes:tune", args=[tune.pk])
    client.force_login(player)
    client.post(address, {"act": "bar", "bar": "3", "note": "Breathe <b>here</b>"})
    client.post(address, {"act": "lines", "line-2": "She waits at the pier", "bar-3": "Breathe <b>later</b>"})
    mine = client.get(address).content.decode()
    assert "She waits at the pier" in mine
    assert "Breathe &lt;b&gt;later&lt;/b&gt;" in mine
    assert "Breathe" in client.get(page).content.decode()
    assert client.post(address, {"act": "bar", "bar": "x", "note": ""}).status_code == 422
    client.force_login(factories.make_instructor(player.memberships.get().ensemble))
    assert "pier" not in client.get(address).content.decode()
    assert "Breathe" not in client.get(page).content.decode()
    client.force_login(player)
    client.post(address, {"act": "lines", "line-2": " ", "bar-3": ""})
    assert OwnNote.objects.count() == 0


@pytest.mark.django_db
def test_progress_is_drawn_with_words(player: Any, tune: Any, client: Any) -> None:
    client.force_login(player)
    address = reverse("work:progress")
    assert "Nothing to draw yet" in client.get(address).content.decode()
    revision, now = tune.versions.get().revisions.get(), timezone.now()
    item = PracticeItem.objects.create(user=player, revision=revision, digest="d", title="Scales")
    for number, (went, tempo) in enumerate((("steady", 90), ("with ease", 96), ("fell apart", 140))):
        Practice.objects.create(
            user=player, item=item, revision=revision, tempo=tempo, went=went, token=str(number),
            when=now - dt.timedelta(weeks=2 - number),
        )  # fmt: skip
    PracticeCue.objects.create(user=player, revision=revision, bar=5, why="Missed", source="x")
    recalled(player_id=player.pk, tune_id=tune.pk, what="changes", percent=90, key="Ab major")
    page = client.get(address).content.decode()
    assert "from 90 in the week of" in page
    assert "140" not in page  # it did not hold
    assert "1 of 12" in page
    assert "A♭ done" in page
    assert "bar 5" in page
