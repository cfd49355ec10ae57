"""The service worker of the site, from its root: with the version of the static files, and which of them it keeps."""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache

from django.conf import settings
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse
from django.templatetags.static import static
from django.views.decorators.http import require_safe

# What pages of today's plan need: looks, faces, behaviour, the band's sound. Pages load the rest as they are opened.
FOLDERS = ("css", "js", "js/takes", "sound", "vendor/htmx", "vendor/leipzig")
FACES = ("vendor/fonts/sans.woff2", "vendor/fonts/serif-semibold.woff2", "vendor/fonts/serif.woff2", "img/topform.svg")
ENDINGS = (".css", ".js", ".flac", ".woff2")


@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The script. Browsers ask for it again with every page; it changes when any of its files does."""
    answer = HttpResponse(_script(), content_type="text/javascript; charset=utf-8")
    answer.headers["Cache-Control"] = "no-cache"
    return answer


@lru_cache(maxsize=1)
def _script() -> str:
    names = kept_files()
    digest = hashlib.sha256()
    for name in names:
        path = finders.find(name)
        if path:
            with open(path, "rb") as file:
                digest.update(file.read())
    addresses = [address for name in names for address in _addresses(name)]
    body = (settings.BASE_DIR / "static" / "js" / "offline-worker.js").read_text(encoding="utf-8")
    return f"const VERSION = {json.dumps(digest.hexdigest()[:12])};\nconst FILES = {json.dumps(addresses, indent=0)};\n{body}"


def kept_files() -> list[str]:
    """Static files that are kept on a device, by their names under `static/`."""
    root = settings.BASE_DIR / "static"
    found = [
        f"{folder}/{path.name}"
        for folder in FOLDERS
        for path in sorted((root / folder).iterdir())
        if path.suffix in ENDINGS and path.name != "offline-worker.js"
    ]
    return found + [name for name in FACES if (root / name).is_file()]


def _addresses(name: str) -> list[str]:
    """The address that pages use, and the plain one by which modules and the sound are imported."""
    plain = settings.STATIC_URL + name
    return list(dict.fromkeys([static(name), plain] if name.endswith((".js", ".flac")) else [static(name)]))
