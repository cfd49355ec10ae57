"""The demo's recordings as files: rendered by `manage.py render_demo`, kept beside this module with where their bars lie."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from tunes.demo.shapes import DemoTune

FOLDER = Path(__file__).parent / "recordings"
INDEX = FOLDER / "recordings.json"
LEAD_IN = 1.5  # seconds before the first downbeat
MEDIA_TYPE = "audio/webm"


@dataclass(frozen=True)
class Mark:
    """A bar line: chorus and bar from 1, seconds, the section that begins there or ""."""

    chorus: int
    bar: int
    seconds: float
    label: str = ""


@dataclass(frozen=True)
class Recorded:
    """A rendered file: of which tune and which of its recordings (from 0), the version of each chorus, where bars lie, and a
    digest of the charts that were played."""

    name: str
    tune: str
    place: int
    versions: tuple[str, ...]
    marks: tuple[Mark, ...]
    charts: str

    @property
    def path(self) -> Path:
        return FOLDER / f"{self.name}.webm"

    def to_json(self) -> dict[str, Any]:
        return asdict(self) | {"marks": [[m.chorus, m.bar, m.seconds, m.label] for m in self.marks]}


def charts_of(tune: DemoTune, versions: tuple[str, ...]) -> str:
    """What tells whether the charts have changed since a file was rendered."""
    texts = {version.name: version.texts[-1] for version in tune.versions}
    return sha256("\n\n".join(texts[name] for name in versions).encode()).hexdigest()[:16]


@cache
def recorded() -> dict[tuple[str, int], Recorded]:
    """Every rendered file by tune and place of the recording."""
    rows = json.loads(INDEX.read_text(encoding="utf-8"))
    found = [
        Recorded(
            row["name"],
            row["tune"],
            row["place"],
            tuple(row["versions"]),
            tuple(Mark(*mark) for mark in row["marks"]),
            row["charts"],
        )
        for row in rows
    ]
    return {(one.tune, one.place): one for one in found}
