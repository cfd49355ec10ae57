"""A POST that is sent twice with the same `Idempotency-Key` is done once and answered alike both times.

The key's row and what the call writes are one transaction: either both stand or neither does, so a program that heard no
answer may always repeat. Two at once wait for each other at the row. Refusals are not kept: they change nothing.
Header and rules: IETF draft httpapi-idempotency-key-header.
"""

from __future__ import annotations

import hashlib
import json
from datetime import timedelta
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils import timezone
from rest_framework.exceptions import ValidationError
from rest_framework.renderers import JSONRenderer
from rest_framework.response import Response

from api.errors import Unreadable
from api.models import Repeat
from api.requests import Request

HEADER, REPLAYED = "Idempotency-Key", "Idempotency-Replayed"
KEPT = timedelta(days=1)
LONGEST = 100


class Refused(Exception):
    """Takes back the row of a call that changed nothing; holds its answer."""

    def __init__(self, answer: Response) -> None:
        self.answer = answer


def guard(view: Any, request: Request) -> None:
    """From here on this view's `post` is done once for the key in the header, if there is one."""
    key = request.headers.get(HEADER, "")
    if request.method != "POST" or not key or not hasattr(view, "post"):
        return
    if len(key) > LONGEST or not key.isprintable():
        raise ValidationError({HEADER: [f"Send up to {LONGEST} printable characters."]})
    once = view.post

    def post(request: Request, *args: Any, **kwargs: Any) -> Response:
        try:
            with transaction.atomic():
                return _once(request, key, lambda: once(request, *args, **kwargs))
        except Refused as refused:
            return refused.answer

    view.post = post


def _once(request: Request, key: str, call: Any) -> Response:
    Repeat.objects.filter(token=request.auth, at__lt=timezone.now() - KEPT).delete()
    digest = _digest(request)
    row, made = Repeat.objects.select_for_update().get_or_create(
        token=request.auth, key=key, defaults={"digest": digest}
    )
    if not made:
        if row.digest != digest:
            raise Unreadable(f"This {HEADER} was used for another call. Choose a new one for each.")
        return Response(row.body, status=row.status, headers={REPLAYED: "true"})
    answer: Response = call()
    if answer.status_code >= 400:
        raise Refused(answer)
    row.status, row.body = answer.status_code, json.loads(JSONRenderer().render(answer.data) or b"null")
    row.save(update_fields=["status", "body"])
    return answer


def _digest(request: Request) -> str:
    """Method, address and body; of a file its name and size."""
    sent: Any = request.data
    if hasattr(sent, "lists"):
        sent = {name: [_said(one) for one in values] for name, values in sent.lists()}
    text = json.dumps([request.method, request.get_full_path(), sent], sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()


def _said(value: Any) -> str:
    return f"file {value.name}, {value.size} bytes" if isinstance(value, UploadedFile) else str(value)
