"""What a page that plays costs: processor time of Chromium while the band plays in it, and while the same page stands still.

python -m tests.bench.band_page URL E-MAIL PASSWORD [SECONDS]      # a running site: manage.py demo; 30 seconds without

The page of the band of the first tune is opened, Play is pressed, and the time of all of Chromium's processes is taken from /proc (Linux)
over the stretch. Prints shares of one core; asserts nothing.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests.browser.conftest import FLAGS, chromium_path

TICK = os.sysconf("SC_CLK_TCK")


def family(pid: int) -> set[int]:
    """A process and everything it started."""
    parents: dict[int, int] = {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            parents[int(folder.name)] = int((folder / "stat").read_text().rpartition(")")[2].split()[1])
        except (FileNotFoundError, ProcessLookupError):
            continue  # it ended meanwhile
    found = {pid}
    while more := {child for child, parent in parents.items() if parent in found} - found:
        found |= more
    return found


def spent(pid: int) -> dict[int, float]:
    """Seconds of processor by process, so far."""
    found = {}
    for one in family(pid):
        try:
            fields = Path(f"/proc/{one}/stat").read_text().rpartition(")")[2].split()
        except (FileNotFoundError, ProcessLookupError):
            continue
        found[one] = (int(fields[11]) + int(fields[12])) / TICK
    return found


def share(page: Page, pid: int, seconds: float) -> float:
    """Of one core, over a stretch."""
    before, begun = spent(pid), time.perf_counter()
    page.wait_for_timeout(seconds * 1000)
    after = spent(pid)
    return sum(after[one] - before.get(one, 0.0) for one in after) / (time.perf_counter() - begun)


def main(url: str, email: str, password: str, seconds: float = 30) -> None:
    folder = tempfile.mkdtemp()
    flags = [
        *FLAGS,
        "--no-sandbox",
        "--headless=new",
        "--remote-debugging-port=0",
        f"--user-data-dir={folder}",
        "about:blank",
    ]
    started = subprocess.Popen([chromium_path(), *flags], stderr=subprocess.PIPE, text=True)
    assert started.stderr is not None
    try:
        address = next(found[0] for line in started.stderr if (found := re.findall(r"ws://\S+", line)))
        with sync_playwright() as playwright:
            browser = playwright.chromium.connect_over_cdp(address)
            page = browser.contexts[0].new_page()
            page.goto(f"{url}/account/login/")
            page.locator("[name=login]").fill(email)
            page.locator("[name=password]").fill(password)
            page.get_by_role("button", name="Sign in", exact=True).click()
            page.wait_for_load_state()
            page.goto(f"{url}/tunes/")
            links = page.locator("main a[href^='/tunes/']").evaluate_all(
                "all => all.map((one) => one.getAttribute('href'))"
            )
            for tune in [
                link for link in links if re.fullmatch(r"/tunes/\d+/", link)
            ]:  # chords of a tune may be held back
                page.goto(f"{url}{tune}")
                if page.locator("a[href*='/band/']").count():
                    break
            page.goto(url + str(page.locator("a[href*='/band/']").first.get_attribute("href")))
            page.locator("[data-band][data-ready]").wait_for()
            page.wait_for_timeout(5000)
            print(f"{page.title()}, load of the machine {os.getloadavg()[0]:.1f}")
            print(f"standing still: {share(page, started.pid, seconds / 2):.1%} of a core")
            page.get_by_role("button", name="Play", exact=True).click()
            page.locator("#band-chart .bar.is-now").wait_for(timeout=30_000)
            page.wait_for_timeout(2000)
            print(f"playing:        {share(page, started.pid, seconds):.1%} of a core")
    finally:
        started.terminate()
        started.wait()


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], sys.argv[3], *(float(one) for one in sys.argv[4:5]))
