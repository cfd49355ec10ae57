"""Rows of lists say when their last change was noticed, and lists give those noticed since a time, by the feed of changes.

`changed` is the feed's: it sees every way in which a row changes, updates of many rows too. A list that is worked out (a
ledger, what is next) has no rows of its own and so no `changed`; what it is worked out of has.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable
from typing import Any, cast

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request

from api.changes import KINDS, PAUSE, look
from api.models import Change, ChangeState

KNOWN = frozenset(kind.id for kind in KINDS)
SINCE = OpenApiParameter(
    "since", str, description="Only rows whose change was noticed at this time or later, such as 2026-11-30T08:00:00Z"
)


class _Noticed(serializers.DateTimeField):
    """The time of the row's last noticed change, from `context["changed"]`."""

    def get_attribute(self, instance: Any) -> Any:
        identity = cast(Any, self.parent).fields["id"].get_attribute(instance)
        return self.context.get("changed", {}).get(identity)


@functools.cache
def listed(shape: type[serializers.Serializer], kind: str) -> type[serializers.Serializer]:
    """The shape of a row of a list: `shape` with `changed` (which it keeps where it has one of its own)."""
    if kind not in KNOWN:
        raise ValueError(f"No such kind in the feed: {kind}")

    def get_fields(self: Any) -> Any:
        found = shape.get_fields(self)
        if "changed" not in found:
            told = "When its last change was noticed, at most five minutes after it was made; null: not noticed yet"
            found["changed"] = _Noticed(read_only=True, allow_null=True, help_text=told)
        return found

    return type(f"Listed{shape.__name__}", (shape,), {"kind": kind, "get_fields": get_fields, "__doc__": shape.__doc__})


def kind_of(shape: Any) -> str:
    """The kind of the rows of a shape that `listed` made, "" of others."""
    return str(getattr(getattr(shape, "child", shape), "kind", ""))


def noticed(shape: Any) -> Callable[[Iterable[Any]], dict[int, Any]]:
    """A function from a page of rows to the times of their changes, by id: two queries, however many rows. The first list that
    anybody asks for begins the feed; from then on the worker looks."""
    identity = shape().fields["id"]

    def times(page: Iterable[Any]) -> dict[int, Any]:
        if not ChangeState.objects.exists():
            look()
        ids = [identity.get_attribute(row) for row in page]
        found = Change.objects.filter(kind=kind_of(shape), object__in=ids, gone=False)
        return dict(found.order_by().values_list("object", "at"))

    return times


def only_since(request: Request, rows: Any, shape: Any) -> Any:
    """The rows of a list whose change was noticed since the time that was asked for; all of them where none was."""
    text = request.query_params.get("since", "")
    if not text or not kind_of(shape):
        return rows
    try:
        since = serializers.DateTimeField().run_validation(text)
    except serializers.ValidationError as error:
        raise ValidationError({"since": ["Send a time such as 2026-11-30T08:00:00Z."]}) from error
    look(pause=PAUSE)
    found = (
        Change.objects.filter(kind=kind_of(shape), gone=False, at__gte=since)
        .order_by()
        .values_list("object", flat=True)
    )
    if isinstance(rows, QuerySet):
        return rows.filter(pk__in=found)
    identity, ids = shape().fields["id"], set(found)
    return [row for row in rows if identity.get_attribute(row) in ids]
