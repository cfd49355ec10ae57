"""A request as a view behind the sign-in meets it. Types only: at run time it is Django's own request."""

from __future__ import annotations

from django.http import HttpRequest

from studio.models import User


class MemberRequest(HttpRequest):
    """The request of somebody who has signed in: what `login_required` and the access rules leave through."""

    user: User
