"""Practice and ear work stand in the record beside the programme's steps, and mark none of them as done."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from assessments.selectors.ledger import own_page, own_work
from drills.models import Practice, PracticeItem
from tests import factories
from tunes.models import EarResult

pytestmark = pytest.mark.django_db


def test_practice_and_ear_work_are_on_record() -> None:
    ensemble = factories.make_ensemble()
    player, instructor = factories.make_player(ensemble), factories.make_instructor(ensemble)
    made = factories.make_assignment(ensemble, by=instructor)
    tune = made.tune
    item = PracticeItem.objects.create(user=player, revision=made.revision, digest="x", title="Guide tones")
    Practice.objects.create(user=player, item=item, revision=made.revision, tempo=140, went="steady", token="1")
    EarResult.objects.create(player=player, tune=tune, kind=EarResult.Kind.TOP_OF_FORM, score=0.9)
    lines = own_work(player, [tune])[tune.pk]
    assert lines[0].startswith("Practised once, up to 140 beats a minute")
    assert lines[1].startswith("Top of the form: best 90%")
    assert not any(step.done for step in own_page(player, [tune], for_player=True)[0][1].steps)
    client = Client()
    client.force_login(player)
    assert "Practised once" in client.get(reverse("work:my-tunes")).content.decode()
    client.force_login(instructor)
    assert "Practised once" in client.get(reverse("work:player", args=[player.pk])).content.decode()
