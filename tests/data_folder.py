"""The data folder of a process of tests: made by the first process, one in it for each worker of pytest-xdist."""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from pathlib import Path


def of_this_process() -> str:
    """The folder, made if need be; what the first process made is removed at its end."""
    shared, worker = os.environ.get("TOPFORM_DATA"), os.environ.get("PYTEST_XDIST_WORKER", "")
    if not shared:
        shared = tempfile.mkdtemp(prefix="topform-tests-")
        atexit.register(shutil.rmtree, shared, ignore_errors=True)
    folder = Path(shared, worker)
    folder.mkdir(exist_ok=True)
    return str(folder)
