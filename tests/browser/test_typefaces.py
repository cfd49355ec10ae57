"""Our typefaces: every text is set in them, the critical pages hold with and without them, and no chord meets another.

"Without" is a machine that has DejaVu alone and a reader whose network blocks the site's own faces: the widest letters
that our pages are likely to be set in.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

import pypdfium2
import pytest
from django.urls import reverse
from playwright.sync_api import BrowserContext, Page, expect

from tests import factories
from tests.browser.conftest import sideways, without_our_faces
from tests.browser.test_quiz_phone import LONG

OpenContext = Callable[..., BrowserContext]
SignIn = Callable[[Page, Any], None]
FACES = ("our faces", "DejaVu alone")


@pytest.fixture(params=FACES)
def faces(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def device(open_context: OpenContext, sign_in: SignIn, faces: str) -> Callable[[int, Any], Page]:
    """A page of a given width on a device of one person."""

    def make(width: int, person: Any) -> Page:
        context = open_context(width)
        if faces == "DejaVu alone":
            without_our_faces(context)
        page = context.new_page()
        sign_in(page, person)
        return page

    return make


class Stage:
    """An ensemble with a 32-bar tune, three versions of it, an open quiz and a handed-in one."""

    def __init__(self) -> None:
        ensemble = factories.make_ensemble("Tuesday Combo")
        self.player = factories.make_player(ensemble, "Pia Player", instrument="alto-sax")
        self.leader = factories.make_instructor(ensemble, "Ines Instructor")
        revision = factories.make_chart_revision("A Harbour of Thirty-Two Bars", text=LONG)
        tune = revision.version.tune
        for name in ("with substitutes", "late take"):
            factories.make_version(tune, LONG.replace("Gm7 C7 |", "Gm7 Gb7 |"), name=name)
        work = factories.make_assignment(ensemble, by=self.leader, revision=revision, kinds=("form", "key-areas"))
        done = factories.make_attempt(
            work.steps.get(kind="form"), self.player, answers={"form:0": "AABA"}, hand_in=True
        )
        quiz = factories.make_attempt(work.steps.get(kind="key-areas"), self.player)
        self.printed = {
            "chart": reverse("tunes:tune", args=[tune.pk]),
            "memory sheet": reverse("tunes:memory-sheet", args=[tune.pk]),
            "card": reverse("tunes:jam-card", args=[tune.pk]),
        }
        self.pages = {
            **{name: (self.leader, address) for name, address in self.printed.items()},
            "quiz": (self.player, reverse("work:attempt", args=[quiz.pk])),
            "player's tune": (self.player, reverse("tunes:tune", args=[tune.pk])),
            "drill": (self.leader, reverse("drills:drill", args=[revision.pk])),
            "ledger": (self.leader, reverse("work:ledger")),
            "queue": (self.leader, reverse("work:queue")),
            "review": (self.leader, reverse("work:sheet", args=[done.pk])),
        }


@pytest.fixture
def stage(transactional_db: None) -> Stage:
    return Stage()


def shown(page: Page, address: str) -> None:
    answer = page.goto(address)
    assert answer is not None
    assert answer.status == 200, address
    page.wait_for_load_state("load")
    page.evaluate("document.fonts.ready.then(() => true)")


@pytest.mark.parametrize("width", [1280, 390])
def test_critical_pages_hold(stage: Stage, device: Callable[[int, Any], Page], width: int) -> None:
    """Nothing scrolls sideways, at ordinary and at double text."""
    found = []
    devices = {person: device(width, person) for person in (stage.player, stage.leader)}
    for name, (person, address) in stage.pages.items():
        page = devices[person]
        shown(page, address)
        found += [f"{name}: {line}" for line in sideways(page)]
    assert found == [], "\n".join(found)


# What has no business on paper: things to press, and boxes that float over what stands beneath them.
ON_PAPER = """() => [...document.querySelectorAll("main *")].filter((one) => !one.matches("th") && one.checkVisibility({ visibilityProperty: true }))
  .filter((one) => one.matches("button, select, summary, .no-print") || /sticky|fixed/.test(getComputedStyle(one).position))
  .map((one) => one.outerHTML.slice(0, 120))"""


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_sheets_print_on_one_page(stage: Stage, device: Callable[[int, Any], Page], paper: str) -> None:
    """The chart and its sheets, and what is set, practised, marked and kept of it, with nothing of the screen on them."""
    found = []
    devices = {person: device(1280, person) for person in (stage.player, stage.leader)}
    for name in (*stage.printed, "quiz", "drill", "ledger", "review"):
        person, address = stage.pages[name]
        page = devices[person]
        shown(page, address)
        printed = pypdfium2.PdfDocument(page.pdf(format=paper, prefer_css_page_size=False))
        found += [f"{name}: {len(printed)} sheets"] if len(printed) > 1 else []
        if name != "review":
            assert "Harbour" in printed[0].get_textpage().get_text_bounded(), name
        page.emulate_media(media="print")
        found += [f"{name}: {line}" for line in page.evaluate(ON_PAPER)]
        page.emulate_media(media="null")  # "screen" would print the next page as a screen shows it
    assert found == [], "\n".join(found)


# Marks the elements whose own text has a sign not yet asked about in the same face: a hundred questions, not thousands.
TO_ASK = """() => {
  const asked = new Set();
  for (const one of document.querySelectorAll("body *:not(script, option)")) {
    const text = [...one.childNodes].filter((node) => node.nodeType === 3).map((node) => node.data).join("").trim();
    const look = getComputedStyle(one);
    const face = `${look.fontFamily} ${look.fontWeight} ${look.fontStyle} `;
    const signs = [...text].filter((sign) => !asked.has(face + sign));
    if (!signs.length) continue;
    for (const sign of signs) asked.add(face + sign);
    one.setAttribute("data-ask", "");
  }
}"""


def faces_used(page: Page) -> dict[str, str]:
    """Typefaces of the machine that the browser set any text of the page in, each with one such text."""
    page.evaluate("document.querySelectorAll('kbd, code, samp, textarea').forEach((one) => one.remove())")
    page.evaluate(TO_ASK)
    session = page.context.new_cdp_session(page)
    session.send("DOM.enable")
    session.send("CSS.enable")
    root = session.send("DOM.getDocument")["root"]["nodeId"]
    used: dict[str, str] = {}
    for node in session.send("DOM.querySelectorAll", {"nodeId": root, "selector": "[data-ask]"})["nodeIds"]:
        for font in session.send("CSS.getPlatformFontsForNode", {"nodeId": node})["fonts"]:
            if not font["isCustomFont"] and font["familyName"] not in used:
                used[font["familyName"]] = session.send("DOM.getOuterHTML", {"nodeId": node})["outerHTML"][:300]
    return used


def test_every_text_is_set_in_our_faces(stage: Stage, open_context: OpenContext, sign_in: SignIn) -> None:
    """Asked of the browser, text by text: no sign (♭ ♯ ♮ ° ø △ →) comes from the machine. What is
    typed in may: keys, codes and the text of a chart are in the machine's typewriter face."""
    used: dict[str, str] = {}
    for person in (stage.player, stage.leader):
        page = open_context(1280).new_page()
        sign_in(page, person)
        for owner, address in stage.pages.values():
            if owner is person:
                shown(page, address)
                used |= faces_used(page)
    assert used == {}


