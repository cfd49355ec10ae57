"""`manage.py export_programme FILE`: the whole programme as one open archive, while the site runs."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from studio.archive import ArchiveError
from studio.moving import open_archive
from studio.moving.rows import MoveError


class Command(BaseCommand):
    help = "Write the whole programme into one open archive: JSON lines, MusicXML, files (docs/open-archive.md)."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the archive to write; it must not exist yet")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        if path.exists():
            raise CommandError(f"{path} exists already; choose another name.")
        try:
            manifest = open_archive.write(path, say=self.stderr.write)
        except (MoveError, ArchiveError, OSError) as error:
            raise CommandError(str(error)) from error
        for name, problem in manifest["without_sheet"].items():
            self.stderr.write(f"not as MusicXML: {name} ({problem})")
        self.stdout.write(f"{path}: {len(manifest['files'])} files, read back. It holds personal data.")
