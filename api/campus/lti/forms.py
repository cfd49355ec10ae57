from __future__ import annotations

from typing import Any

from django import forms

from api.campus import outward
from api.models import Platform
from studio.models import Ensemble

MOST_DEPLOYMENTS = 200
ADDRESSES = ("login_url", "token_url", "keys_url")


class PlatformForm(forms.ModelForm[Platform]):
    """What a course system's page of external tools tells."""

    issuer = forms.CharField(label="Issuer (platform id)", max_length=255)
    client_id = forms.CharField(label="Client id", max_length=255)
    login_url = forms.CharField(label="Address of authentication requests", max_length=500)
    token_url = forms.CharField(label="Address of access tokens", max_length=500)
    keys_url = forms.CharField(label="Address of the public key set", max_length=500)
    audience = forms.CharField(
        label="Audience of token requests",
        max_length=500,
        required=False,
        help_text="Only if the course system names one that is not the address of access tokens.",
    )
    deployments = forms.CharField(
        label="Deployment ids",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="One to a line. Links of a deployment that is not named here open nothing.",
    )

    class Meta:
        model = Platform
        fields = ("name", "issuer", "client_id", *ADDRESSES, "audience", "deployments", "trusts_addresses")
        labels = {
            "name": "What you call it",
            "trusts_addresses": "Its e-mail addresses and school ids come from the school",
        }
        help_texts = {
            "trusts_addresses": "Tick this only if nobody can change their own address in the course system. People are "
            "matched by it the first time they open a link; without it only by addresses that the course system says are verified."
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.initial["deployments"] = "\n".join(self.instance.deployments)

    def clean_deployments(self) -> list[str]:
        rows = [line.strip() for line in self.cleaned_data["deployments"].splitlines() if line.strip()]
        if not rows or len(rows) > MOST_DEPLOYMENTS or any(len(row) > 255 for row in rows):
            raise forms.ValidationError(f"Give 1 to {MOST_DEPLOYMENTS} ids of up to 255 characters, one to a line.")
        return list(dict.fromkeys(rows))

    def clean(self) -> dict[str, Any]:
        found = super().clean() or {}
        for name in ADDRESSES:
            if (address := found.get(name)) and (why := outward.refusal(address)):
                self.add_error(name, why)
        same = Platform.objects.filter(issuer=found.get("issuer"), client_id=found.get("client_id"), ended=None)
        if same.exclude(pk=self.instance.pk).exists():
            self.add_error("client_id", "This client of the issuer is registered already. Change that registration.")
        return found


class RegisterForm(forms.Form):
    """What a course system adds to the address when it registers this site by itself (Dynamic Registration 1.0)."""

    openid_configuration = forms.CharField(
        max_length=500,
        widget=forms.HiddenInput,
        error_messages={"required": "The course system did not say where its description is."},
    )
    registration_token = forms.CharField(max_length=4000, required=False, widget=forms.HiddenInput)

    def clean_openid_configuration(self) -> str:
        address: str = self.cleaned_data["openid_configuration"]
        if why := outward.refusal(address):
            raise forms.ValidationError(f"The address of its description cannot be used. {why}")
        return address

    def clean_registration_token(self) -> str:
        token: str = self.cleaned_data["registration_token"]
        if not token.isascii() or not token.isprintable():
            raise forms.ValidationError("The token of the course system is none that can be sent.")
        return token


class MembersForm(forms.Form):
    """Into which ensemble the members of a course go."""

    ensemble = forms.ModelChoiceField(label="Ensemble", queryset=Ensemble.objects.none(), empty_label="Choose one")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["ensemble"]
        field.queryset = Ensemble.objects.running_first()
        field.label_from_instance = lambda one: one.in_term
