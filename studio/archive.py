"""The archive file: a ZIP whose manifest has the SHA-256 and size of every member, and a checksum of its own.

Members: `manifest.json`, `manifest.sha256`, `database`, `media/…`. ZIP (PKWARE APPNOTE 6.3) because its directory stands
at the end: a cut file is noticed at once, members of unknown length can be written as they come, and one can be read
without the rest. Checksums are SHA-256 (FIPS 180-4).
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import stat
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

FORMAT = 2
MANIFEST, SEAL, DATABASE, MEDIA = "manifest.json", "manifest.sha256", "database", "media"
CHUNK = 1 << 20
LARGEST_MANIFEST = 256 << 20
LEVEL = 3  # of deflate: a third larger than the best, several times faster

# What a damaged file makes the reader raise: each of them was met in tests that overwrite bytes.
UNREADABLE = (
    OSError,
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    struct.error,
    ValueError,
    KeyError,
    RuntimeError,
    NotImplementedError,
    UnicodeError,
    OverflowError,
    MemoryError,
)

Progress = Callable[[int], object]  # is told the bytes that were handled


class ArchiveError(Exception):
    """The archive is not as it was written; the message says what is wrong, and where."""


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One member that is not as the manifest says."""

    file: str
    expected: str
    found: str

    def __str__(self) -> str:
        return f"{self.file}: expected {self.expected}, found {self.found}"


class Writer:
    """Writes members one after the other, each hashed on its way."""

    def __init__(self, path: Path, progress: Progress) -> None:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        self.path, self._file = path, os.fdopen(handle, "wb")
        self._zip = zipfile.ZipFile(self._file, "w", allowZip64=True)
        self._progress = progress
        self.files: dict[str, dict[str, Any]] = {}

    def add(self, name: str, chunks: Iterable[bytes], *, packed: bool) -> None:
        """One member; `packed` content is kept as it is, other content is deflated."""
        info = zipfile.ZipInfo(name)
        info.external_attr = (stat.S_IFREG | 0o600) << 16
        info.compress_type = zipfile.ZIP_STORED if packed else zipfile.ZIP_DEFLATED
        info._compresslevel = LEVEL  # type: ignore[attr-defined]  # no public way for a member that is streamed
        digest, size = hashlib.sha256(), 0
        with self._zip.open(info, "w", force_zip64=True) as member:
            for chunk in chunks:
                member.write(chunk)
                digest.update(chunk)
                size += len(chunk)
                self._progress(len(chunk))
        self.files[name] = {"sha256": digest.hexdigest(), "size": size}

    def close(self, manifest: dict[str, Any]) -> None:
        """Manifest, seal, directory, and all of it on the disk before this returns."""
        text = json.dumps(manifest | {"format": FORMAT, "files": self.files}, indent=1).encode()
        self._zip.writestr(MANIFEST, text, zipfile.ZIP_DEFLATED)
        self._zip.writestr(SEAL, hashlib.sha256(text).hexdigest())
        self._zip.close()
        self._file.flush()
        os.fsync(self._file.fileno())
        self._file.close()

    def abandon(self) -> None:
        self._file.close()


def chunks_of(path: Path) -> Iterator[bytes]:
    with open(path, "rb") as file:
        while chunk := file.read(CHUNK):
            yield chunk


def is_packed(path: Path) -> bool:
    """True when deflating the first part of a file gains next to nothing: sound that is compressed already."""
    with open(path, "rb") as file:
        head = file.read(1 << 16)
    return len(zlib.compress(head, 1)) > 0.95 * len(head)


def is_safe_name(name: str) -> bool:
    """A member that may be unpacked: the database, or a plain path below `media/` on every system."""
    if name == DATABASE:
        return True
    parts = name.split("/")
    if parts[0] != MEDIA or len(parts) < 2 or re.search(r'[\\:\x00-\x1f\x7f<>"|?*]', name):
        return False
    return all(part not in {"", ".", ".."} for part in parts)


