"""Every page of the access table in the browser: axe-core finds nothing, nothing is wider than a phone, no script fails."""
from __future__ import annotations

from collections.abc import Callable
from types import ModuleType
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import BrowserContext, Page

from tests.access import ROLES, Access, World, make_world, sign_everyone_in
from tests.browser.conftest import Complaints, assert_accessible
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


def look(page: Page, address: str, complaints: Complaints) -> list[str]:
    """What is wrong with one page."""
    page.goto(address)
    found: list[str] = []
    try:
        assert_accessible(page)
    except AssertionError as error:
        found.append(str(error))
    found += [f"{address} {line}" for line in complaints.lines]
    complaints.lines.clear()
    return found


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__.rpartition(".")[2])
def test_pages_are_accessible(
    module: ModuleType, open_context: Callable[..., BrowserContext], sign_in: Callable[[Page, Any], None],
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
