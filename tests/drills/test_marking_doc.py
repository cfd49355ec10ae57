"""The documentation shows the marking table that the code uses, and its examples of answers are read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from drills.marking_doc import marking_tables
from drills.marking_rules import marking_rules
from tunes.harmony.answers.reader import read_answer

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "marking.md").read_text(encoding="utf-8")


def test_the_page_shows_every_rule_as_it_is() -> None:
    tables = marking_tables()
    assert PAGE.endswith(tables), "write marking_tables() anew at the end of docs/marking.md"
    assert all(f"| {rule.name} |" in tables for rule in marking_rules().values())


EXAMPLES = re.findall(r"`([^`]+)`", PAGE[PAGE.index("| You mean") : PAGE.index("Degrees are counted")])


@pytest.mark.parametrize("text", EXAMPLES)
def test_every_example_of_an_answer_is_read(text: str) -> None:
    reading = read_answer(text)
    assert reading.answer is not None, reading.echo
