"""The README shows the site: its pictures are there, say in words what they show, and are small."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
MOST_BYTES = 600_000  # all of them


def test_the_pictures_of_the_readme() -> None:
    shown = re.findall(r"!\[([^\]]+)\]\((docs/pictures/[\w.-]+)\)", (ROOT / "README.md").read_text(encoding="utf-8"))
    files = {path for _, path in shown}
    assert len(shown) == len(files) >= 4
    assert all(len(words) > 40 for words, _ in shown)
    assert {path.relative_to(ROOT).as_posix() for path in (ROOT / "docs/pictures").iterdir()} == files
    assert sum((ROOT / path).stat().st_size for path in files) < MOST_BYTES
