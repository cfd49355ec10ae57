"""The pages of quizzes that are answered with notes or scales: asked, and shown after, in the player's own pitch."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from api.attempts import attempt_body
from assessments.models import Attempt, Quiz
from drills.kinds import kinds_that
from drills.question_kind import Keypad
from tests.factories import (
    make_assignment,
    make_attempt,
    make_chart_revision,
    make_ensemble,
    make_instructor,
    make_player,
    make_tune,
    make_version,
)
from tunes.harmony.pitch.spelling import Pitch
from tunes.interchange.melody import Melody, MelodyNote
from tunes.models_recordings import Melody as KeptMelody

pytestmark = pytest.mark.django_db
KINDS = kinds_that(lambda kind: bool(kind.notes) or kind.keypad is Keypad.SCALE)
PLACES = re.compile(r"\{(?:chord|chords|next|from|degree)\}")


def text_of(client: Client, name: str, *args: Any) -> str:
    answer = client.get(reverse(name, args=args))
    assert answer.status_code == 200, (name, args)
    return answer.content.decode()


@pytest.mark.parametrize("kind", KINDS)
def test_every_page_writes_prompts_out(kind: str, client: Client) -> None:
    ensemble = make_ensemble()
    player, instructor = make_player(ensemble, instrument="alto-sax"), make_instructor(ensemble)
    assignment = make_assignment(
        ensemble,
        by=instructor,
        kinds=(kind,),
        revision=make_chart_revision(text="key: C major\n| Dm7 | G7 | Cmaj7 | A7 |"),
    )
    step = assignment.steps.get()
    attempt: Attempt = make_attempt(step, player)
    client.force_login(player)
    page = text_of(client, "work:attempt", attempt.pk)
    assert not PLACES.search(page)
    if kind in ("guide-line", "scale", "nearest"):
        assert "Bm7" in page, "concert Dm7 on an alto part"
        assert "Dm7" not in page
    make_attempt(step, player, hand_in=True)
    assert not PLACES.search(text_of(client, "work:attempt", attempt.pk))
    assert not PLACES.search(str(attempt_body(player, attempt.pk)))
    client.force_login(instructor)
    assert not PLACES.search(text_of(client, "work:sheet", attempt.pk))
    assert not PLACES.search(text_of(client, "work:ensemble-sheet", step.pk))


def test_a_quiz_of_scales_hears_the_melody() -> None:
    """Common practice, no source: the melody of the reference decides over the usual scale."""
    revision = make_version(make_tune("Sharp Four"), "key: C major\n| Cmaj7 | Dm7 G7 | Cmaj7 |")
    note = MelodyNote(0, Fraction(0), Fraction(4), Pitch.parse("F#5"))
    KeptMelody.objects.create(version=revision.version, notes=Melody((note,)).to_json(), rights="invented for a test")
    assignment = make_assignment(make_ensemble(), kinds=("scale",), revision=revision)
    first = Quiz.objects.get(step__assignment=assignment).questions[0]
    assert (first["key"]["scales"][0]["id"], first["key"]["overridden"]) == ("lydian", True)
