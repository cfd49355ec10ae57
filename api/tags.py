"""States of objects as entity tags (RFC 9110, sections 8.8.3 and 13): 304 where nothing changed, 412 where something did.

A tag is a hash of the answer itself, so it is right for every call, lists too, and needs no stored mark.
"""

from __future__ import annotations

import hashlib
from typing import Any

from django.http import HttpResponse
from django.utils.cache import get_conditional_response
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from api.errors import Changed

CHANGES = ("PUT", "PATCH", "DELETE")


def tag(content: bytes) -> str:
    return f'"{hashlib.sha256(content).hexdigest()[:32]}"'


def put(request: Request, response: Any) -> None:
    """`ETag` on an answer of 200 to a GET, and 304 for who has that state already."""
    if request.method in ("GET", "HEAD") and isinstance(response, Response) and response.status_code == 200:
        response.add_post_render_callback(lambda found: _tagged(request, found))


def _tagged(request: Request, response: Any) -> HttpResponse:
    name = tag(response.content)
    response["ETag"] = name
    response["Cache-Control"] = "private, no-cache"
    found = get_conditional_response(request._request, etag=name, response=response)
    return found if found is not None else response


def check(view: Any, request: Request, *args: Any, **kwargs: Any) -> None:
    """412 when the caller's `If-Match` is not the state that a GET of the same address gives now.

    The calls lock and compare versions of their own besides; this tells of a change before anything is tried.
    """
    wanted = request.headers.get("If-Match", "").strip()
    if not wanted or request.method not in CHANGES or not hasattr(view, "get"):
        return
    current = view.get(request, *args, **kwargs)
    state = tag(JSONRenderer().render(current.data))
    if wanted != "*" and state not in [one.strip() for one in wanted.split(",")]:
        raise Changed
