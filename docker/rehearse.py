"""The container's steps without a container engine: the Dockerfile's in a clean root, then a day of the machine room.

    debootstrap trixie ROOT && chroot ROOT apt-get install --yes python3-venv    (once; nothing in ROOT is changed later)
    sudo python3 docker/rehearse.py ROOT

A layer above ROOT gets what the Dockerfile copies and installs; then `docker/entry` runs in it as the image's user, with no
network but its own: prepare, web and worker, the health check, a worker that falls silent, a backup, an update, a restore.
Each step is said with its seconds. Ends with 0 when all hold, 1 at the first that does not, and 77 with the reason where it
cannot be tried. It does not try what only an engine can: the base image, volumes, memory limits, dropped capabilities.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).resolve().parent.parent
USER, SITE, PYTHON = 10001, Path("/srv/topform"), "/opt/topform/bin/python"
CANNOT = 77  # as test runners read it: skipped
PASSED_ON = re.compile(r"(PIP_\w+|SSL_\w+|REQUESTS_\w+|https?_proxy|no_proxy)", re.IGNORECASE)
FROM_HERE = ("etc/resolv.conf", "etc/hosts", "etc/pip.conf", "etc/ssl/certs/ca-certificates.crt")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("root", type=Path)
    parser.add_argument("--part", choices=["layer", "build", "day"], help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.part:
        {"layer": layer, "build": build, "day": day}[options.part](options.root)
        return 0
    if why := cannot(options.root):
        print(f"Not tried: {why}")
        return CANNOT
    with tempfile.TemporaryDirectory(prefix="topform-rehearsal-") as folder:
        own = ["unshare", "--mount", "--pid", "--fork", "--kill-child"]
        call = [*own, sys.executable, __file__, str(options.root.resolve()), "--part", "layer"]
        return subprocess.run(call, env=os.environ | {"REHEARSAL": folder}).returncode


def cannot(root: Path) -> str:
    """Why it cannot be tried here, "" when it can."""
    if not sys.platform.startswith("linux") or os.geteuid() != 0:
        return "it needs Linux and root, for a root folder and a network of its own."
    if missing := [name for name in ("unshare", "mount", "chroot", "git") if not shutil.which(name)]:
        return f"this machine has no {', '.join(missing)}."
    if not (root / "usr/bin/python3").exists():
        return f"{root} holds no system with python3; the head of this file says how one is made."
    probe = subprocess.run(["unshare", "--mount", "--net", "--pid", "--fork", "true"], capture_output=True, text=True)
    return f"namespaces are not allowed here ({probe.stderr.strip()})." if probe.returncode else ""


def layer(root: Path) -> None:
    """In a mount namespace of its own: a writable layer above the root, what it needs of the machine, and the two parts."""
    folder = Path(os.environ["REHEARSAL"])
    upper, work, merged = (folder / name for name in ("upper", "work", "root"))
    _run("mount", "-t", "tmpfs", "-o", "size=4g", "tmpfs", str(folder))
    for one in (upper, work, merged):
        one.mkdir()
    _run("mount", "-t", "overlay", "overlay", "-o", f"lowerdir={root},upperdir={upper},workdir={work}", str(merged))
    for name in FROM_HERE:
        if (source := Path("/") / name).exists():
            (merged / name).parent.mkdir(parents=True, exist_ok=True)
            (merged / name).unlink(missing_ok=True)
            shutil.copy(source, merged / name)
    for device in ("null", "zero", "urandom", "random"):
        (merged / "dev" / device).touch()
        _run("mount", "--bind", f"/dev/{device}", str(merged / "dev" / device))
    _run("mount", "-t", "proc", "proc", str(merged / "proc"))
    (merged / "dev/shm").mkdir(parents=True, exist_ok=True)
    _run("mount", "-t", "tmpfs", "tmpfs", str(merged / "dev/shm"))
    place = merged / SITE.relative_to("/")
    place.mkdir(parents=True, exist_ok=True)
    files = subprocess.run(["git", "-C", str(HERE), "archive", "HEAD"], check=True, capture_output=True).stdout
    subprocess.run(["tar", "-x", "-C", str(place)], input=files, check=True)
    env = {name: value for name, value in os.environ.items() if PASSED_ON.fullmatch(name)}
    env |= {"PATH": "/opt/topform/bin:/usr/sbin:/usr/bin:/sbin:/bin", "LANG": "C.UTF-8", "HOME": "/root"}
    inside = ["chroot", str(merged), "/usr/bin/python3", str(SITE / "docker/rehearse.py"), "/"]
    subprocess.run([*inside, "--part", "build"], env=env, check=True)
    subprocess.run(["unshare", "--net", *inside, "--part", "day"], env=env, check=True)


def build(_: Path) -> None:
    """What the Dockerfile runs, its packages of the system apart."""
    step("venv", lambda: _run("/usr/bin/python3", "-m", "venv", "/opt/topform"))
    for lock in ("requirements-s3.txt", "requirements-hearing.txt"):
        pip = [
            PYTHON,
            "-m",
            "pip",
            "install",
            "-q",
            "--no-cache-dir",
            "--disable-pip-version-check",
            "--require-hashes",
        ]
        step(f"pip install {lock}", lambda lock=lock, pip=pip: _run(*pip, "-r", str(SITE / lock)))  # type: ignore[misc]
    for folder in ("/data", "/srv/static"):
        Path(folder).mkdir(parents=True, exist_ok=True)
    key = {"TOPFORM_SECRET_KEY": "only-while-building-the-image"}
    step("collectstatic", lambda: _run(PYTHON, "manage.py", "collectstatic", "--noinput", "-v0", more=key))
    os.chown("/data", USER, USER)


def day(_: Path) -> None:
    """What the machine room does, each as the image's user and by the image's own entry."""
    _run("ip", "link", "set", "lo", "up") if shutil.which("ip") else _loopback_up()
    step("prepare", lambda: entry("prepare"))
    web, worker = start("web"), start("worker")
    step("healthy, with its worker", lambda: until(lambda: ready("worker") == "ok" and _alive(), 60))
    step("the image's health check", health)
    step("backup", lambda: entry("backup"))
    archive = max(Path("/data/backups").glob("topform-*.zip"))
    entry("shell", "-v0", "-c", _ADD)
    worker.kill()
    step("a worker that was killed is told", lambda: until(lambda: ready("worker").startswith("silent"), 150))
    stop(web)
    step("update: prepare again", lambda: entry("prepare"))
    step("restore", lambda: entry("restore", str(archive)))
    entry("shell", "-v0", "-c", _GONE)
    web, worker = start("web"), start("worker")
    step("healthy again", lambda: until(lambda: ready("worker") == "ok", 60))
    for one in (web, worker):
        stop(one)
    old = SITE / "tests/archives/0.1.0-sqlite.tar.gz"
    step("update: an archive of version 0.1.0", lambda: entry("restore", str(old)))
    print("All steps hold.")


_ADD = "from studio.models import User; User.objects.create_user('after@the.example', 'After')"
_GONE = (
    "from studio.models import User; assert not User.objects.exists(), 'the restore left what came after the backup'"
)
_SITE = {
    "TOPFORM_NO_VENV": "1",
    "TOPFORM_DATA": "/data",
    "TOPFORM_STATIC": "/srv/static",
    "TOPFORM_URL": "http://localhost:8000",
    "TOPFORM_HOSTS": "localhost",
    "TOPFORM_SECRET_KEY": "a-key-of-this-rehearsal-and-of-nothing-else-0123456789",
    "PYTHONDONTWRITEBYTECODE": "1",
    "HOME": "/data",
}


def entry(*words: str) -> None:
    _run(str(SITE / "docker/entry"), *words, user=USER)


def start(what: str) -> subprocess.Popen[bytes]:
    """A service of the compose file; it ends with the namespace at the latest."""
    return subprocess.Popen([str(SITE / "docker/entry"), what], cwd=SITE, env=os.environ | _SITE, user=USER, group=USER)


def stop(process: subprocess.Popen[bytes]) -> None:
    process.send_signal(signal.SIGTERM)
    process.wait(60)


def health() -> None:
    """The words of HEALTHCHECK, taken from the Dockerfile."""
    found = re.search(r"HEALTHCHECK.*?CMD (\[.*?\])\n", (SITE / "Dockerfile").read_text(), re.DOTALL)
    assert found, "the Dockerfile has no health check"
    _run(*json.loads(found[1]), user=USER)


def ready(row: str) -> str:
    try:
        with urllib.request.urlopen("http://localhost:8000/readyz", timeout=5) as answer:
            return str(json.load(answer)[row])
    except (urllib.error.URLError, OSError):
        return ""


def _alive() -> bool:
    with urllib.request.urlopen("http://localhost:8000/livez", timeout=5) as answer:
        return bool(answer.status == 200)


def until(holds: Callable[[], bool], seconds: int) -> None:
    end = time.monotonic() + seconds
    while not holds():
        if time.monotonic() > end:
            raise SystemExit(f"not within {seconds} s")
        time.sleep(1)


def step(name: str, what: Callable[[], object]) -> None:
    begun = time.monotonic()
    what()
    print(f"{name:45}{time.monotonic() - begun:7.1f} s", flush=True)


def _run(*words: str, user: int | None = None, more: dict[str, str] | None = None) -> None:
    where = SITE if words[0] != "mount" else None
    group = user
    subprocess.run(words, check=True, cwd=where, env=os.environ | _SITE | (more or {}), user=user, group=group)


def _loopback_up() -> None:
    """Set IFF_UP on lo where the root has no `ip` (netdevice(7): SIOCSIFFLAGS)."""
    import fcntl
    import socket
    import struct

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        fcntl.ioctl(one, 0x8914, struct.pack("16sh", b"lo", 0x1))


if __name__ == "__main__":
    sys.exit(main())
