"""How accounts behave: no open sign-up, no user name, the sign-in form's words."""

from __future__ import annotations

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.forms import ChangePasswordForm, LoginForm
from django.core.exceptions import ValidationError
from django.forms import BooleanField
from django.http import HttpRequest

from studio import waits
from studio.models import Programme


class AccountAdapter(DefaultAccountAdapter):
    """Accounts come from the set-up page, from invitations and from the roster, never from open sign-up."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def format_email_subject(self, subject: str) -> str:
        """Every letter says at once from whom it comes."""
        return f"{Programme.current().name}: {subject[:1].lower()}{subject[1:]}"

    def pre_authenticate(self, request: HttpRequest, **credentials: Any) -> None:
        super().pre_authenticate(request, **credentials)
        if refused := waits.refusal(str(credentials.get("email", "")), self.get_client_ip(request)):
            raise ValidationError(refused)

    def authentication_failed(self, request: HttpRequest, **credentials: Any) -> None:
        waits.failed(str(credentials.get("email", "")), self.get_client_ip(request))

    def login(self, request: HttpRequest, user: Any) -> None:
        super().login(request, user)
        waits.signed_in(user.email, self.get_client_ip(request))


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


class PasswordForm(ChangePasswordForm):
    """A new password; with it, if wanted, the end of what programs hold. Asked only of a person who has tokens."""

    end_tokens = BooleanField(
        required=False,
        initial=True,
        label="End my API tokens as well",
        help_text="Programs that use them stop working until they get new ones. Leave it ticked if somebody else may know your password.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.user.api_tokens.filter(revoked=None).exists():
            del self.fields["end_tokens"]
