"""Faults of the machine, not of the program: the database is away or busy (503), a disk is full (507).

Nothing that was typed is lost by them: a page that could not be saved comes back with everything that was sent, ready to
be sent again; calls and parts of pages get a short answer, and the page that called keeps what it has.
"""

from __future__ import annotations

import logging
import sqlite3
from dataclasses import dataclass
from typing import Any

from django.core.files.uploadhandler import FileUploadHandler, SkipFile
from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.http.multipartparser import exhaust  # type: ignore[attr-defined]
from django.template.loader import render_to_string

from studio import space

log = logging.getLogger(__name__)

# Codes of SQLite that say something about the machine: https://www.sqlite.org/rescode.html
MACHINE = frozenset(
    {
        sqlite3.SQLITE_BUSY,
        sqlite3.SQLITE_LOCKED,
        sqlite3.SQLITE_IOERR,
        sqlite3.SQLITE_CANTOPEN,
        sqlite3.SQLITE_READONLY,
        sqlite3.SQLITE_FULL,
    }
)
# Classes of SQLSTATE likewise (PostgreSQL, appendix A): connection, rollback, resources, not now, operator, system.
STATES = ("08", "40", "53", "55", "57", "58")


@dataclass(frozen=True)
class Fault:
    """What is wrong, in words for whoever meets it."""

    status: int
    heading: str
    advice: str
    short: str
    passes: bool = False  # likely over in a few seconds: the page may send again by itself


AWAY = Fault(
    503,
    "The site cannot reach its data just now",
    "What you had saved before is safe. This was not saved yet. Wait a moment and send it again; if it goes on, tell whoever runs the site.",
    "Not saved: the site cannot reach its data just now. What you typed is still here; try again in a moment.",
    passes=True,
)
FULL = Fault(
    507,
    "The site’s disk is full",
    "What you had saved before is safe. This was not saved. Whoever runs the site must make room; then send it again.",
    "Not saved: the site’s disk is full. What you typed is still here; tell whoever runs the site.",
)


def fault_of(error: BaseException | None) -> Fault | None:
    """The fault of the machine that this error stands for; None when it is a fault of the program."""
    if space.is_full(error):
        return FULL
    if isinstance(error, InterfaceError):
        return AWAY
    if isinstance(error, OperationalError):
        cause = error.__cause__
        if isinstance(cause, sqlite3.Error):
            return AWAY if getattr(cause, "sqlite_errorcode", sqlite3.SQLITE_BUSY) & 0xFF in MACHINE else None
        state = getattr(cause, "sqlstate", None)
        return AWAY if state is None or state.startswith(STATES) else None
    return None


def answer(request: HttpRequest, error: BaseException | None) -> HttpResponse | None:
    """The answer to a fault of the machine, made without the database; None for every other error."""
    fault = fault_of(error)
    if fault is None:
        return None
    if fault is FULL and space.give_back():
        log.error("a disk is full: the space in reserve was given back, so that saving can go on")
    return response(request, fault)


def response(request: HttpRequest, fault: Fault) -> HttpResponse:
    """As JSON, as a line for a part of a page, or as a page that holds what was sent."""
    made: HttpResponse
    if request.path.startswith("/api/") or request.content_type == "application/json":
        made = JsonResponse({"detail": fault.short}, status=fault.status)
    elif request.headers.get("HX-Request"):
        made = HttpResponse(fault.short, content_type="text/plain; charset=utf-8", status=fault.status)
    else:
        made = HttpResponse(
            render_to_string("studio/error_kept.html", _kept(request) | {"fault": fault}), status=fault.status
        )
    made.headers["Cache-Control"] = "no-store, private"
    made.headers["Retry-After"] = "5"
    return made


def _kept(request: HttpRequest) -> dict[str, Any]:
    """What the form held: every field but passwords, which nobody should find on a page."""
    again: dict[str, Any] = {"action": request.get_full_path(), "posted": request.method == "POST"}
    if request.method != "POST":
        return again
    try:
        sent, files = request.POST, request.FILES
    except Exception as error:  # the body itself could not be taken in, for whatever reason
        log.warning("what was sent to %s could not be read again: %s", request.path, error)
        return again | {"unread": True}
    fields = [(name, value) for name, values in sent.lists() for value in values]
    secret = any("password" in name for name, _ in fields)
    return again | {
        "fields": [] if secret else fields,
        "unread": secret,
        "texts": []
        if secret
        else [value for name, value in fields if len(value) > 2 and not name.endswith(("token", "next"))],
        "files": sorted({*files, *getattr(request, "no_room_for", ())}),
    }


class RoomHandler(FileUploadHandler):
    """Takes no file for which the disk has no room, while the fields beside it are still read."""

    def handle_raw_input(
        self, input_data: Any, META: Any, content_length: int, boundary: Any, encoding: Any = None
    ) -> None:
        self.input, self.length = input_data, content_length

    def new_file(self, field_name: str, *args: Any, **kwargs: Any) -> None:
        super().new_file(field_name, *args, **kwargs)
        if space.least_free() > self.length + space.RESERVE:
            return
        request: Any = self.request
        if request.path.startswith("/api/"):
            exhaust(self.input)  # a caller that still sends would not hear the answer
            raise OSError(next(iter(sorted(space.FULL))), "no room for a file")
        request.no_room_for = [*getattr(request, "no_room_for", []), field_name]
        raise SkipFile

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes:
        return raw_data

    def file_complete(self, file_size: int) -> None:
        return None


class RoomMiddleware:
    """Answers 507 when a file was not taken in for want of room."""

    def __init__(self, get_response: Any) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)  # type: ignore[no-any-return]

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> HttpResponse | None:
        if request.content_type == "multipart/form-data" and not request.path.startswith("/api/"):
            _ = request.FILES  # takes the body in, so that the handler has been asked
        return response(request, FULL) if getattr(request, "no_room_for", None) else None
