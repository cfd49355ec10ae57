"""Real Chromium against a real server thread: pages, sign-in, accessibility.

Use `desk` (1280 wide) and `phone` (390 wide, touch) as pages, `sign_in(page, user)`, and
`assert_accessible(page)`, which looks at light and dark, at both widths.
"""
from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, sync_playwright

FLAGS = [
    "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--use-fake-ui-for-media-stream",
    "--use-fake-device-for-media-stream", "--autoplay-policy=no-user-gesture-required",
]
WIDTHS = (1280, 390)
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder is a browser test and may use the database from two threads."""
    for item in items:
        if "/tests/browser/" in str(item.path):
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.django_db(transaction=True))


def chromium_path() -> str:
    """The system's Chromium; TOPFORM_CHROMIUM overrides."""
    path = os.environ.get("TOPFORM_CHROMIUM") or next(filter(None, map(shutil.which, BROWSERS)), None)
    if not path:
        raise RuntimeError("No Chromium found: install it (Debian: apt-get install chromium) or set TOPFORM_CHROMIUM.")
    return path


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    flags = [*FLAGS, "--no-sandbox"] if os.geteuid() == 0 else FLAGS
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=chromium_path(), args=flags)
        yield chromium
        chromium.close()


class Complaints:
    """What the browser's console said: script errors, blocked content, answers of 500 and above."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def watch(self, page: Page) -> None:
        page.on("pageerror", lambda error: self.lines.append(f"script error: {error}"))
        page.on("console", self._console)
        page.on("response", lambda answer: answer.status >= 500 and self.lines.append(f"{answer.status} {answer.url}"))

    def _console(self, message: ConsoleMessage) -> None:
        # A refused form (422) or a cut connection also prints a line; those are what the tests are about.
        if message.type == "error" and not message.text.startswith("Failed to load resource"):
            self.lines.append(f"console: {message.text}")


@pytest.fixture
def complaints() -> Iterator[Complaints]:
    """Fails the test at its end when the browser complained. Clear `complaints.lines` where a complaint is expected."""
    found = Complaints()
    yield found
    assert found.lines == []


@pytest.fixture
def open_context(browser: Browser, live_server: Any, complaints: Complaints) -> Iterator[Callable[..., BrowserContext]]:
    """Make a browser context of a given width; each is its own device with its own cookies."""
    made: list[BrowserContext] = []

    def make(width: int = 1280, **options: Any) -> BrowserContext:
        phone = width < 600
        context = browser.new_context(
            base_url=live_server.url, viewport={"width": width, "height": 844 if phone else 900},
            has_touch=phone, is_mobile=phone, **options,
        )
        context.set_default_timeout(10_000)
        context.on("page", complaints.watch)
        made.append(context)
        return context

    yield make
    for context in made:
        context.close()


@pytest.fixture
def desk(open_context: Callable[..., BrowserContext]) -> Page:
    """A page on a laptop."""
    return open_context(1280).new_page()


@pytest.fixture
def phone(open_context: Callable[..., BrowserContext]) -> Page:
    """A page on a phone."""
    return open_context(390).new_page()


@pytest.fixture
def sign_in(live_server: Any) -> Callable[[Page, Any], None]:
    """Give the page's device a session of `user`, without the form."""

    def do(page: Page, user: Any) -> None:
        client = Client()
        client.force_login(user)
        cookie = client.cookies[settings.SESSION_COOKIE_NAME].value
        page.context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": cookie, "url": live_server.url}])

    return do


def _violations(page: Page) -> list[str]:
    results = Axe().run(page).response["violations"]
    return [
        f"{rule['id']} ({rule['impact']}): {node['target']} {node['failureSummary']}"
        for rule in results for node in rule["nodes"]
    ]


def assert_accessible(page: Page, *, widths: tuple[int, ...] = WIDTHS) -> None:
    """axe-core finds nothing, in light and dark, at every width; and the page does not scroll sideways."""
    size = page.viewport_size
    found = []
    for width in widths:
        page.set_viewport_size({"width": width, "height": 900})
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme, reduced_motion="reduce")  # type: ignore[arg-type]
            found += [f"{width} px, {scheme}: {line}" for line in _violations(page)]
        overflow = page.evaluate("document.scrollingElement.scrollWidth - window.innerWidth")
        if overflow > 0:
            found.append(f"{width} px: the page is {overflow} px too wide")
    page.emulate_media(color_scheme="light")
    if size:
        page.set_viewport_size(size)
    assert found == [], "\n".join([page.url, *found])
