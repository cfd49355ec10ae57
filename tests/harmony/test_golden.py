"""The net: readings that are kept, and the version that rises when they change."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.harmony import golden
from tunes.harmony.analysis import models, pipeline, version

KEPT = golden.files()


@pytest.mark.parametrize("path", KEPT, ids=lambda path: path.stem)
def test_a_reading_is_the_one_that_is_kept(path: Path) -> None:
    """Looked at a change and want it? `python -m tests.harmony.golden` writes the readings again."""
    text, kept = golden.split(path)
    found = golden.written(text)
    same = version.version() == golden.VERSION.read_text(encoding="utf-8").strip()
    assert found == kept, (
        "the reading changed though the engine's version did not"
        if same
        else "the reading changed: look at it, then write it again"
    )


def test_the_net_is_wide() -> None:
    """Every style and metre, and enough chords to catch a rule that is seldom used."""
    texts = [golden.split(path)[0] for path in KEPT]
    rules = {
        line.split(" | ")[2].split(", ")[-1]
        for path in KEPT
        for line in golden.split(path)[1].splitlines()
        if " | " in line
    }
    assert len(texts) >= 60
    assert {line for text in texts for line in text.splitlines() if line.startswith("metre")} >= {
        "metre: 3/4", "metre: 6/8", "metre: 5/4", "metre: 7/4",
    }  # fmt: skip
    named = {name for name, row in pipeline.RULES.items() if "{chord}" in row.sentence}
    seldom = named - rules
    assert len(seldom) <= 20, sorted(seldom)


def test_the_version_covers_every_module_that_reads() -> None:
    """Whatever the pipeline imports of the engine makes the version, and so do the weights."""
    covered = {path.resolve() for path in version.sources()}
    package = pipeline.__name__.partition(".analysis")[0]
    seen, waiting = set(), [pipeline.__name__]
    while waiting:
        name = waiting.pop()
        if name in seen:
            continue
        seen.add(name)
        module = sys.modules[name]
        assert Path(module.__file__ or "").resolve() in covered, name
        named = {
            getattr(value, "__module__", None) or getattr(value, "__name__", "") for value in vars(module).values()
        }
        waiting += [
            other
            for other in named
            if isinstance(other, str) and other.startswith(package + ".") and other in sys.modules
        ]
    assert len(seen) > 30
    assert {models.FOLDER / f"{name}.json" for name in (models.HOME_KEY, models.PREPARATION)} <= covered


def test_the_version_rises_with_any_change(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "analysis").mkdir()
    rule = tmp_path / "analysis" / "rule.py"
    monkeypatch.setattr(version, "HARMONY", tmp_path)
    said = set()
    for text in ("a = 1\n", "a = 2\n", "a = 2\nb = 1\n"):
        rule.write_text(text)
        said.add(version.version.__wrapped__())
    (tmp_path / "analysis" / "weights.json").write_text("[]")
    said.add(version.version.__wrapped__())
    assert len(said) == 4


@pytest.mark.parametrize("name", [models.HOME_KEY, models.PREPARATION])
def test_a_model_says_where_it_is_from(name: str) -> None:
    header = models.load(name).header
    assert set(models.HEADER) == set(header)
    assert header["scores"]
    assert "not" in header["licence"]
    assert header["command"].startswith("python -m tests.bench.fit")
