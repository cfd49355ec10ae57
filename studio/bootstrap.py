"""What must exist before Django can be imported: the right Python, the virtual environment, the signing key.

Standard library only, and plain enough for an old Python to read far enough to say that it is too old.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import stat
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
OLDEST = (3, 11)
SITE_LOCK, TEST_LOCK = "requirements.txt", "requirements-dev.txt"


class Stop(Exception):
    """Starting cannot go on; the message is one clear line for the person at the keyboard."""


def check_python() -> None:
    """Stop on a Python that is too old."""
    if sys.version_info < OLDEST:
        have = ".".join(map(str, sys.version_info[:3]))
        raise Stop(f"Python {OLDEST[0]}.{OLDEST[1]} or newer is needed; this is {have} ({sys.executable}).")


def data_dir() -> Path:
    """The folder of the site's own data."""
    return Path(os.environ.get("TOPFORM_DATA") or ROOT / "data")


def venv_dir() -> Path:
    """The folder of the virtual environment."""
    return Path(os.environ.get("TOPFORM_VENV") or ROOT / ".venv")


def venv_python() -> Path:
    return venv_dir() / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def in_venv() -> bool:
    return Path(sys.prefix).resolve() == venv_dir().resolve()


def make_folder(folder: Path) -> None:
    """Make a folder that this account can write in, or stop with a line that says why not."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        probe = folder / f".write-{os.getpid()}"
        probe.touch()
        probe.unlink()
    except OSError as error:
        raise Stop(
            f"Cannot write in {folder} ({error.strerror}). Give this account the right to, "
            "or choose another folder with TOPFORM_DATA=/some/folder."
        ) from error


OURS = (
    "topform.sqlite3*",
    "secret_key",
    "reserve",
    "starting",
    "running",
    "media",
    "backups",
    "mail",
    "before-restore-*",
    "demo",
)


def keep_private(folder: Path) -> None:
    """New files are for this account only; the data folder and what the site put there are closed to others.

    Only what is ours is touched: the folder may be somebody's home, or shared with other programs.
    """
    os.umask(0o077)
    if os.name == "nt" or not folder.is_dir():  # Windows: a folder in the user's profile is closed by itself
        return
    try:
        own = folder.stat()
        if own.st_uid == os.geteuid() and not own.st_mode & stat.S_ISVTX and folder.resolve() != Path.home().resolve():
            _close(folder)
        for pattern in OURS:
            for path in folder.glob(pattern):
                _close(path, deep=True)
    except OSError as error:
        print(f"{folder} could not be closed to other accounts: {error}.", file=sys.stderr)


def _close(path: Path, deep: bool = False) -> None:
    if path.is_symlink() or not path.stat().st_mode & 0o077:
        return
    if path.is_dir():
        for part in path.iterdir() if deep else ():
            _close(part, deep=True)
        path.chmod(0o700)
    else:
        path.chmod(0o600)


def ensure_secret_key(folder: Path) -> None:
    """Make the signing key once (mode 0600), unless the environment gives one."""
    if os.environ.get("TOPFORM_SECRET_KEY") or os.environ.get("TOPFORM_SECRET_KEY_FILE"):
        return
    path = folder / "secret_key"
    if path.exists():
        return
    make_folder(folder)
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:  # another process was quicker
        return
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        file.write(secrets.token_urlsafe(50))


def _stamp(lock: str) -> Path:
    return venv_dir() / f".installed-{lock}"


def _digest(lock: str) -> str:
    return hashlib.sha256((ROOT / lock).read_bytes()).hexdigest()


def is_installed(lock: str) -> bool:
    """True when the environment holds exactly this lock (the test lock contains the site's)."""
    wanted = {SITE_LOCK, TEST_LOCK} if lock == SITE_LOCK else {lock}
    return venv_python().exists() and any(
        _stamp(name).is_file() and _stamp(name).read_text() == _digest(name) for name in wanted
    )


def ensure_venv(lock: str) -> None:
    """Make the virtual environment and install `lock` in it, hashes checked. Nothing to do when it is there."""
    if is_installed(lock):
        return
    print(f"Preparing {venv_dir()} from {lock} (once; about a minute) ...", flush=True)
    if not venv_python().exists():
        _make_venv()
    arguments = ["install", "-qq", "--disable-pip-version-check", "--require-hashes", "-r", str(ROOT / lock)]
    # A system without its venv module's pip can still install from outside.
    pip = [str(venv_python()), "-m", "pip"]
    if subprocess.run([*pip, "--version"], capture_output=True).returncode:
        pip = [sys.executable, "-m", "pip", "--python", str(venv_python())]
    if subprocess.run([*pip, *arguments]).returncode:
        raise Stop(
            "The packages could not be installed (the lines above say why). "
            "Check the network connection and start again; nothing else was changed."
        )
    _stamp(lock).write_text(_digest(lock))


def ensure_venv_is_current() -> None:
    """Inside the environment: install again when the lock has changed since (after an update of the site)."""
    if in_venv() and not is_installed(SITE_LOCK):
        ensure_venv(SITE_LOCK)


def _make_venv() -> None:
    make_folder(venv_dir().parent)
    for options in ([], ["--without-pip"]):
        command = [sys.executable, "-m", "venv", *options, str(venv_dir())]
        if subprocess.run(command, capture_output=True).returncode == 0:
            return
    raise Stop(f"{sys.executable} cannot make a virtual environment; on Debian: apt-get install python3-venv.")


def reenter(script: Path, arguments: list[str]) -> None:
    """Start `script` again with the environment's Python, in place of this process (Windows: as its child, to the end)."""
    if os.name == "nt":
        sys.exit(subprocess.call([str(venv_python()), str(script), *arguments]))
    os.execv(str(venv_python()), [str(venv_python()), str(script), *arguments])
