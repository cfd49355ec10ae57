"""Every bench that measures a file says so when it is run without one: one line, exit code 2."""

from __future__ import annotations

import runpy
import sys
from pathlib import Path

import pytest

NEEDS = {
    "answers": "a table of answers",
    "degree_profiles": "SOLOS.json.gz",
    "engine": "CHARTS.json",
    "fit": "--gold DIR",
    "idioms": "CHARTS.json",
    "solo_figures": "SOLOS.json.gz",
    "vocabulary": "CHARTS.json",
}
NEEDS_NOTHING = {
    "alignment", "band", "band_page", "band_sound", "clicks", "cluster", "crash", "crash_site", "drills", "hearing", "interchange", "load", "opening", "power", "preview", "recordings", "scale", "score", "slow",
    "solo_files", "takes_at_once",
}  # fmt: skip
PARTS = {
    "__init__",
    "bare",
    "corpus",
    "demo_site",
    "given",
    "hearing_sources",
    "load_settings",
    "scale_site",
    "sending",
    "solos",
}  # of other benches; run by themselves they do nothing
FOLDER = Path(__file__).resolve().parent / "bench"


def test_every_bench_is_in_the_table() -> None:
    found = {path.stem for path in FOLDER.glob("*.py")}
    assert found == set(NEEDS) | NEEDS_NOTHING | PARTS
    runnable = {path.stem for path in FOLDER.glob("*.py") if '__name__ == "__main__"' in path.read_text("utf-8")}
    assert runnable == set(NEEDS) | NEEDS_NOTHING


@pytest.mark.parametrize("name", sorted(NEEDS))
def test_a_bench_without_its_file_says_what_it_needs(
    name: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", [f"tests/bench/{name}.py"])
    with pytest.raises(SystemExit) as ended:
        runpy.run_module(f"tests.bench.{name}", run_name="__main__")
    said = capsys.readouterr()
    assert ended.value.code == 2
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert said.err.startswith(f"tests.bench.{name} needs {NEEDS[name]}")
