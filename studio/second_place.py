"""The second place of archives: a folder (another disk, a share), or a bucket of any store that speaks S3.

`TOPFORM_BACKUP_TO` names it: a folder, or `s3://bucket/prefix`. The library for S3 is installed apart
(`requirements-s3.txt`), and this module is its only door. What was put there is read back and compared.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Protocol

from studio import env
from studio.archive import CHUNK, chunks_of
from studio.dumps import BackupError
from studio.retention import Keep, to_remove

OURS = re.compile(r"topform-[\w.-]+\.(?:zip|tar\.gz)")
HOW = "`.venv/bin/python -m pip install --require-hashes -r requirements-s3.txt`"


class Place(Protocol):
    """Somewhere that archives are put, by name. Its methods raise BackupError when it cannot be reached."""

    def put(self, archive: Path) -> None: ...
    def names(self) -> list[str]: ...
    def remove(self, name: str) -> None: ...
    def fetch(self, name: str, target: Path) -> None: ...


def configured() -> Place | None:
    """The place that the environment names, or None."""
    where = env.text("TOPFORM_BACKUP_TO")
    return place(where) if where else None


def place(where: str) -> Place:
    """`s3://bucket/prefix`, or a folder."""
    if where.startswith("s3://"):
        bucket, _, prefix = where.removeprefix("s3://").partition("/")
        return Bucket(bucket, prefix.strip("/"))
    return Folder(Path(where))


def send(archive: Path, to: Place, keep: Keep) -> None:
    """Put an archive there, compare, and let go what the rule does not keep."""
    to.put(archive)
    for name in to_remove(to.names(), keep):
        to.remove(name)


def local(archive: str, room: Path) -> Path:
    """The archive as a file here; one in the second place is fetched into `room` first."""
    if Path(archive).exists() or (not archive.startswith("s3://") and "/" in archive):
        return Path(archive)
    where, _, name = (
        archive.rpartition("/") if archive.startswith("s3://") else (env.text("TOPFORM_BACKUP_TO"), "", archive)
    )
    if not where or not OURS.fullmatch(name):
        return Path(archive)
    room.mkdir(parents=True, exist_ok=True, mode=0o700)
    if not (room / name).exists():
        place(where).fetch(name, room / name)
    return room / name


def _digest(chunks: Iterator[bytes]) -> str:
    digest = hashlib.sha256()
    for chunk in chunks:
        digest.update(chunk)
    return digest.hexdigest()


def _compare(archive: Path, found: str, where: str) -> None:
    wanted = _digest(chunks_of(archive))
    if found != wanted:
        raise BackupError(f"{archive.name} was read back from {where}: expected SHA-256 {wanted}, found {found}.")


class Folder:
    """A folder that must exist: when a disk is not mounted, making it would fill the wrong one."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def _there(self) -> Path:
        if not self.folder.is_dir():
            raise BackupError(f"The second place of archives, {self.folder}, is not there (is the disk mounted?).")
        return self.folder

    def put(self, archive: Path) -> None:
        target = self._there() / archive.name
        unfinished = target.with_name(f".{target.name}.unfinished")
        try:
            with open(archive, "rb") as source, open(unfinished, "wb") as copy:
                os.chmod(unfinished, 0o600)
                shutil.copyfileobj(source, copy, CHUNK)
                copy.flush()
                os.fsync(copy.fileno())
            _compare(archive, _digest(chunks_of(unfinished)), str(self.folder))
            unfinished.replace(target)
        except OSError as error:
            raise BackupError(f"{archive.name} could not be put into {self.folder}: {error.strerror}.") from error
        finally:
            unfinished.unlink(missing_ok=True)

    def names(self) -> list[str]:
        return sorted(path.name for path in self._there().iterdir() if OURS.fullmatch(path.name))

    def remove(self, name: str) -> None:
        (self._there() / name).unlink(missing_ok=True)

    def fetch(self, name: str, target: Path) -> None:
        source = self._there() / name
        if not source.is_file():
            raise BackupError(f"{name} is not in {self.folder}.")
        shutil.copyfile(source, target)


class Bucket:
    """A bucket of a store that speaks S3. Address and keys come from the environment."""

    def __init__(self, bucket: str, prefix: str) -> None:
        self.bucket, self.prefix = bucket, f"{prefix}/" if prefix else ""
        try:
            import boto3
            from boto3.exceptions import Boto3Error
            from botocore.config import Config
            from botocore.exceptions import BotoCoreError, ClientError
        except ImportError as error:
            raise BackupError(f"TOPFORM_BACKUP_TO names an S3 store; install its library first: {HOW}") from error
        self.errors: tuple[type[Exception], ...] = (Boto3Error, BotoCoreError, ClientError)
        # Checksums of the newest kind are refused by older stores; what is sent is compared by reading it back.
        config = Config(
            connect_timeout=10,
            read_timeout=60,
            retries={"max_attempts": 3, "mode": "standard"},
            request_checksum_calculation="when_required",
            response_checksum_validation="when_required",
        )
        self.client: Any = boto3.client(
            "s3",
            endpoint_url=env.text("TOPFORM_BACKUP_S3_URL") or None,
            config=config,
            region_name=env.text("TOPFORM_BACKUP_S3_REGION", "us-east-1"),
            aws_access_key_id=env.text("TOPFORM_BACKUP_S3_KEY") or None,
            aws_secret_access_key=env.text("TOPFORM_BACKUP_S3_SECRET") or None,
        )

    def _error(self, what: str, error: Exception) -> BackupError:
        return BackupError(f"{what} s3://{self.bucket}/{self.prefix} failed: {error}")

    def put(self, archive: Path) -> None:
        try:
            self.client.upload_file(str(archive), self.bucket, self.prefix + archive.name)
            body = self.client.get_object(Bucket=self.bucket, Key=self.prefix + archive.name)["Body"]
            _compare(archive, _digest(body.iter_chunks(CHUNK)), f"s3://{self.bucket}/{self.prefix}")
        except self.errors as error:
            raise self._error(f"Putting {archive.name} into", error) from error

    def names(self) -> list[str]:
        try:
            pages = self.client.get_paginator("list_objects_v2").paginate(Bucket=self.bucket, Prefix=self.prefix)
            keys = [row["Key"].removeprefix(self.prefix) for page in pages for row in page.get("Contents", [])]
        except self.errors as error:
            raise self._error("Listing", error) from error
        return sorted(key for key in keys if OURS.fullmatch(key))

    def remove(self, name: str) -> None:
        try:
            self.client.delete_object(Bucket=self.bucket, Key=self.prefix + name)
        except self.errors as error:
            raise self._error(f"Removing {name} from", error) from error

    def fetch(self, name: str, target: Path) -> None:
        unfinished = target.with_name(f".{target.name}.unfinished")
        try:
            self.client.download_file(self.bucket, self.prefix + name, str(unfinished))
            unfinished.replace(target)
        except self.errors as error:
            raise self._error(f"Fetching {name} from", error) from error
        finally:
            unfinished.unlink(missing_ok=True)
