"""The pictures of the README, made from the demo:

    .venv/bin/python tools/pictures.py                        starts a demo of its own
    .venv/bin/python tools/pictures.py --at http://localhost:8000

Needs the developers' requirements and Chromium. Writes docs/pictures/*.webp and prints their sizes.
"""

from __future__ import annotations

import argparse
import io
import re
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, FloatRect, Locator, Page

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
from tests.bench.demo_site import browser, demo_site, signed_in  # noqa: E402

FOLDER = ROOT / "docs" / "pictures"
MOST_BYTES = 600_000  # all of them
QUALITY = 82
EDGE = 12  # pixels of paper around a part of a page
TALLEST = 900
SCALE = 1.5


@dataclass(frozen=True)
class Picture:
    """One picture: whose page, how wide, and what opens it and says which parts are shown (none: the window)."""

    name: str
    who: str
    width: int
    height: int
    show: Callable[[Page], list[Locator]]


def chart(page: Page) -> list[Locator]:
    page.goto("/tunes/")
    page.get_by_role("link", name="Cobalt Street").first.click()
    page.goto(page.url + "?for=concert")
    return [page.locator("#chart")]


def quiz(page: Page) -> list[Locator]:
    page.goto("/work/")
    row = page.locator(".asked-grid tr", has_text="Side Street Almanac")
    row.get_by_role("link", name=re.compile("Function")).click()
    page.wait_for_load_state()
    main = page.locator("main")
    begin = main.get_by_role("button", name=re.compile("Begin")).or_(main.get_by_role("link", name=re.compile("Go on")))
    begin.first.click()
    fields = page.locator("#quiz input[type=text]")
    for number, answer in enumerate(("1", "4 minor", "flat 7", "1", "3")):
        fields.nth(number).fill(answer)
    page.wait_for_timeout(1500)  # how it was understood comes from the server
    return []


def review(page: Page) -> list[Locator]:
    page.goto("/work/review/?kind=function")
    missed = page.locator("[data-queue] tbody tr:not(.queue__head)").filter(has_not_text="100%")
    missed.locator("a").first.click()
    page.get_by_role("button", name="I have read it").click()  # the caution comes with the sound
    page.get_by_role("link", name="First to look at").click()
    return [page.locator(".on-chart")]


def ledger(page: Page) -> list[Locator]:
    page.goto("/work/ledger/")
    return [page.locator(".ledger-head"), page.locator(".ledger")]


PICTURES = (
    Picture("chart", "teodor", 1280, 900, chart),
    Picture("quiz", "ruta", 390, 844, quiz),
    Picture("review", "teodor", 1280, 900, review),
    Picture("ledger", "teodor", 1280, 900, ledger),
)


def _around(page: Page, parts: list[Locator], wanted: Picture) -> FloatRect:
    """The rectangle that holds these parts, with some paper around it."""
    page.evaluate("scrollTo(0, 0)")
    boxes = [box for part in parts if (box := part.bounding_box())]
    if len(boxes) < len(parts):
        raise SystemExit(f"{wanted.name}: there is nothing to show on {page.url}.")
    left, top = (min(box[side] for box in boxes) - EDGE for side in ("x", "y"))
    right = max(box["x"] + box["width"] for box in boxes) + EDGE
    bottom = max(box["y"] + box["height"] for box in boxes) + EDGE
    return {
        "x": max(0, left), "y": max(0, top), "width": min(wanted.width, right - left), "height": min(TALLEST, bottom - top),
    }  # fmt: skip


def taken(found: Browser, address: str, wanted: Picture) -> bytes:
    """The picture as webp."""
    page = signed_in(found, address, wanted.who, wanted.width, wanted.height, device_scale_factor=SCALE)
    parts = wanted.show(page)
    page.wait_for_load_state("networkidle")
    page.mouse.move(0, 0)
    shot = page.screenshot(clip=_around(page, parts, wanted), full_page=True) if parts else page.screenshot()
    page.context.close()
    made = io.BytesIO()
    Image.open(io.BytesIO(shot)).convert("RGB").save(made, "WEBP", quality=QUALITY, method=6)
    return made.getvalue()


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--at", default="", help="a demo that is running already")
    FOLDER.mkdir(parents=True, exist_ok=True)
    total = 0
    with demo_site(options.parse_args().at) as address, browser() as found:
        for wanted in PICTURES:
            data = taken(found, address, wanted)
            (FOLDER / f"{wanted.name}.webp").write_bytes(data)
            total += len(data)
            print(f"{wanted.name}.webp  {len(data) / 1000:.0f} kB")
    print(f"together {total / 1000:.0f} kB")
    if total > MOST_BYTES:
        raise SystemExit(f"That is more than {MOST_BYTES / 1000:.0f} kB: show less.")


if __name__ == "__main__":
    main()
