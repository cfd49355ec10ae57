"""Where the chords speak against the key that is typed: the instructor is told in one line, and one press settles it."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from tests import factories
from tests.harmony.test_truth import IN_C
from tunes.study import study_chart

pytestmark = pytest.mark.django_db


def test_one_press_settles_the_key() -> None:
    revision, ensemble = factories.make_version(text="key: F major\n" + IN_C), factories.make_ensemble()
    page = reverse("tunes:version", args=[revision.version.tune_id, revision.version_id])
    student, client = Client(), Client()
    student.force_login(factories.make_player(ensemble))
    client.force_login(factories.make_instructor(ensemble))
    line = "The key that is typed is F major; the chords speak for C major."
    assert line not in student.get(page).content.decode()
    shown = client.get(page + "?for=alto-sax").content.decode()
    assert "The key that is typed is D major; the chords speak for A major." in shown
    form = shown[shown.index("The key that is typed is D major") :]
    address = re.search(r'action="([^"]+)"', form)
    assert address is not None
    body = dict(re.findall(r'type="hidden" name="(key|first|last|holds|why)" value="([^"]*)"', form))
    client.post(address[1].replace("&amp;", "&"), body)
    found = study_chart(revision)
    assert [area.key.text for area in found.analysis.areas] == ["F major"]
    assert "the chords speak for" not in client.get(page).content.decode()
