"""The account library's second factors in this site's words, with waits for wrong codes and no code taken twice."""

from __future__ import annotations

import struct
from collections.abc import Callable
from typing import Any

from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.base.forms import AuthenticateForm, ReauthenticateForm
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.forms import ActivateTOTPForm
from allauth.mfa.webauthn.forms import (
    AddWebAuthnForm,
    AuthenticateWebAuthnForm,
    EditWebAuthnForm,
    LoginWebAuthnForm,
    ReauthenticateWebAuthnForm,
)
from django import forms
from django.core.cache import cache
from fido2.webauthn import AuthenticationResponse, RegistrationResponse

from studio import waits
from studio.entry import factor
from studio.models import Programme, User

UNREADABLE = (ArithmeticError, AttributeError, LookupError, RecursionError, TypeError, ValueError, struct.error)
REMEMBERED = 180  # seconds: a code counts for three steps of thirty at most, and is good once (RFC 6238, section 5.2)
WRONG = "This code is not right, or was used before. Wait for the next one your app shows, and check that the clock of your device is right."


class FactorAdapter(DefaultMFAAdapter):
    """Words, names, and the rule of the programme."""

    error_messages = DefaultMFAAdapter.error_messages | {
        "cannot_delete_authenticator": "Your role needs a second factor. Set up another one first, then take this one away.",
        "cannot_generate_recovery_codes": "Recovery codes come with a second factor. Set up an app or a passkey first.",
        "incorrect_code": WRONG,
    }

    def get_totp_issuer(self) -> str:
        return Programme.current().name

    def _get_site_name(self) -> str:
        return Programme.current().name

    def can_delete_authenticator(self, authenticator: Authenticator) -> bool:
        return factor.may_take_away(authenticator)

    def generate_authenticator_name(self, user: Any, type: Authenticator.Type) -> str:
        number = Authenticator.objects.filter(user_id=user.pk, type=type).count() + 1
        return "Passkey" if number == 1 else f"Passkey {number}"


def _plain(form: forms.Form, label: str, **attrs: str) -> None:
    field = form.fields["code"]
    field.label = label
    field.widget.attrs.pop("placeholder", None)
    field.widget.attrs |= {"inputmode": "numeric", "autocomplete": "one-time-code", "autofocus": True} | attrs


class _Waiting:
    """Wrong codes of one person make them wait, wherever they come from: whoever tries codes knows the password already."""

    user: User
    authenticator: Authenticator

    def clean_code(self) -> str:
        name = f"second factor of {self.user.pk}"
        if (left := waits.seconds_left(name, "")) > 0:
            raise forms.ValidationError(f"Too many wrong codes. Wait {waits.said(left)}, then try again.")
        try:
            code: str = super().clean_code()  # type: ignore[misc]
        except forms.ValidationError:
            waits.failed(name, "")
            raise
        if not cache.add(f"code-used:{self.user.pk}:{''.join(filter(str.isalnum, code))}", 1, REMEMBERED):
            raise forms.ValidationError(WRONG)
        waits.signed_in(name, "")
        return code


class CodeForm(_Waiting, AuthenticateForm):
    """A code of an app, or a recovery code, at sign-in."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _plain(self, "Code")


class CodeAgainForm(_Waiting, ReauthenticateForm):
    """The same before a change that matters."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _plain(self, "Code")


class AppForm(ActivateTOTPForm):
    """The first code of an app that was just told its secret."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _plain(self, "The six digits that your app shows now")


class DeviceAnswer(forms.JSONField):
    """What a device answered, read to its end here: the library's pages take only what its reader understands.

    `reads`: the reader. Whatever it stumbles over was sent by no device.
    """

    widget = forms.HiddenInput

    def __init__(self, reads: Callable[[Any], object]) -> None:
        super().__init__(max_length=20_000)
        self.reads = reads

    def bound_data(self, data: Any, initial: Any) -> Any:
        return ""  # an answer is good once: the page that says what was wrong asks for a new one

    def prepare_value(self, value: Any) -> Any:
        return ""

    def to_python(self, value: Any) -> Any:
        try:
            answer = super().to_python(value)
            if answer not in self.empty_values:
                self.reads(answer)
        except UNREADABLE as error:
            raise forms.ValidationError("The device did not answer as expected. Try again.") from error
        return answer


class _OfADevice:
    """The forms by which a passkey answers."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["credential"] = DeviceAnswer(AuthenticationResponse.from_dict)  # type: ignore[attr-defined]


class PasskeyCodeForm(_OfADevice, AuthenticateWebAuthnForm):
    """A passkey in place of a code."""


class PasskeyAloneForm(_OfADevice, LoginWebAuthnForm):
    """A passkey in place of everything."""


class PasskeyAgainForm(_OfADevice, ReauthenticateWebAuthnForm):
    """A passkey before a change that matters."""


class PasskeyForm(AddWebAuthnForm):
    """A name, and what the device answered."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["credential"] = DeviceAnswer(RegistrationResponse.from_dict)
        self.fields.pop("passwordless", None)  # whatever the device can is taken
        self.fields["name"].label = "Name"
        self.fields["name"].help_text = "To tell your passkeys apart: “phone”, “key on the ring”."
        self.fields["name"].max_length = 60
        self.fields["name"].widget.attrs["maxlength"] = 60


class PasskeyNameForm(EditWebAuthnForm):
    """Another name for a passkey."""

    name = forms.CharField(label="Name", max_length=60)
