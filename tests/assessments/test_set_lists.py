"""Set lists: order, key of the day, who knows what, cards in the reader's pitch without chords that are held."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse

from assessments.models import SetList
from assessments.services.sign_off import sign_off
from drills.models import Pack
from tests import factories

pytestmark = pytest.mark.django_db


def test_a_set_list_from_the_date_to_the_packs(client: Client) -> None:
    ensemble = factories.make_ensemble()
    leader = factories.make_instructor(ensemble)
    player = factories.make_player(ensemble, "Pia", instrument="alto-sax")
    made = factories.make_assignment(ensemble, by=leader, kinds=("sign-off",))
    sign_off(step=made.steps.get(), players=[player], by=leader, evidence="Played")
    second = factories.make_chart_revision("Second Hour", text="key: F major\n| Fmaj7 | Gm7 C7 |").version.tune
    factories.make_tune("Nothing Written")
    client.force_login(leader)
    assert client.post(reverse("work:set-lists", args=[ensemble.pk]), {"on": "soon"}).status_code == 422
    client.post(reverse("work:set-lists", args=[ensemble.pk]), {"on": "2030-05-31", "where": "Foyer"})
    one = SetList.objects.get()
    assert one.on == dt.date(2030, 5, 31)
    address = reverse("work:set-list", args=[one.pk])
    for title, status in ((made.tune.title, 302), ("Second", 302), ("Nothing Written", 422), ("Zebra", 422)):
        assert client.post(address, {"act": "add", "tune": title}).status_code == status
    first, last = one.tunes.all()
    client.post(address, {"act": "up", "row": last.pk})
    assert [row.revision.version.tune for row in one.tunes.all()] == [second, made.tune]
    for key in ("H flat", "Eb major"):
        client.post(address, {"act": "day", "row": last.pk, "key": key, "tempo": "184", "note": "brushes"})
    last.refresh_from_db()
    assert (last.key, last.tempo, last.note) == ("Eb major", 184, "brushes")
    rows = {r.row.pk: r for r in client.get(address).context["rows"]}
    assert [bool(on) for _, on in rows[first.pk].signed] == [True]
    assert [p.name for p in rows[last.pk].unknown] == ["Pia"]
    client.post(address, {"act": "out", "row": "x"})
    client.post(reverse("work:set-packs", args=[one.pk]))
    assert Pack.objects.filter(ensemble=ensemble).count() == 2
    client.force_login(player)
    cards = client.get(reverse("work:set-cards", args=[one.pk])).context["cards"]
    for_alto = client.get(reverse("work:set-cards", args=[one.pk]), {"for": "alto-sax"})
    assert "alto saxophone" in for_alto.context["cards"][0].pitch
    assert "data-print" in for_alto.text
    # E flat concert is C for an alto (a major sixth above, as every instrumentation handbook has it).
    assert "C major" in cards[0].pitch
    assert client.post(address, {"act": "out", "row": last.pk}).status_code == 404
    assert "Last signed off" not in client.get(address).content.decode()


def test_cards_hold_back_what_a_player_takes_down_by_ear(client: Client) -> None:
    ensemble = factories.make_ensemble()
    leader, player = factories.make_instructor(ensemble), factories.make_player(ensemble)
    revision = factories.make_chart_revision()
    factories.make_recording(revision.version.tune, is_reference=True, link="https://example.org/x")
    factories.make_assignment(ensemble, by=leader, kinds=("changes",), revision=revision)
    client.force_login(leader)
    client.post(reverse("work:set-lists", args=[ensemble.pk]), {"on": "2030-05-31"})
    one = SetList.objects.get()
    client.post(reverse("work:set-list", args=[one.pk]), {"act": "add", "tune": revision.version.tune.title})
    address = reverse("work:set-cards", args=[one.pk])
    assert client.get(address).context["cards"][0].view is not None
    client.force_login(player)
    card = client.get(address).context["cards"][0]
    assert (card.view, bool(card.held)) == (None, True)
