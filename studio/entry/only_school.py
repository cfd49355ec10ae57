"""Where the director has switched the site's own sign-in off: what answers instead."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from studio.entry import school
from studio.models import Programme


def switched_off() -> bool:
    """Passwords, letters and passkeys do not let in. Without a school's sign-in they always do."""
    return settings.SCHOOL_SIGN_IN is not None and not school.rule(Programme.current().sign_in_rules).passwords


def unless_switched_off(view: Callable[..., Any]) -> Callable[..., Any]:
    """The page where one goes to the school's sign-in, in place of a page of the site's own."""

    @wraps(view)
    def asked(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.user.is_authenticated or not switched_off():
            answer: HttpResponse = view(request, *args, **kwargs)
            return answer
        status = 403 if request.method == "POST" else 200
        return render(request, "account/only_school.html", {"next": request.GET.get("next", "")}, status=status)

    return asked