def bars(seed: int, count: int) -> str:
    """`count` bars of one to four chords: any root, any kind, one in four over another bass."""
    draw = random.Random(seed)
    kinds = (
        "", "m", "7", "m7", "maj7", "6", "m6", "m7b5", "dim7", "7sus4", "aug", "m(maj7)", "maj7(#11)", "7(b9,#11)",
        "13(#11)", "7alt", "m9", "maj9", "6/9", "7(#9,b13)",
    )  # fmt: skip
    roots = [
        letter + sign
        for letter in "ABCDEFG"
        for sign in ("", "b", "#")
        if letter + sign not in ("Fb", "B#", "E#", "Cb")
    ]

    def chord() -> str:
        bass = f"/{draw.choice(roots)}" if draw.random() < 0.25 else ""
        return draw.choice(roots) + draw.choice(kinds) + bass

    made = [" ".join(chord() for _ in range(draw.choice((1, 1, 2, 2, 2, 4)))) for _ in range(count)]
    lines = ["| " + " | ".join(made[at : at + 4]) + " |" for at in range(0, count, 4)]
    return "key: C major\n\nA:\n" + "\n".join(lines)


# Ink of every chord, and the room it has: to the next chord of the bar, at the end to the bar line.
COLLISIONS = """(root) => {
  const found = [];
  let smallest = 99, count = 0;
  for (const slots of document.querySelectorAll(root + " .bar__slots")) {
    const line = slots.getBoundingClientRect();
    const boxes = [...slots.querySelectorAll(".slot > .chord > [aria-hidden]")].map((chord) => {
      const range = document.createRange();
      range.selectNodeContents(chord);
      smallest = Math.min(smallest, parseFloat(getComputedStyle(chord).fontSize));
      count += 1;
      return { text: chord.textContent, box: range.getBoundingClientRect() };
    });
    boxes.forEach(({ text, box }, place) => {
      const room = place + 1 < boxes.length ? boxes[place + 1].box.left : line.right - 1.5;
      if (box.right > room) found.push(`${text} reaches ${(box.right - room).toFixed(1)} px too far`);
      if (box.left < line.left) found.push(`${text} begins before its bar`);
    });
  }
  return { found, smallest, count };
}"""


@pytest.mark.parametrize("width", [1280, 390])
def test_no_chord_meets_another_or_a_bar_line(
    transactional_db: None,
    device: Callable[[int, Any], Page],
    width: int,
) -> None:
    """200 bars drawn at random: on the page, in full and drawn close, and in the editor's preview."""
    leader = factories.make_instructor(factories.make_ensemble(), "Ines")
    tune = factories.make_tune("Alder", key="C major")
    text = bars(seed=7, count=200)
    factories.make_version(tune, text)
    page = device(width, leader)
    shown(page, reverse("tunes:tune", args=[tune.pk]))
    drawn = page.evaluate(COLLISIONS, "#chart")
    assert drawn["count"] >= 200
    assert drawn["found"] == [], "\n".join(drawn["found"])
    shown(page, reverse("tunes:tune", args=[tune.pk]) + "?show=compact")
    drawn = page.evaluate(COLLISIONS, "#chart")
    assert drawn["found"] == [], "\n".join(drawn["found"])
    shown(page, reverse("tunes:tune", args=[tune.pk]) + "charts/new/")
    page.get_by_label("The chart").fill(text)
    expect(page.locator("#preview .bar")).to_have_count(200)
    drawn = page.evaluate(COLLISIONS, "#preview")
    assert drawn["found"] == [], "\n".join(drawn["found"])


def test_a_chord_stands_at_full_size_where_there_is_room(stage: Stage, desk: Page, sign_in: SignIn) -> None:
    """1.7 times the text, the root semibold: what was decided for a desk."""
    sign_in(desk, stage.leader)
    shown(desk, stage.printed["chart"])
    chord = desk.locator("#chart .slot > .chord").first
    assert chord.evaluate("one => getComputedStyle(one).fontSize") == "27.2px"
    assert chord.locator(".chord__root").evaluate("one => getComputedStyle(one).fontWeight") == "600"
