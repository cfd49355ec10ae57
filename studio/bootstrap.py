"""What must exist before Django can be imported. Standard library only."""
from __future__ import annotations

import os
import secrets
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def data_dir() -> Path:
    """The folder of the site's own data."""
    return Path(os.environ.get("TOPFORM_DATA") or ROOT / "data")


def ensure_secret_key(folder: Path) -> None:
    """Make the signing key once (mode 0600), unless the environment gives one."""
    if os.environ.get("TOPFORM_SECRET_KEY") or os.environ.get("TOPFORM_SECRET_KEY_FILE"):
        return
    path = folder / "secret_key"
    if path.exists():
        return
    folder.mkdir(parents=True, exist_ok=True)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        file.write(secrets.token_urlsafe(50))
