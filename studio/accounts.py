"""How accounts behave: no open sign-up, no user name, the sign-in form's words, what the log holds of signing in."""

from __future__ import annotations

import time
from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.forms import ChangePasswordForm, LoginForm
from allauth.account.internal.flows.login import get_authentication_records
from allauth.core import context
from django.core.exceptions import ValidationError
from django.forms import BooleanField
from django.http import HttpRequest

from studio import waits
from studio.audit import record
from studio.models import AuditEntry, Programme, User

CONFIRMED_FOR = 300  # seconds: who signed in or confirmed just now is not asked again before a change that matters
METHODS = {
    "reauthenticate": "Your password",
    "mfa_reauthenticate": "A code",
    "mfa_reauthenticate:webauthn": "A passkey",
}


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
        email, address = str(credentials.get("email", "")), self.get_client_ip(request)
        waits.failed(email, address)
        _record_refusal(email, address)

    def is_reauthentication_required(self, *, app: str, **kwargs: Any) -> bool:
        return super().is_reauthentication_required(app=app, **kwargs) and not _confirmed(context.request)

    def get_reauthentication_methods(self, user: Any) -> list[dict[str, Any]]:
        methods = super().get_reauthentication_methods(user)
        return [method | {"description": METHODS.get(method["id"], method["description"])} for method in methods]

    def login(self, request: HttpRequest, user: Any) -> None:
        super().login(request, user)
        waits.signed_in(user.email, self.get_client_ip(request))


def _confirmed(request: HttpRequest) -> bool:
    """Whether who sends this request said who they are within the last minutes."""
    records = get_authentication_records(request, request.user)
    return bool(records) and time.time() - records[-1]["at"] < CONFIRMED_FOR


def _record_refusal(email: str, address: str) -> None:
    """A wrong password stands in the log under the person; for addresses that nobody has, once an hour and place.

    The waits bound both (`studio.waits`), so that nobody can fill the log.
    """
    person = User.objects.filter(email__iexact=email).first() if email else None
    if person is not None:
        record(AuditEntry.Kind.LOGIN, "Sign-in refused: wrong password", about=person)
    elif waits.first_of_nobody(address):
        record(AuditEntry.Kind.LOGIN, "Sign-in refused: no account has this address")


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
