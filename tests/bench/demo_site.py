"""The demo on a port of its own, with a browser that signs people in: for measuring by hand and for pictures."""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.error import URLError

from playwright.sync_api import Browser, Page, sync_playwright

from tests.bench.crash_site import environment

ROOT = Path(__file__).resolve().parents[2]
PASSWORD = "demo-programme"
CHROMIUM = "/usr/bin/chromium"
START_SECONDS = 300


@contextmanager
def demo_site(at: str = "") -> Iterator[str]:
    """The address of a demo that was made for this, or of the one that is running already at `at`."""
    if at:
        yield at.rstrip("/")
        return
    folder = Path(tempfile.mkdtemp(prefix="topform-demo-"))
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "manage.py", "demo", "--port", str(port)]
    process = subprocess.Popen(command, cwd=ROOT, env=environment(folder), stdout=subprocess.DEVNULL)
    try:
        address = f"http://127.0.0.1:{port}"
        _wait(address, process)
        yield address
    finally:
        process.terminate()
        process.wait(timeout=60)
        shutil.rmtree(folder, ignore_errors=True)


def _wait(address: str, process: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + START_SECONDS
    while time.monotonic() < until and process.poll() is None:
        try:
            with urllib.request.urlopen(f"{address}/livez", timeout=5):
                return
        except (URLError, OSError):
            time.sleep(0.5)
    raise SystemExit("The demo did not start.")


@contextmanager
def browser() -> Iterator[Browser]:
    """A Chromium without its sandbox, as in the tests."""
    with sync_playwright() as playwright:
        executable = CHROMIUM if Path(CHROMIUM).exists() else None
        found = playwright.chromium.launch(executable_path=executable, args=["--no-sandbox"])
        try:
            yield found
        finally:
            found.close()


def fill_sign_in(page: Page, who: str) -> None:
    """The form of signing in, filled and not yet sent."""
    page.goto("/account/login/")
    page.locator("[name=login]").fill(f"{who}@demo.example")
    page.locator("[name=password]").fill(PASSWORD)


def signed_in(found: Browser, address: str, who: str, width: int = 1280, height: int = 900, **more: object) -> Page:
    """A page of somebody of the demo on a device of their own."""
    context = found.new_context(base_url=address, viewport={"width": width, "height": height}, **more)  # type: ignore[arg-type]
    page = context.new_page()
    fill_sign_in(page, who)
    page.keyboard.press("Enter")
    page.wait_for_url(lambda url: "/account/login" not in url)
    return page
