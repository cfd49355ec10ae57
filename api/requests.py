"""A request as a call of the API meets it. Types only: at run time it is the framework's own request."""

from __future__ import annotations

from rest_framework import request as framework

from api.models import Token
from studio.models import User


class Request(framework.Request):
    """The request of a token: `TokenAuthentication` and `HasScope` let nobody else through to a call."""

    user: User
    auth: Token
