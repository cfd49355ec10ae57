"""What has ended is shown on request: lists of work keep to running terms, and nothing that waits is left out."""

from __future__ import annotations

import datetime as dt
import sqlite3
from contextlib import closing
from typing import Any

import pytest
from django.db import connection
from django.db.models import Model, QuerySet
from django.test import Client
from django.utils import timezone

from assessments.access import attempts_led
from assessments.models import Assignment, Attempt, Evidence, Step
from assessments.selectors.ledger import standing_rows
from assessments.selectors.review import missing, queue, waiting
from studio.models import Ensemble
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


def test_pages_about_one_ensemble_offer_those_of_running_terms_and_the_last_one_between_terms(client: Client) -> None:
    today = timezone.localdate()
    led = {}
    for name, ago in (("Once", 400), ("Lately", 200), ("Now", 0)):
        starts = today - dt.timedelta(days=ago)
        term = factories.make_term(name, starts=starts, ends=starts + dt.timedelta(days=90))
        led[name] = factories.make_ensemble("Band", term=term)
    leader = factories.make_instructor(led["Once"])

    def offered(address: str) -> tuple[set[str], str]:
        context = client.get(address).context
        return {one.term.name for one in context["ensembles"]}, context["ensemble"].term.name

    for page in ("/work/ledger/", "/work/ledger/plan/", "/work/ledger/known/"):
        client.cookies.clear()
        client.force_login(factories.make_director() if page == "/work/ledger/" else leader)
        if page == "/work/ledger/":
            assert offered(page) == ({"Now"}, "Now")
            assert offered(f"{page}?older=1") == ({"Now", "Lately", "Once"}, "Now")
            assert offered(f"{page}?ensemble={led['Once'].pk}") == ({"Now", "Once"}, "Once")
            assert offered(page) == ({"Now", "Once"}, "Once")  # the one in use stays in the choice
            assert client.get(f"{page}?ensemble={led['Now'].pk + 90}").status_code == 404
        else:
            assert offered(page) == ({"Once"}, "Once")  # who leads nothing now: the last they led
            assert client.get(f"{page}?ensemble={led['Now'].pk}").status_code == 404


def test_the_record_is_searched_by_player_and_the_waiting_by_what_waits() -> None:
    """Statistics as SQLite's sampled ANALYZE wrote them for 194,000 facts of twenty years, none of them withdrawn."""
    director = factories.make_director()
    waits = waiting(attempts_led(director)).order_by().values("pk")
    assert "studio_ensemble" not in str(
        waits.query
    )  # the director leads all of them: no list of every ensemble is walked
    rows = standing_rows(player__in=list(range(480))).order_by()
    known: dict[str, str] = {
        "sqlite_autoindex_assessments_evidence_1": "75632 1001",
        "evidence_ledger": "192850 72 4 1",
    }
    if connection.vendor == "sqlite":
        assert "(player_id=?" in _plan(rows, {Evidence: known})[0]


def test_what_was_reviewed_is_counted_from_its_steps() -> None:
    """Statistics as SQLite's sampled ANALYZE wrote them for 240 people after twenty years: of each status it had looked at 500
    sheets and took them for all, so 80,000 of all terms were read to count the few hundred of the running one."""
    rows = queue(factories.make_director(), state="reviewed", older=False).order_by().values("pk")
    known: dict[type[Model], dict[str, str]] = {
        Attempt: {
            "sqlite_autoindex_assessments_attempt_1": "61237 18 2 1",
            "attempt_reviewed": "384750 501 3 1",
            "attempt_by_player": "104091 72 72",
            "attempt_queue": "107070 501 1",
            "assessments_attempt_step_id_7d9dfd01": "58916 18",
            "attempt_by_step": "58916 18 18",
        },
        Step: {"assessments_step_assignment_id_bb7399e2": "9912 5", "step_by_due": "9408 67"},
        Assignment: {"assignment_by_ensemble": "1751 3 3"},
        Ensemble: {"studio_ensemble_term_id_ab06a572": "601 15"},
    }
    if connection.vendor == "sqlite":
        assert "(step_id=? AND status=?)" in _plan(rows, known)[0]


def _plan(rows: QuerySet[Any], known: dict[type[Model], dict[str, str]]) -> list[str]:
    """How SQLite would answer, did it know of its tables what `known` says: a copy without rows is asked."""
    sql, values = rows.query.sql_with_params()
    with connection.cursor() as cursor, closing(sqlite3.connect(":memory:")) as copy:
        cursor.execute(
            "SELECT sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%%' ORDER BY rowid"
        )
        for (each,) in cursor.fetchall():
            copy.execute(each)
        copy.execute("ANALYZE")
        for model, counted in known.items():
            table = model._meta.db_table
            copy.executemany("INSERT INTO sqlite_stat1 VALUES (?, ?, ?)", [(table, *one) for one in counted.items()])
        copy.execute("ANALYZE sqlite_schema")
        return [row[3] for row in copy.execute(f"EXPLAIN QUERY PLAN {sql.replace('%s', '?')}", values)]
