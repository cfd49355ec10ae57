"""Children that end with their parent, also when it is killed: `python -m studio.tether MODULE ARGUMENTS`.

The parent keeps the writing end of the child's standard input and never writes. When the parent is gone, whatever the
reason, the child reads the end of the file: it ends as on SIGTERM, and by force when that takes too long. A pipe does
this on every system; Linux's death signal would not.
"""

from __future__ import annotations

import contextlib
import os
import runpy
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

GRACE = 12.0  # seconds for work in hand, as in `studio.launch`
WINDOWS = os.name == "nt"


def start(module: str, *arguments: str, folder: Path) -> subprocess.Popen[bytes]:
    """Start a Python module as a child of this process, in a group of its own: Ctrl-C reaches the parent only."""
    own_group: dict[str, Any] = {"start_new_session": True}
    if WINDOWS:
        own_group = {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP}  # type: ignore[attr-defined]
    command = [sys.executable, "-m", "studio.tether", module, *arguments]
    return subprocess.Popen(command, cwd=folder, stdin=subprocess.PIPE, **own_group)


def end_with_parent(source: int, grace: float = GRACE) -> None:
    """Wait until the parent is gone, then end this process and those it started."""
    while os.read(source, 1):
        continue
    # Nothing is printed: whoever read it may be gone with the parent, and a broken or full pipe would end this thread first.
    if not WINDOWS:
        os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(grace)
        with contextlib.suppress(ProcessLookupError):
            if os.getpgrp() == os.getpid():
                os.killpg(0, signal.SIGKILL)
    os._exit(1)


def main(arguments: list[str]) -> None:
    threading.Thread(target=end_with_parent, args=(0,), daemon=True, name="tether").start()
    module, sys.argv = arguments[0], arguments
    runpy.run_module(module, run_name="__main__", alter_sys=True)


if __name__ == "__main__":
    main(sys.argv[1:])
