"""What every call shares: token, scope, throttle, and how an object that is not yours answers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from rest_framework.exceptions import NotFound, PermissionDenied, ValidationError
from rest_framework.request import Request
from rest_framework.serializers import BaseSerializer, ListSerializer, Serializer
from rest_framework.throttling import BaseThrottle
from rest_framework.views import APIView

from api import query, repeats, tags
from api.paging import Pages
from api.security import HasScope, PerToken, PerTokenHeavy, TokenAuthentication, remaining
from studio import access
from tunes.access import refuse_held_chords

BIGGEST_ID = 2**63 - 1


class Call(APIView):
    """Base of all calls. `scopes` maps each method to the scope its token needs."""

    authentication_classes = (TokenAuthentication,)
    permission_classes = (HasScope,)
    scopes: ClassVar[dict[str, str]] = {}
    pagination_class = Pages  # how lists are described; `page_of` makes them

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """After token, scope and throttle: filters that exist, a state that is still the caller's, a call made once."""
        super().initial(request, *args, **kwargs)
        query.check(self, request)
        tags.check(self, request, *args, **kwargs)
        repeats.guard(self, request)  # type: ignore[arg-type]

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Any:
        found = super().finalize_response(request, response, *args, **kwargs)
        tags.put(request, found)
        for name, value in remaining(getattr(self, "throttles_asked", ())).items():
            found[name] = value
        return found

    def get_throttles(self) -> list[BaseThrottle]:
        """One count per call: the smaller share for calls that compute (those with a `throttle_scope`)."""
        self.throttles_asked: list[BaseThrottle] = (
            [PerTokenHeavy()] if hasattr(self, "throttle_scope") else [PerToken()]
        )
        return self.throttles_asked

    def perform_content_negotiation(self, request: Request, force: bool = False) -> Any:
        """Whatever a program says it accepts: a call has one kind of answer (RFC 9110, section 12.5.1 allows that)."""
        return super().perform_content_negotiation(request, force=True)

    @staticmethod
    def valid(serializer: type[BaseSerializer[Any]], request: Request, **kwargs: Any) -> dict[str, Any]:
        """The body, checked; a 400 that names the field otherwise, also one that this call does not take."""
        return dict(Call.form(serializer, request, **kwargs).validated_data)

    @staticmethod
    def form(serializer: type[BaseSerializer[Any]], request: Request, **kwargs: Any) -> BaseSerializer[Any]:
        """The serializer with the body in it, checked as in `valid`."""
        form = serializer(data=request.data, **kwargs)
        if foreign := unknown_fields(form, request.data):
            raise ValidationError(foreign)
        form.is_valid(raise_exception=True)
        return form

    @staticmethod
    def must_edit_repertoire(request: Request) -> None:
        if not access.can_edit_repertoire(request.user):
            raise PermissionDenied("Only instructors change the repertoire.")

    @staticmethod
    def must_know_analysis(request: Request, tune: int) -> None:
        """403 while the chords of a tune, or what they do, are held back from the caller as a player."""
        if held := refuse_held_chords(request.user, tune):
            raise PermissionDenied(held)


def unknown_fields(shape: Any, body: Any, path: str = "") -> dict[str, list[str]]:
    """Field → why it is refused, for every key of a body that its shape does not take, nested ones by their path."""
    found: dict[str, list[str]] = {}
    if isinstance(shape, ListSerializer):
        for place, row in enumerate(body if isinstance(body, list) else ()):
            found |= unknown_fields(shape.child, row, f"{path}{place}.")
    elif isinstance(shape, Serializer) and isinstance(body, Mapping):
        takes = {name: field for name, field in shape.fields.items() if not field.read_only}
        for name in body:
            if name in takes:
                found |= unknown_fields(takes[name], body[name], f"{path}{name}.")
            else:
                found[f"{path}{name}"] = [f"This call takes no such field. It takes: {', '.join(takes)}."]
    return found


def number(request: Request, name: str) -> int | None:
    """A query parameter that is an id; 404 for one that can be none."""
    text = request.query_params.get(name, "")
    if not text:
        return None
    if not text.isascii() or not text.isdigit() or int(text[:20]) > BIGGEST_ID:
        raise NotFound(f"“{name}” is an id, a whole number.")
    return int(text)
