"""The handbook says what the site does: every link leads somewhere, every label stands on a page, every page that has a task
links to it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from studio.handbook import BY_SLUG, TASKS, found_by, task_on
from tests import factories
from tests.test_access import all_routes

ROOT = Path(__file__).parents[2]
PLACES = ("templates", "assessments", "tunes", "drills", "studio", "api", "static/js")


def words_of_the_site() -> str:
    """Everything that pages are made of, the handbook left out, tags and template signs taken out."""
    found = [
        path.read_text(encoding="utf-8")
        for place in PLACES
        for path in sorted((ROOT / place).rglob("*"))
        if path.suffix in (".html", ".py", ".js") and "handbook" not in path.as_posix()
    ]
    plain = re.sub(r"<[^>]*>|\{[%{][^}]*[%}]\}", "", "\n".join(found))
    return re.sub(r"\s+", " ", plain)


def test_every_link_and_every_page_of_a_task_exists() -> None:
    routes = all_routes()
    assert sorted({link for task in TASKS for link in task.links} - set(routes)) == []
    assert sorted({route for task in TASKS for route in task.routes} - set(routes)) == []
    for task in TASKS:
        for link in task.links:
            reverse(link)


def test_every_label_stands_on_a_page() -> None:
    site = words_of_the_site()
    missing = [f"{task.slug}: {label}" for task in TASKS for label in task.labels if label not in site]
    assert missing == []


def test_slugs_are_used_once_and_both_kinds_of_reader_find_their_own() -> None:
    assert len(BY_SLUG) == len(TASKS)
    mine, theirs = task_on("tunes:naming", teaches=True), task_on("tunes:naming", teaches=False)
    assert mine is not None
    assert theirs is not None
    assert (mine.slug, theirs.slug) == ("name-a-progression", "find-a-progression")
    assert task_on("studio:account", teaches=True) is None
    assert [task.slug for task in found_by("LEDGER signs", teaches=True)][:1] == ["ledger"]
    assert found_by("zzz", teaches=True) == []
    looked_for = {"extension": "one-player", "gradebook": "gradebook", "password forgotten": "invitations", "transpose": "packs",
                  "release": "review", "import": "roster"}  # fmt: skip
    assert {
        word: slug for word, slug in looked_for.items() if slug not in [t.slug for t in found_by(word, teaches=True)]
    } == {}


@pytest.mark.django_db
def test_every_page_reads_and_is_linked_from_its_task(client: Client) -> None:
    ensemble = factories.make_ensemble()
    client.force_login(factories.make_instructor(ensemble))
    index = client.get(reverse("studio:handbook")).text
    for task in TASKS:
        address = reverse("studio:handbook_page", args=[task.slug])
        assert address in index
        page = client.get(address).text
        assert escape(task.title) in page
        assert not re.search(r"\]\(\w+:|(?<![\w*])\*[A-Z]", page), task.slug  # no sign of the notation is left
    for route, slug in (("work:assign", "assign-a-tune"), ("work:queue", "review"), ("studio:terms", "new-term")):
        assert reverse("studio:handbook_page", args=[slug]) in client.get(reverse(route), follow=True).text
    client.force_login(factories.make_player(ensemble))
    assert reverse("studio:handbook_page", args=["today"]) in client.get(reverse("work:desk")).text
    assert "No page has all of these words" in client.get(reverse("studio:handbook") + "?q=zzz").text
