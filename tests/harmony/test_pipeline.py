"""The order of the analysis: passes are pure, each says what it sets, and nothing is set in secret."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest

from tests.harmony import golden
from tunes.harmony.__main__ import history, main
from tunes.harmony.analysis.passes.draft import Draft
from tunes.harmony.analysis.pipeline import PASSES, analyse, trace
from tunes.harmony.charts import Chart, parse_chart

CHARTS = [golden.split(path)[0] for path in golden.files()[::8]]


def chart_of(text: str) -> Chart:
    found = parse_chart(text).chart
    assert found is not None
    return found


@pytest.mark.parametrize("text", CHARTS, ids=range(len(CHARTS)))
def test_a_pass_changes_nothing_of_the_draft_before_it(text: str) -> None:
    """What is handed on is the same after the later passes have run as when it was handed on."""
    kept = [(one.name, draft, _copy(draft)) for one, draft in trace(chart_of(text))]
    assert [name for name, _, _ in kept] == ["preparation", *(one.name for one in PASSES)]
    for name, draft, copy in kept:
        assert _copy(draft) == copy, name
    last = kept[-1][1]
    found = analyse(chart_of(text))
    assert (last.readings, last.areas, last.landing) == (found.readings, found.areas, found.landing)
    assert len(last.set_by) == len(found.readings)
    assert set(last.set_by) <= {one.name for one in PASSES}


def _copy(draft: Draft) -> dict[str, object]:
    fields = {
        field.name: getattr(draft, field.name) for field in dataclasses.fields(draft) if field.name != "key_names"
    }
    return {name: tuple(value) if isinstance(value, list) else value for name, value in fields.items()}


def test_passes_have_names_of_their_own() -> None:
    assert len({one.name for one in PASSES}) == len(PASSES)
    assert all(one.says for one in PASSES)


@pytest.mark.parametrize(("text", "chord", "passed"), [
    ("key: C major\n| Cmaj7 | G7sus G7 | Cmaj7 | % |", 1, "suspended"),
    ("key: C major\n| C7 | F7 | C7 | G7 | C7 | F7 | C7 | G7 |", 3, "into-the-blues"),
    ("key: A minor\n| Am | AmMaj7 | Am7 | Am6 | Dm7 | E7 | Am | % |", 1, "patterns"),
    ("key: C major\n| Cmaj7 | Am7 | Dm7 | G7 |", 2, "names"),
])  # fmt: skip
def test_a_label_remembers_the_pass_that_set_it(text: str, chord: int, passed: str) -> None:
    *_, (_, last) = trace(chart_of(text))
    assert last.set_by[chord] == passed


def test_the_history_of_a_label_is_told(capsys: pytest.CaptureFixture[str], tmp_path) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "chart.txt"
    path.write_text("key: C major\n| Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | N.C. |")
    assert main(["--trace", str(path)]) == 0
    said = capsys.readouterr().out
    assert "A7 in bar 2, named by names" in said
    assert "goal Dm7 in bar 3 by fifth" in said
    assert "name V7/ii, rule applied, way direct" in said
    assert re.search(r"sure \d+%, else \S+ in bar \d", said)  # the next best goal
    assert "    5 of 2 falls a fifth to 2. A Mixolydian" in said  # the sentence and the scale
    assert any(line.startswith("N.C.") for line in history(chart_of(path.read_text())))
    assert list(trace(chart_of("| N.C. |"))) == []


def test_the_worked_example_of_the_handbook_is_what_the_engine_says() -> None:
    """docs/harmony.md leads through one history; it is compared with the real one."""
    page = (Path(__file__).parents[2] / "docs" / "harmony.md").read_text(encoding="utf-8")
    block = page[page.index("Bbmaj7 in bar 3, named by") :].split("\n\n")[0]
    told = list(history(chart_of("key: F major\n| Fmaj7 | Cm7 F7 | Bbmaj7 | Gm7 C7 | Fmaj7 |")))
    at = next(place for place, line in enumerate(told) if line.startswith("Bbmaj7"))
    shown = [line.strip() for line in block.splitlines()]
    assert [line.strip() for line in told[at : at + len(shown)]] == shown
