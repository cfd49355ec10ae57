"""How accounts behave: no open sign-up, no user name, the sign-in form's words."""
from __future__ import annotations

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.forms import LoginForm
from django.http import HttpRequest

from studio.models import Programme


class AccountAdapter(DefaultAccountAdapter):
    """Accounts come from the set-up page, from invitations and from the roster, never from open sign-up."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def format_email_subject(self, subject: str) -> str:
        """Every letter says at once from whom it comes."""
        return f"{Programme.current().name}: {subject[:1].lower()}{subject[1:]}"


class SignInForm(LoginForm):
    """E-mail and password, with plain labels and no placeholders."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["login"].label = "E-mail"
        for field in self.fields.values():
            field.widget.attrs.pop("placeholder", None)
        if "remember" in self.fields:
            self.fields["remember"].label = "Stay signed in on this device"
        self.fields["password"].help_text = ""
