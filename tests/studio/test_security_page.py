"""docs/security.md speaks of tests that exist, and of code that is as it says."""

from __future__ import annotations

import json
import re
import zipfile
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings

from tools.audit import FEWEST, main, merged, plain, summed, within

ROOT = Path(settings.BASE_DIR)
PAGE = (ROOT / "docs" / "security.md").read_text(encoding="utf-8")
APPS = ("studio", "tunes", "drills", "assessments", "api")


def test_every_test_that_it_names_is_there() -> None:
    named = set(re.findall(r"`((?:tests/)?[\w/]+\.py)(?:::(\w+))?`", PAGE))
    assert len(named) > 30
    for file, test in sorted(named):
        places = [ROOT / "tests" / file, ROOT / file]
        path = next((place for place in places if place.is_file()), None)
        assert path, file
        assert not test or f"def {test}(" in path.read_text(encoding="utf-8"), f"{file}::{test}"


def test_no_code_is_made_from_text() -> None:
    files = [path for app in APPS for path in (ROOT / app).rglob("*.py")]
    risky = re.compile(r"(?<![\w.])(?:eval|exec)\(|\bpickle\b|shell=True|yaml\.load\(")
    assert [str(path) for path in files if risky.search(path.read_text(encoding="utf-8"))] == []


def test_an_audit_that_could_not_look_is_no_audit() -> None:
    fine = {"name": "a", "version": "1", "vulns": []}
    wrong = {"name": "b", "version": "2", "vulns": [{"id": "X-1", "fix_versions": ["3"]}]}
    unknown = {"name": "c", "skip_reason": "Dependency not found"}
    assert [summed(rows)[0] for rows in ([fine], [], [fine, unknown], [fine, wrong, unknown])] == [0, 2, 2, 1]
    assert summed([wrong])[1] == ["b 2: X-1, mended in 3", "1 looked up, 1 at fault, 0 could not be looked up"]


def test_what_one_list_lacks_another_may_have() -> None:
    nothing = [{"name": "a", "skip_reason": "x"}, {"name": "b", "version": "1", "vulns": []}]
    some = [{"name": "a", "version": "1", "vulns": []}, {"name": "b", "skip_reason": "y"}]
    assert summed(merged(nothing, some))[0] == summed(merged(merged([], nothing), some))[0] == 0
    assert summed(merged(nothing, []))[0] == 2


@pytest.mark.parametrize(
    ("events", "affected", "fine"),
    [
        ([{"introduced": "0"}, {"fixed": "1.2"}], ["0.1", "1.1.9", "1.2rc1"], ["1.2", "1.10", "2"]),
        ([{"introduced": "1.0"}, {"last_affected": "1.9"}], ["1.0", "1.9"], ["0.9", "1.9.1", "1.10"]),
        (
            [{"introduced": "4.2"}, {"fixed": "4.2.3"}, {"introduced": "5.0"}, {"fixed": "5.0.1"}],
            ["4.2.2", "5.0"],
            ["4.1", "4.2.3", "4.9", "5.0.1", "6"],
        ),
        ([{"introduced": "0"}], ["1", "99"], []),
    ],
)
def test_a_version_lies_in_a_range(events: list[dict[str, str]], affected: list[str], fine: list[str]) -> None:
    """OSV schema 1.6, "Evaluation": whether the events up to a version leave it affected."""
    span = {"type": "ECOSYSTEM", "events": events}
    assert [version for version in (*affected, *fine) if within(span, version)] == affected
    assert not within({**span, "type": "GIT"}, affected[0])


def test_a_list_that_was_carried_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Invented faults in a whole list: one of a package of the lock, one of an older version, one withdrawn."""

    def record(number: int, name: str, fixed: str, **more: Any) -> tuple[str, str]:
        part = {
            "package": {"ecosystem": "PyPI", "name": name},
            "ranges": [{"type": "ECOSYSTEM", "events": [{"introduced": "0"}, {"fixed": fixed}]}],
        }
        return f"X-{number}.json", json.dumps({"id": f"X-{number}", "affected": [part], **more})

    def run(*rows: tuple[str, str], filled: int = FEWEST) -> tuple[int, str]:
        path = tmp_path / "all.zip"
        with zipfile.ZipFile(path, "w") as archive:
            for number in range(filled):
                archive.writestr(*record(10_000 + number, f"nobody-{number}", "1"))
            for row in rows:
                archive.writestr(*row)
        return main(["--list", str(path)]), capsys.readouterr().out

    old, gone = record(1, "Django", "0.9"), record(2, "django", "999", withdrawn="2026-01-01T00:00:00Z")
    code, said = run(old, gone)
    assert (code, "Audited." in said, "0 could not be looked up" in said) == (0, True, True)
    code, said = run(old, record(3, "DJANGO", "999"))
    assert (code, "X-3, mended in 999" in said) == (1, True)
    assert run(filled=3)[0] == 2, "a part of a list is none"
    (tmp_path / "all.zip").write_bytes(b"<html>")
    assert main(["--list", str(tmp_path / "all.zip")]) == 2
    assert plain("Ruamel.Yaml__clib") == "ruamel-yaml-clib"
