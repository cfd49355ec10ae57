"""Every page of the access table in the browser: axe-core finds nothing, nothing scrolls sideways even with text at 200 %,
and the console stays empty (scripts, content security), also after the page has swapped something in."""

from __future__ import annotations

from collections.abc import Callable
from types import ModuleType
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import BrowserContext, Page

from tests.access import ROLES, Access, World, make_world, sign_everyone_in
from tests.browser.conftest import Complaints, complaints_about
from tests.test_access import MODULES


def roles_that_see(row: Access) -> list[str]:
    """As whom the page is opened: an instructor, who sees most of it, and a player, who sees it otherwise."""
    order = ("instructor", "player", "director", *ROLES)
    seeing = [role for role in order if row.get and row.get[role] == 200]
    return [role for role in ("instructor", "player") if role in seeing] or seeing[:1]


def is_page(world: World, role: str, address: str) -> bool:
    """True for HTML pages; files, feeds and parts of a page are somebody else's business."""
    response = world.clients[role].get(address)
    is_html = response.headers.get("Content-Type", "").startswith("text/html")
    return response.status_code == 200 and is_html and not response.streaming and b"<html" in response.content


# What htmx would fetch on this page, one address of each kind, swapped in as the page would.
SWAPS = """async () => {
  const kinds = new Map();
  for (const one of document.querySelectorAll("[hx-get]")) {
    const target = one.getAttribute("hx-target") ?? one.closest("[hx-target\\\\:inherited]")?.getAttribute("hx-target:inherited");
    const kind = one.getAttribute("hx-get").replace(/\\d+/g, "N").split("?")[0];
    if (target?.startsWith("#")) kinds.set(kind, [one.getAttribute("hx-get"), target, one.getAttribute("hx-swap") ?? "innerHTML"]);
  }
  for (const [address, target, swap] of kinds.values()) {
    if (document.querySelector(target)) await window.htmx.ajax("GET", address, { target, swap }); // a swap may take another's place away
  }
}"""


def look(page: Page, address: str, complaints: Complaints) -> list[str]:
    """What is wrong with one page, and with what it swaps in."""
    page.goto(address)
    found = [f"{address} {line}" for line in complaints_about(page)]
    page.evaluate(SWAPS)
    found += [f"{address} {line}" for line in complaints.lines]
    complaints.lines.clear()
    return found


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__.rpartition(".")[2])
def test_pages_are_accessible(
    module: ModuleType,
    open_context: Callable[..., BrowserContext],
    sign_in: Callable[[Page, Any], None],
    complaints: Complaints,
) -> None:
    world = make_world()
    for other in MODULES:
        if hasattr(other, "build"):
            other.build(world)
    sign_everyone_in(world)
    pages: dict[str, Page] = {}
    found: list[str] = []
    for row, role in [(listed, seeing) for listed in module.ROWS for seeing in roles_that_see(listed)]:
        address = reverse(row.route, kwargs=row.kwargs(world)) + row.query
        if not is_page(world, role, address):
            continue
        if role not in pages:
            pages[role] = open_context(1280).new_page()
            if role != "signed_out":
                sign_in(pages[role], world.people[role])
        found += look(pages[role], address, complaints)
    assert found == [], "\n\n".join(found)