class Archive:
    """An archive of format 2 opened for reading; ArchiveError when it is none or its manifest is damaged."""

    needed = DATABASE  # the member without which it is none
    what = "a backup"
    safe = staticmethod(is_safe_name)

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            self._zip = zipfile.ZipFile(path)
        except UNREADABLE as error:
            raise ArchiveError(f"{path} is not {self.what} that can be read, or it is cut off ({error}).") from error
        try:
            self.manifest = self._read_manifest()
        except BaseException:
            self._zip.close()
            raise

    def __enter__(self) -> Archive:
        return self

    def __exit__(self, *_: object) -> None:
        self._zip.close()

    def _small(self, name: str, limit: int) -> bytes:
        try:
            with self._zip.open(name) as member:
                content = member.read(limit + 1)
        except UNREADABLE as error:
            raise ArchiveError(f"{self.path} is damaged: {name} cannot be read ({error}).") from error
        if len(content) > limit:
            raise ArchiveError(f"{self.path} is not one of ours: {name} is larger than {limit} bytes.")
        return content

    def _read_manifest(self) -> dict[str, Any]:
        content, seal = (
            self._small(MANIFEST, LARGEST_MANIFEST),
            self._small(SEAL, 200).decode("ascii", "replace").strip(),
        )
        found = hashlib.sha256(content).hexdigest()
        if found != seal:
            raise ArchiveError(f"{self.path} is damaged. {MANIFEST}: expected SHA-256 {seal}, found {found}.")
        try:
            manifest = json.loads(content)
            files = manifest["files"]
            good = (
                manifest["format"] == FORMAT
                and {"engine", "migrations"} <= set(manifest)
                and all(isinstance(each["sha256"], str) and isinstance(each["size"], int) for each in files.values())
            )
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            raise ArchiveError(f"{self.path} has a manifest that cannot be read ({error}).") from error
        if not good or self.needed not in files:
            raise ArchiveError(f"{self.path} has a manifest that this version does not know.")
        return dict(manifest)

    def size(self) -> int:
        """Bytes of everything, unpacked."""
        return sum(int(each["size"]) for each in self.manifest["files"].values())

    def misplaced(self) -> list[Problem]:
        """Members that are missing, too many, named twice, or named so that they would leave the folder."""
        expected, found = set(self.manifest["files"]), [info.filename for info in self._zip.infolist()]
        problems = [
            Problem(file=name, expected="a file below media/", found="a name that leads elsewhere")
            for name in sorted(expected | set(found))
            if name not in {MANIFEST, SEAL} and not self.safe(name)
        ]
        problems += [Problem(file=name, expected="a file", found="nothing") for name in sorted(expected - set(found))]
        extra = sorted({name for name in found if name not in expected and name not in {MANIFEST, SEAL}})
        problems += [
            Problem(file=name, expected="nothing", found="a file that the manifest does not list") for name in extra
        ]
        twice = sorted({name for name in found if found.count(name) > 1}) if len(found) != len(set(found)) else []
        return problems + [Problem(file=name, expected="one file", found="several of that name") for name in twice]

    def check(self, target: Path | None = None, progress: Progress = int) -> list[Problem]:
        """Read everything; with a `target`, unpack it there on the way. Returns what is wrong, nothing when all is well."""
        problems = self.misplaced()
        if target is not None and problems:
            return problems
        bad = {problem.file for problem in problems}
        for name, wanted in self.manifest["files"].items():
            if name not in bad and (problem := self._check_one(name, wanted, target, progress)):
                problems.append(problem)
        return problems

    def _check_one(self, name: str, wanted: dict[str, Any], target: Path | None, progress: Progress) -> Problem | None:
        digest, size = hashlib.sha256(), 0
        out = _open_below(target, name) if target else None
        try:
            with self._zip.open(name) as member:
                while size <= wanted["size"] and (chunk := member.read(CHUNK)):
                    digest.update(chunk)
                    size += len(chunk)
                    progress(len(chunk))
                    if out:
                        out.write(chunk)
        except UNREADABLE as error:
            if out and isinstance(error, OSError) and error.errno:
                raise  # the disk that is written to, not the archive
            return Problem(file=name, expected=f"SHA-256 {wanted['sha256']}", found=f"unreadable content ({error})")
        finally:
            if out:
                out.close()
        if size != wanted["size"]:
            return Problem(
                file=name,
                expected=f"{wanted['size']} bytes",
                found=f"{size} bytes" if size < wanted["size"] else "more",
            )
        if digest.hexdigest() != wanted["sha256"]:
            return Problem(file=name, expected=f"SHA-256 {wanted['sha256']}", found=digest.hexdigest())
        return None


def _open_below(target: Path, name: str) -> Any:
    path = target / name
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    return os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb")


def explain(path: Path, problems: list[Problem]) -> str:
    """The problems as one message, the first ten in full."""
    lines = [f"{path} is damaged, {len(problems)} of its files are not as they were written:"]
    lines += [f"  {problem}" for problem in problems[:10]]
    if len(problems) > 10:
        lines.append(f"  and {len(problems) - 10} more")
    return "\n".join([*lines, "Nothing was changed."])
