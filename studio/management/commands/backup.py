"""`manage.py backup`: one archive of everything, while the site runs; `--check` reads one, `--list` names all."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from studio import archive_first, second_place
from studio.archive import Archive, ArchiveError, explain
from studio.backup import BackupError, make_backup
from studio.retention import Keep


class Command(BaseCommand):
    help = (
        "Write a backup of the database and of all files into one archive, and into the second place if there is one."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--to", type=Path, default=settings.DATA_DIR / "backups", help="folder for the archive")
        parser.add_argument(
            "--check", metavar="ARCHIVE", type=Path, help="only read this archive and say whether it is sound"
        )
        parser.add_argument("--list", action="store_true", help="only name the archives, here and in the second place")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["check"]:
                self.check_one(options["check"])
            elif options["list"]:
                self.name_all(options["to"])
            else:
                self.write_one(options["to"])
        except (BackupError, ArchiveError, OSError) as error:
            raise CommandError(str(error)) from error

    def write_one(self, folder: Path) -> None:
        self.last = ("", -1)
        archive = make_backup(folder, tell=self.tell)
        self.stdout.write(str(archive))
        if place := second_place.configured():
            second_place.send(archive, place, Keep.from_environment())
            self.stderr.write("Also in the second place, read back.")

    def tell(self, done: int, total: int, what: str) -> None:
        """Every tenth part, on the channel that scripts do not read."""
        part = 10 * done // max(total, 1)
        if (what, part) != self.last:
            self.last = (what, part)
            self.stderr.write(f"{what}: {10 * part}%")

    def check_one(self, path: Path) -> None:
        if archive_first.is_first_format(path):
            archive_first.read_manifest(path)
            archive_first.read_to_the_end(path)
            self.stdout.write(f"{path} is sound as far as version 0.1.0 lets one see: it kept no checksums of files.")
            return
        with Archive(path) as archive:
            if problems := archive.check():
                raise ArchiveError(explain(path, problems))
            self.stdout.write(
                f"{path} is sound: {len(archive.manifest['files'])} files, made {archive.manifest['made']}."
            )

    def name_all(self, folder: Path) -> None:
        for path in sorted(folder.glob("topform-*")):
            self.stdout.write(f"{path}  {path.stat().st_size >> 10} kB")
        if place := second_place.configured():
            for name in place.names():
                self.stdout.write(f"second place: {name}")
