"""Today's plan without a connection, and what is left of it on the device after signing out: nothing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from playwright.sync_api import BrowserContext, Page, expect

from tests import factories
from tests.browser.conftest import Complaints, assert_accessible
from tests.drills.studies import FORM

KEPT = """async () => {
  const found = [];
  for (const name of await caches.keys()) if (name === 'topform-pages')
    for (const key of await (await caches.open(name)).keys()) found.push(new URL(key.url).pathname);
  return found;
}"""
FILES = """async () => {
  const name = (await caches.keys()).find((one) => one.startsWith('topform-files-'));
  return name ? (await (await caches.open(name)).keys()).filter((key) => key.url.endsWith('.flac')).length : 0;
}"""


def until(page: Page, what: str, enough: Callable[[Any], bool], tries: int = 100) -> Any:
    found = None
    for _ in range(tries):
        found = page.evaluate(what)
        if enough(found):
            return found
        page.wait_for_timeout(200)
    raise AssertionError(found)


def test_todays_plan_without_a_connection(
    open_context: Callable[..., BrowserContext], sign_in: Callable[[Page, Any], None], complaints: Complaints
) -> None:
    ensemble = factories.make_ensemble()
    player, other = factories.make_player(ensemble, "Pia"), factories.make_player(ensemble, "Cleo")
    leader = factories.make_instructor(ensemble)
    revision = factories.make_version(factories.make_tune("Weir Song"), FORM)
    revision.version.is_agreed = True
    revision.version.save()
    step = factories.make_assignment(
        ensemble, by=leader, kinds=("hand-in", "function"), revision=revision
    ).steps.first()
    page = open_context(390, service_workers="allow").new_page()
    sign_in(page, player)
    page.goto("/work/")
    band, chorus = f"/drills/charts/{revision.pk}/band/", f"/drills/charts/{revision.pk}/band/chorus/"
    kept = until(page, KEPT, lambda found: found.count(chorus) == 3)
    assert {"/work/", f"/tunes/{revision.version.tune_id}/", band} <= set(kept)
    until(page, FILES, lambda found: found >= 1)
    page.goto(f"/work/steps/{step.pk}/")  # opened, and never kept
    page.goto("/people/")
    assert not [path for path in page.evaluate(KEPT) if "steps" in path or "people" in path]

    page.context.set_offline(True)
    page.goto(band)
    expect(page.locator(".offline-word")).to_contain_text("Offline, as of ")
    page.get_by_role("button", name="Play", exact=True).click()
    expect(page.locator("[data-now]")).to_contain_text("Chorus 1, from bar 1", timeout=15_000)
    assert page.evaluate("fetch('/work/desk/', {method: 'POST'}).then(() => 'sent', () => 'not sent')") == "not sent"
    page.goto(f"/work/steps/{step.pk}/")
    expect(page.get_by_role("heading", name="No connection")).to_be_visible()
    page.get_by_role("link", name="Weir Song").first.click()
    expect(page.locator(".offline-word")).to_be_visible()
    assert_accessible(page, widths=(390,))

    page.context.set_offline(False)
    page.goto("/account/logout/")
    page.get_by_role("button", name="Sign out").last.click()
    expect(page.get_by_label("Password")).to_be_visible()
    assert until(page, KEPT, lambda found: not found) == []

    # A session that ended elsewhere, and the next person: what the first had here goes before anything of the second is kept.
    sign_in(page, player)
    page.goto("/work/")
    until(page, KEPT, lambda found: band in found)
    sign_in(page, other)
    page.goto(f"/tunes/{revision.version.tune_id}/")
    assert until(page, KEPT, lambda found: "/work/" not in found)
    page.context.set_offline(True)
    page.goto("/work/")
    expect(page.get_by_role("heading", name="No connection")).to_be_visible()
    complaints.lines = [
        line for line in complaints.lines if not line.startswith("503 ")
    ]  # the page "No connection", twice
