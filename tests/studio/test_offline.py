"""What a device may keep of the site, and the script that keeps it."""

from __future__ import annotations

import re

from django.test import Client

from studio.offline import HEADER, MAY_BE_KEPT
from studio.views.offline import kept_files
from tests import factories
from tests.drills.studies import FORM


def test_only_these_pages_say_that_they_may_be_kept(db: None) -> None:
    """The table: own plan, charts, drills and band of whoever is signed in; nothing of quizzes, steps, review, people."""
    ensemble = factories.make_ensemble()
    player, leader = factories.make_player(ensemble), factories.make_instructor(ensemble)
    revision = factories.make_version(factories.make_tune("Weir Song"), FORM)
    steps = list(factories.make_assignment(ensemble, by=leader, kinds=("hand-in",), revision=revision).steps.all())
    chart = f"/drills/charts/{revision.pk}/"
    may = [
        "/work/",
        f"/tunes/{revision.version.tune_id}/",
        chart,
        f"{chart}band/",
        f"{chart}band/chorus/?style=four&seed=1",
    ]
    never = [
        f"/work/steps/{steps[0].pk}/",
        "/work/every/",
        "/drills/takes/",
        "/me/",
        "/people/",
        "/drills/practice/",
        "/livez",
    ]
    client = Client()
    assert HEADER not in client.get("/work/").headers  # nobody is signed in
    client.force_login(player)
    for address in may:
        assert client.get(address).headers.get(HEADER) == str(player.pk), address
    for address in never:
        answer = client.get(address)
        assert answer.status_code in (200, 302, 403), address
        assert HEADER not in answer.headers, address
    assert HEADER not in client.get(f"{chart}band/", headers={"HX-Request": "true"}).headers  # a part of a page
    assert HEADER not in client.get(f"{chart}band/chorus/?key=nothing").headers  # refused
    client.force_login(leader)
    assert HEADER not in client.get("/work/review/").headers
    assert not [name for name in MAY_BE_KEPT if re.search("quiz|step|review|take|ledger", name)]


def test_the_worker_names_its_files_and_none_is_missing(client: Client) -> None:
    """It is answered without the database, like the health pages."""
    answer = client.get("/offline-worker.js")
    script = answer.content.decode()
    assert answer.headers["Content-Type"].startswith("text/javascript")
    assert answer.headers["Cache-Control"] == "no-cache"
    assert re.match(r'const VERSION = "[0-9a-f]{12}";\nconst FILES = \[', script)
    assert "/static/js/quiz.js" in script
    assert "/static/js/offline-worker.js" not in script
    assert {"sound/band-1.flac", "js/sampler.js", "css/base.css", "vendor/fonts/sans.woff2"} <= set(kept_files())
