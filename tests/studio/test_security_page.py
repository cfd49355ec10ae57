"""docs/security.md speaks of tests that exist, and of code that is as it says."""

from __future__ import annotations

import re
from pathlib import Path

from django.conf import settings

from tools.audit import summed

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
