"""Pages of results: `?page=`, `?per_page=` (at most 100)."""

from __future__ import annotations

from typing import Any

from django.core.paginator import InvalidPage
from rest_framework.exceptions import NotFound
from rest_framework.pagination import PageNumberPagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer

from api.listed import kind_of, noticed, only_since


class Pages(PageNumberPagination):
    page_size = 50
    page_size_query_param = "per_page"
    max_page_size = 100


def page_of(request: Request, rows: Any, serializer: type[BaseSerializer[Any]], view: Any, **context: Any) -> Response:
    """One page of `rows` (a queryset or a list) as a response body with `count`, `next`, `previous`, `results`.

    `context` is the serializer's; a function in it is given the page.
    """
    pages = Pages()
    rows = only_since(request, rows, serializer)
    if kind_of(serializer):
        context["changed"] = noticed(serializer)
    try:
        page: Any = pages.paginate_queryset(rows, request, view=view)
    except (InvalidPage, OverflowError) as error:
        raise NotFound("There is no such page.") from error
    known = {name: value(page) if callable(value) else value for name, value in context.items()}
    return pages.get_paginated_response(serializer(page, many=True, context={"request": request, **known}).data)
