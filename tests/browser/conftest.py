"""Real Chromium against a real server thread: pages, sign-in, accessibility.

Use `desk` (1280 wide) and `phone` (390 wide, touch) as pages, `sign_in(page, user)`, and
`assert_accessible(page)`, which looks at light and dark, at both widths.

The browser sees one typeface of the machine, DejaVu, whatever is installed: what it shows otherwise is what the site
brings along. `without_our_faces(context)` blocks those too.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, sync_playwright

FLAGS = [
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--use-fake-ui-for-media-stream",
    "--use-fake-device-for-media-stream",
    "--autoplay-policy=no-user-gesture-required",
]
WIDTHS = (1280, 390)
FONT_PLACES = ("/usr/share/fonts", "/usr/local/share/fonts", "/Library/Fonts")
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


def only_dejavu(folder: Path) -> dict[str, str]:
    """The environment of a machine that has no typeface but DejaVu, as many servers and test machines do."""
    places = (*FONT_PLACES, str(Path.home() / ".fonts"), str(Path.home() / ".local/share/fonts"))
    found = next((font.parent for place in places for font in sorted(Path(place).rglob("DejaVuSans.ttf"))), None)
    if found is None:
        raise RuntimeError("The typeface DejaVu was not found: install it (Debian: apt-get install fonts-dejavu-core).")
    conf = folder / "fonts.conf"
    conf.write_text(
        '<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd">'
        f"<fontconfig><dir>{found}</dir><cachedir>{folder / 'cache'}</cachedir></fontconfig>"
    )
    return {**os.environ, "FONTCONFIG_FILE": str(conf)}


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    flags = [*FLAGS, "--no-sandbox"] if os.geteuid() == 0 else FLAGS
    machine = only_dejavu(tmp_path_factory.mktemp("fonts"))
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=chromium_path(), args=flags, env=machine)
        yield chromium
        chromium.close()


def without_our_faces(context: BrowserContext) -> None:
    """Every typeface of the site is blocked, as some programmes' networks and readers' settings do."""
    context.route("**/*.woff2", lambda route: route.abort())


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
        options.setdefault("service_workers", "block")  # what tests cut off or hold back must not come from a copy
        context = browser.new_context(
            base_url=live_server.url,
            viewport={"width": width, "height": 844 if phone else 900},
            has_touch=phone,
            is_mobile=phone,
            **options,
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


def _violations(page: Page, options: dict[str, Any] | None = None) -> list[str]:
    results = Axe().run(page, options=options).response["violations"]
    return [
        f"{rule['id']} ({rule['impact']}): {node['target']} {node['failureSummary']}"
        for rule in results
        for node in rule["nodes"]
    ]


def sideways(page: Page) -> list[str]:
    """Where the page scrolls sideways, at its width now: with ordinary text, and with text at 200 %."""
    found = []
    for share in ("100%", "200%"):
        page.evaluate("share => { document.documentElement.style.fontSize = share; }", share)
        over = page.evaluate("document.scrollingElement.scrollWidth - document.documentElement.clientWidth")
        if over > 0:
            found.append(f"{page.url}: {over} px too wide with text at {share}: {page.evaluate(WIDEST)}")
    page.evaluate("document.documentElement.style.fontSize = ''")
    return found


# The innermost elements that stand out of the page on the right, for the message.
WIDEST = """[...document.querySelectorAll("body *")].filter((one) =>
  one.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5 && !one.closest(".table-wrap")
).slice(-3).map((one) => `${one.tagName.toLowerCase()}.${one.className.baseVal ?? one.className}`)"""


# Colours are all that differs between light and dark: the other rules are asked once at each width.
COLOURS = {"runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}}


def complaints_about(page: Page, widths: tuple[int, ...] = WIDTHS) -> list[str]:
    """What axe-core finds, in light and dark, at every width; and where the page scrolls sideways, at 200 % text too."""
    size = page.viewport_size
    found = []
    for width in widths:
        page.set_viewport_size({"width": width, "height": 900})
        for scheme, rules in (("dark", COLOURS), ("light", None)):
            page.emulate_media(color_scheme=scheme, reduced_motion="reduce")  # type: ignore[arg-type]
            found += [f"{width} px, {scheme}: {line}" for line in _violations(page, rules)]
        found += [f"{width} px: {line}" for line in sideways(page)]
    if size:
        page.set_viewport_size(size)
    return found


def assert_accessible(page: Page, *, widths: tuple[int, ...] = WIDTHS) -> None:
    """Nothing to complain about on the page as it stands."""
    found = complaints_about(page, widths)
    assert found == [], "\n".join([page.url, *found])
