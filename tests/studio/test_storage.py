"""What was handed in is on the disk before anybody is told so."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from django.core.files.base import ContentFile

from studio.storage import PrivateFiles

pytestmark = pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="names of open files are read from /proc")


def test_a_file_its_name_and_its_new_folders_are_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    waited: list[tuple[str, int]] = []

    def fsync(handle: int) -> None:
        path = Path(os.readlink(f"/proc/self/fd/{handle}"))
        waited.append((str(path.relative_to(tmp_path)), path.stat().st_size if path.is_file() else 0))

    monkeypatch.setattr(os, "fsync", fsync)
    name = PrivateFiles(location=tmp_path).save("submissions/7/one", ContentFile(b"twelve bytes"))
    assert name == "submissions/7/one"
    assert waited == [("submissions/7/one", 12), ("submissions/7", 0), ("submissions", 0), (".", 0)]


def test_a_disk_that_cannot_keep_it_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        PrivateFiles(location=tmp_path).save("submissions/7/one", ContentFile(b"twelve bytes"))
    assert not (tmp_path / "submissions" / "7" / "one").exists()
