"""A throw-away PostgreSQL cluster for tests: a folder, a socket, no network, no durability.

As root the server runs as the account `postgres` (PostgreSQL refuses root); otherwise as oneself.
"""

from __future__ import annotations

import atexit
import glob
import os
import pwd
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

HELP = "PostgreSQL server programs (initdb, pg_ctl) were not found; install them, on Debian: apt-get install postgresql"


def _programs() -> Path:
    """The folder that holds initdb and pg_ctl: Debian keeps them off the path."""
    found = sorted(glob.glob("/usr/lib/postgresql/*/bin/initdb"), key=lambda name: int(name.split("/")[4]))
    initdb = found[-1] if found else shutil.which("initdb")
    if not initdb:
        raise RuntimeError(HELP)
    return Path(initdb).resolve().parent


def _as_server_account() -> dict[str, Any]:
    """Keyword arguments for `subprocess.run` that leave root behind."""
    if os.geteuid() != 0:
        return {}
    account = pwd.getpwnam("postgres")
    return {"user": account.pw_uid, "group": account.pw_gid, "extra_groups": []}


def start() -> str:
    """Start a cluster, stop and remove it at exit; returns the folder of its socket (the value of HOST)."""
    programs, who = _programs(), _as_server_account()
    folder = Path(tempfile.mkdtemp(prefix="topform-pg-"))
    if "user" in who:
        os.chown(folder, who["user"], who["group"])
    data = folder / "data"

    def run(*command: str) -> None:
        subprocess.run(command, check=True, cwd=folder, stdout=subprocess.DEVNULL, **who)

    run(str(programs / "initdb"), "-A", "trust", "-U", "topform", "-E", "UTF8", "--no-sync", "-D", str(data))
    options = f"-k {folder} -c listen_addresses='' -c fsync=off -c max_connections=120"
    run(str(programs / "pg_ctl"), "-w", "-D", str(data), "-o", options, "-l", str(folder / "log"), "start")

    def stop() -> None:
        subprocess.run(
            [str(programs / "pg_ctl"), "-D", str(data), "stop", "-m", "immediate"],
            check=False,
            cwd=folder.parent,
            stdout=subprocess.DEVNULL,
            **who,
        )
        shutil.rmtree(folder, ignore_errors=True)

    atexit.register(stop)
    return str(folder)


def control(host: str, what: str, *more: str) -> None:
    """Stop or start the cluster whose socket lies in `host` (a folder from `start`), for tests of what happens then."""
    options = ["-w", "-o", f"-k {host} -c listen_addresses='' -c fsync=off -c max_connections=120", "-l", f"{host}/log"]
    command = [str(_programs() / "pg_ctl"), "-D", f"{host}/data", what, *more, *(options if what == "start" else ())]
    subprocess.run(command, check=True, cwd=host, stdout=subprocess.DEVNULL, **_as_server_account())
