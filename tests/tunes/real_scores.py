"""Real scores that nobody here wrote: the corpus and the test files that come with music21 (development only)."""

from __future__ import annotations

import re
import tempfile
import zipfile
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import music21

HOME = Path(music21.__file__).parent
CHORD_IN_ABC = re.compile(r'"[A-G][b#]?(m|7|m7|dim|aug)?"')
SUFFIXES = (".mxl", ".xml", ".musicxml")


def named(folder: str) -> list[Path]:
    return sorted(path for path in (HOME / folder).rglob("*") if path.suffix in SUFFIXES)


def with_harmony() -> list[Path]:
    """Every MusicXML file of the corpus and the test suites that has a `<harmony>` element."""
    found = []
    for path in [*named("corpus"), *named("musicxml")]:
        if path.suffix == ".mxl":
            with zipfile.ZipFile(path) as archive:
                data = b"".join(archive.read(n) for n in archive.namelist() if not n.startswith("META-INF"))
        else:
            data = path.read_bytes()
        if b"<harmony" in data:
            found.append(path)
    return found


@lru_cache(maxsize=1)
def from_abc() -> tuple[tuple[str, bytes], ...]:
    """Tunes with chords of `nottingham-dataset` and `ryansMammoth`, turned into MusicXML by music21.

    Neither the text nor the program that converts it is ours.
    """
    return tuple((name, data) for name, data in _converted() if b"<harmony" in data)


def _converted() -> Iterator[tuple[str, bytes]]:
    files = sorted((HOME / "corpus" / "nottingham-dataset").glob("*.abc"))
    files += [
        path
        for path in sorted((HOME / "corpus" / "ryansMammoth").glob("*.abc"))
        if CHORD_IN_ABC.search(path.read_text("utf-8", "replace"))
    ]
    for path in files:
        parsed = music21.converter.parse(path, forceSource=True)
        scores = list(parsed.scores) if isinstance(parsed, music21.stream.Opus) else [parsed]
        for number, score in enumerate(scores, 1):
            with tempfile.TemporaryDirectory() as folder:
                out = Path(folder) / "score.musicxml"
                score.write("musicxml", fp=out)
                yield f"{path.stem}-{number}", out.read_bytes()
