"""A further chart of a tune that has recordings saves as the page offers it."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from tests import factories

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("recordings", [0, 1, 2])
def test_what_is_offered_is_saved(recordings: int) -> None:
    tune = factories.make_version().version.tune
    for number in range(recordings):
        factories.make_recording(tune, is_reference=number == 1)
    client = Client()
    client.force_login(factories.make_instructor(factories.make_ensemble()))
    address = reverse("tunes:chart_new", args=[tune.pk])
    form = client.get(address).context["form"]
    offered = {
        name: getattr(form[name].value(), "pk", form[name].value()) or "" for name in form.fields if name != "checked"
    }
    response = client.post(
        address, offered | {"name": offered["name"] or "another", "text": "key: F\n\nA:\n| F7 | Bb7 |"}
    )
    assert response.status_code == 302, response.context["form"].errors
    assert tune.versions.count() == 2


def test_another_version_may_begin_from_the_agreed_chart() -> None:
    revision = factories.make_version()
    type(revision.version).objects.update(is_agreed=True)
    client = Client()
    client.force_login(factories.make_instructor(factories.make_ensemble()))
    address = reverse("tunes:chart_new", args=[revision.version.tune_id])
    assert "?begin=agreed" in client.get(address).text
    begun = client.get(address, {"begin": "agreed"})
    assert begun.context["text"] == revision.text
    assert "Begin from the agreed chart" not in begun.text
