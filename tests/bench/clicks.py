"""How many presses the week's tasks take, in a real browser over the demo.

    .venv/bin/python tests/bench/clicks.py
    .venv/bin/python tests/bench/clicks.py --at http://localhost:8000     a demo that is running already

A press is a click or a key that acts (Enter, Ctrl+Enter); typing words and choosing from a list that is open are not counted,
moving into a field by a press is. Aims: five steps for two ensembles in 12, a term carried over in 6, one attempt reviewed
with one comment in 4, a player from the filled sign-in to the first answer in 3.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser, Locator, Page, expect

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
from tests.bench.demo_site import browser, demo_site, fill_sign_in, signed_in  # noqa: E402


@dataclass
class Hand:
    """A page that counts what is pressed on it."""

    page: Page
    presses: int = 0

    def press(self, what: Locator) -> None:
        self.presses += 1
        what.click()

    def key(self, keys: str) -> None:
        self.presses += 1
        self.page.keyboard.press(keys)


def assign(found: Browser, address: str) -> int:
    """Five steps of one tune for two ensembles, from the desk."""
    page = signed_in(found, address, "teodor")
    hand, main = Hand(page), page.locator("main")
    page.goto("/work/")
    hand.press(page.get_by_role("navigation", name="Main").get_by_role("link", name="Assignments"))
    hand.press(main.get_by_role("link", name="Assign a tune"))
    hand.press(main.get_by_role("link", name="Rehearsal Letter J"))
    for box in main.locator("[name=ensemble]").all()[:2]:
        if not box.is_checked():
            hand.press(box)
    steps = main.locator("[data-step]:visible")
    while steps.count() > 5:
        hand.press(steps.last.get_by_role("button", name="Take out"))
    hand.press(main.get_by_role("button", name="Assign it"))
    expect(page.locator("#messages")).to_contain_text("Assigned to")
    return hand.presses


def carry(found: Browser, address: str) -> int:
    """The next term out of the last one, from the desk; its name and days are proposed or typed."""
    page = signed_in(found, address, "marit")
    hand, main = Hand(page), page.locator("main")
    page.goto("/work/overview/")
    hand.press(page.get_by_role("navigation", name="Main").get_by_role("link", name="People"))
    hand.press(main.get_by_role("link", name="Terms and ensembles"))
    hand.press(main.get_by_role("link", name="New term from the last one"))
    if not main.get_by_label("Name").input_value():
        hand.press(main.get_by_label("Name"))
        page.keyboard.type("The term after")
    hand.press(main.get_by_role("button", name="Look at it first"))
    hand.press(main.get_by_role("button", name="Make the term"))
    expect(page.locator("#messages")).to_contain_text("term")
    return hand.presses


def review(found: Browser, address: str) -> int:
    """The oldest sheet with one comment at a chord, from the queue."""
    page = signed_in(found, address, "teodor")
    hand = Hand(page)
    page.goto("/work/review/?kind=function")
    missed = page.locator("[data-queue] tbody tr:not(.queue__head)").filter(has_not_text="100%")
    hand.press(missed.locator("a").first)
    hand.press(page.get_by_role("link", name="First to look at"))
    hand.press(page.locator(".why--open [data-comment-here] summary, .why:target [data-comment-here] summary").first)
    expect(page.locator("textarea:focus")).to_be_visible()
    page.keyboard.type("Hear the bass here.")
    hand.press(page.get_by_role("button", name="Add, and reviewed").locator("visible=true").first)
    expect(page.get_by_text("Reviewed: ")).to_be_visible()
    return hand.presses


def first_answer(found: Browser, address: str) -> int:
    """A player from the filled form of signing in to the first answer."""
    page = found.new_context(base_url=address, viewport={"width": 390, "height": 844}).new_page()
    hand = Hand(page)
    fill_sign_in(page, "noor")
    hand.key("Enter")
    page.wait_for_url("**/work/")
    hand.press(page.locator(".dayplan__line", has_text="Answer").first.locator(".dayplan__link"))
    page.wait_for_load_state()
    field = page.locator("#quiz input[type=text]").first
    if not field.count():
        hand.press(page.get_by_role("button", name="Begin").first)
    field.wait_for()
    if not page.evaluate("document.activeElement?.closest('#quiz') !== null"):
        field.focus()  # Tab
    page.keyboard.type("1")
    return hand.presses


@dataclass(frozen=True)
class Errand:
    words: str
    aim: int
    run: Callable[[Browser, str], int]


ERRANDS = (
    Errand("five steps of a tune to two ensembles", 12, assign),
    Errand("one attempt reviewed with one comment", 4, review),
    Errand("a player from sign-in to the first answer", 3, first_answer),
    Errand("a term carried over", 6, carry),
)


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--at", default="", help="a demo that is running already")
    more = 0
    with demo_site(options.parse_args().at) as address, browser() as found:
        for errand in ERRANDS:
            presses = errand.run(found, address)
            more += presses > errand.aim
            print(
                f"{presses:3d} of {errand.aim:2d}  {errand.words}{'  MORE' if presses > errand.aim else ''}", flush=True
            )
    return more


if __name__ == "__main__":
    sys.exit(main())
