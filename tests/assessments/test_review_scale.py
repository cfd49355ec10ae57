"""What has ended is shown on request: lists of work keep to running terms, and nothing that waits is left out."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.utils import timezone

from assessments.models import Attempt
from assessments.selectors.review import missing
from tests import factories

pytestmark = pytest.mark.django_db


def test_lists_keep_to_running_terms_until_asked(client: Client) -> None:
    today, director = timezone.localdate(), factories.make_director()
    then = factories.make_term("Once", starts=today - dt.timedelta(days=400), ends=today - dt.timedelta(days=200))
    rows = {}
    for name, term in (("Old band", then), ("New band", factories.make_term("Now"))):
        ensemble = factories.make_ensemble(name, term=term)
        leader, player = factories.make_instructor(ensemble), factories.make_player(ensemble, f"Player of {name}")
        yesterday = timezone.now() - dt.timedelta(days=1)
        kinds = ("function", "listening", "sign-off")
        work = factories.make_assignment(ensemble, by=leader, kinds=kinds, due=yesterday, title=f"Work of {name}")
        rows[name] = (ensemble, work, factories.make_attempt(work.steps.get(kind="function"), player, hand_in=True))
    client.force_login(director)

    def shown(address: str) -> tuple[bool, bool]:
        page = client.get(address).content.decode()
        return "Work of Old band" in page, "Work of New band" in page

    old = rows["Old band"][0].pk
    assert shown("/work/review/") == (True, True)  # what waits waits, whenever its term ended
    Attempt.objects.update(status="reviewed", reviewed_at=timezone.now(), reviewed_by=director)
    assert shown("/work/review/?state=reviewed") == (False, True)
    assert shown("/work/review/?state=reviewed&older=1") == (True, True)
    assert shown(f"/work/review/?state=reviewed&ensemble={old}") == (True, False)
    assert shown("/work/assignments/") == (False, True)
    assert shown("/work/assignments/?older=1") == (True, True)
    assert shown(f"/work/assignments/?ensemble={old}") == (True, False)
    for address in ("/work/review/", "/work/assignments/"):
        assert "Old band, Once" not in client.get(address).content.decode()
        assert "Old band, Once" in client.get(f"{address}?older=1").content.decode()
        assert "Old band, Once" in client.get(f"{address}?ensemble={old}").content.decode()
    # Not in yet: of the running term by itself, of an ended one where it is asked for, each in its own ensemble alone.
    kinds = {("Player of New band", "listening"), ("Player of New band", "sign-off")}
    assert {(row.user.name, row.step_kind) for row in missing(director)} == kinds
    for narrow in ({"ensemble": old}, {"assignment": rows["Old band"][1].pk}):
        found = {(row.user.name, row.step_kind) for row in missing(director, **narrow)}
        assert found == {("Player of Old band", "listening"), ("Player of Old band", "sign-off")}
