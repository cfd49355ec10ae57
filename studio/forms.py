"""Forms of the programme's own pages."""

from __future__ import annotations

import zoneinfo
from typing import Any

from django import forms
from django.contrib.auth import password_validation
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError

from studio.instruments import INSTRUMENTS, find_instrument, instrument_choices, nearest, split_instruments
from studio.models import Ensemble, Membership, Term, User


def zone_choices() -> list[tuple[str, str]]:
    """Time zones by place, for a select."""
    return [
        (name, name.replace("_", " "))
        for name in sorted(zoneinfo.available_timezones())
        if "/" in name or name == "UTC"
    ]


def with_none(label: str) -> list[tuple[str, Any]]:
    return [("", label), *instrument_choices()]


class InstrumentField(forms.ChoiceField):
    """A select of all instruments, grouped by family."""

    def __init__(self, *, none: str = "Not chosen", **options: Any) -> None:
        options.setdefault("required", False)
        super().__init__(choices=lambda: with_none(none), **options)


class EmailField(forms.EmailField):
    """An address in small letters, so that the same person never gets two accounts."""

    def clean(self, value: Any) -> str:
        return str(super().clean(value)).lower()


class DoublesField(forms.CharField):
    """Further instruments of a chair, typed as names; a list of keys of the table."""

    def __init__(self, **kwargs: Any) -> None:
        whole: dict[str, Any] = {
            "label": "Doubles on",
            "max_length": 200,
            "required": False,
            "help_text": "Further instruments in this chair, such as flute, clarinet. Charts and drills come for each.",
        } | kwargs
        super().__init__(**whole)

    def prepare_value(self, value: Any) -> Any:
        return (
            ", ".join(INSTRUMENTS[key].name for key in value if key in INSTRUMENTS)
            if isinstance(value, list)
            else value
        )

    def clean(self, value: Any) -> list[str]:
        found = []
        for name in split_instruments(super().clean(value)):
            entry = find_instrument(name)
            if entry is None:
                raise ValidationError(f"“{name}” is not an instrument of the list. {nearest(name)}")
            found.append(entry.key)
        return list(dict.fromkeys(found))

    def has_changed(self, initial: Any, data: Any) -> bool:
        return bool(super().has_changed(self.prepare_value(initial), data))


class NewPasswordMixin(forms.Form):
    """One field for a new password, checked against the rules of the site."""

    password = forms.CharField(
        label="Password",
        strip=False,
        max_length=128,
        help_text="At least 10 characters; a few plain words do well.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def password_user(self) -> User:
        """The account that the password is for, to compare name and address with."""
        return User(email=self.cleaned_data.get("email", ""), name=self.cleaned_data.get("name", ""))

    def _post_clean(self) -> None:
        super()._post_clean()  # type: ignore[misc]
        password = self.cleaned_data.get("password")
        if password:
            try:
                password_validation.validate_password(password, self.password_user())
            except ValidationError as error:
                self.add_error("password", error)


class SetupForm(NewPasswordMixin):
    """The programme and its first director."""

    programme_name = forms.CharField(label="Name of the programme", max_length=120)
    time_zone = forms.ChoiceField(
        label="Time zone", choices=zone_choices, initial="UTC", help_text="Due dates are shown and counted in it."
    )
    name = forms.CharField(label="Your name", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"}))
    email = EmailField(label="Your e-mail", widget=forms.EmailInput(attrs={"autocomplete": "email"}))
    field_order = ["programme_name", "time_zone", "name", "email", "password"]

    def clean_email(self) -> str:
        email = str(self.cleaned_data["email"])
        if User.objects.filter(email=email).exists():
            raise ValidationError("An account has this address already; use another.")
        return email


class AcceptForm(NewPasswordMixin):
    """A person on the roster chooses a password."""

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user

    def password_user(self) -> User:
        return self.user


class AccountForm(forms.ModelForm):
    """What everyone may change about themselves."""

    instrument = InstrumentField(
        label="Main instrument",
        help_text="Charts and drills are written for it, unless all your chairs of this term have another. A quiz is written for the chair it is asked of.",
    )

    class Meta:
        model = User
        fields = ["name", "instrument", "theme", "wants_digest"]
        labels = {"name": "Name", "theme": "Light or dark", "wants_digest": "One e-mail a day when something is new"}


class PersonForm(forms.ModelForm):
    """What the director may change about a person."""

    email = EmailField(label="E-mail")
    instrument = InstrumentField(label="Main instrument")

    class Meta:
        model = User
        fields = ["name", "email", "school_id", "instrument", "is_director", "is_active"]
        labels = {
            "name": "Name",
            "school_id": "School id",
            "is_director": "Director: sees and changes everything",
            "is_active": "May sign in",
        }
        help_texts = {
            "school_id": "The number under which the school’s own systems know this person. Rosters and the school’s sign-in find people by it before they look at the address."
        }

    def __init__(self, *args: Any, by: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.by = by
        if self.instance.pk and not self.instance.address:
            self.fields["email"].required, self.initial["email"] = False, ""

    def clean_email(self) -> str:
        """Asked here, so that the database's own rule about addresses never has to speak."""
        email = str(self.cleaned_data["email"])
        if not email:  # none is known yet, and none was typed
            return str(self.instance.email)
        if User.objects.filter(email__iexact=email).exclude(pk=self.instance.pk).exists():
            raise ValidationError("Somebody has this address already; look among the people.")
        return email

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if self.instance.pk == self.by.pk and not (data.get("is_director") and data.get("is_active")):
            raise ValidationError("You cannot take your own director's rights away; another director can.")
        return data


class NewPersonForm(PersonForm):
    """A new person, by name and address; the invitation follows."""

    class Meta(PersonForm.Meta):
        fields = ["name", "email", "school_id", "instrument", "is_director"]

    def clean(self) -> dict[str, Any]:
        return forms.ModelForm.clean(self) or {}


class DateInput(forms.DateInput):
    """The browser's own date field."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


LONGEST_TERM = 731  # days


class TermForm(forms.ModelForm):
    """A term with its first and last day."""

    class Meta:
        model = Term
        fields = ["name", "starts", "ends"]
        labels = {"name": "Name", "starts": "First day", "ends": "Last day"}
        widgets = {"starts": DateInput(), "ends": DateInput()}

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        starts, ends = data.get("starts"), data.get("ends")
        if starts and ends and ends < starts:
            self.add_error("ends", f"The last day lies before the first ({starts:%-d %B %Y}).")
        elif starts and ends and (ends - starts).days > LONGEST_TERM:
            self.add_error("ends", "A term lasts two years at most. Is the year right?")
        return data


class EnsembleForm(forms.ModelForm):
    """An ensemble in one term."""

    class Meta:
        model = Ensemble
        fields = ["name", "term"]
        labels = {"name": "Name", "term": "Term"}
        error_messages = {
            NON_FIELD_ERRORS: {"unique_together": "This term has an ensemble of that name. Name this one otherwise."}
        }

    def clean_name(self) -> str:
        """Runs of spaces count as one: a roster finds an ensemble by its name."""
        return " ".join(self.cleaned_data["name"].split())

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        name, term = data.get("name"), data.get("term")
        others = Ensemble.objects.filter(term=term).exclude(pk=self.instance.pk) if term else Ensemble.objects.none()
        same = others.exclude(name=name).filter(name__iexact=name).first() if name else None
        if same:
            self.add_error("name", f"This term has “{same.name}” already. Name this one otherwise.")
        return data


class _PersonForm(forms.Form):
    """Asks for a person who has no chair in the ensemble yet."""

    person = forms.CharField(
        label="Person", max_length=254, help_text="E-mail address or name of somebody in the programme."
    )

    def __init__(self, *args: Any, ensemble: Ensemble, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ensemble = ensemble

    def clean_person(self) -> User:
        """The one person meant: by address, by whole name, or by a part of it that fits nobody else."""
        text = " ".join(self.cleaned_data["person"].split())
        active = User.objects.filter(is_active=True)
        for matching in ({"email": text.lower()}, {"name__iexact": text}, {"name__icontains": text}):
            found = list(active.filter(**matching).order_by("name", "pk")[:6])
            if len(found) == 1:
                return self._free(found[0])
            if found:
                choice = ", ".join(user.address or f"{user.name} has none" for user in found[:5])
                raise ValidationError(f"Several people fit. Type the address of one of them: {choice}.")
        raise ValidationError("Nobody in the programme has that address or name. Add the person first.")

    def _free(self, user: User) -> User:
        if self.ensemble.memberships.filter(user=user).exists():
            raise ValidationError(f"{user.name} has a chair in {self.ensemble} already.")
        return user


class ChairForm(_PersonForm):
    """Gives a person a chair in an ensemble."""

    role = forms.ChoiceField(label="As", choices=Membership.Role.choices)
    instrument = InstrumentField(label="Instrument", none="Their main instrument")
    doubles = DoublesField()


class SubstituteForm(_PersonForm):
    """Lets a person lead an ensemble for some days. `anybody`: not only people who lead something already."""

    begins = forms.DateField(label="First day", widget=DateInput)
    ends = forms.DateField(label="Last day", widget=DateInput)
    prefix = "sub"

    def __init__(self, *args: Any, anybody: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.anybody = anybody

    def _free(self, user: User) -> User:
        found = super()._free(user)
        leads_something = user.is_director or Membership.objects.filter(
            user=user, role=Membership.Role.INSTRUCTOR, ends=None
        )
        if not self.anybody and not leads_something:
            raise ValidationError(f"{user.name} leads no ensemble of the programme: ask the director to do this.")
        return found

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        begins, ends = data.get("begins"), data.get("ends")
        if begins and ends and ends < begins:
            self.add_error("ends", f"The last day lies before the first ({begins:%-d %B %Y}).")
        elif ends and ends > self.ensemble.term.ends:
            self.add_error("ends", f"The term ends on {self.ensemble.term.ends:%-d %B %Y}.")
        return data


class ChairChangeForm(forms.ModelForm):
    """Another role or instrument for somebody who has a chair already."""

    instrument = InstrumentField(label="Instrument", none="Their main instrument")
    doubles = DoublesField()

    class Meta:
        model = Membership
        fields = ["role", "instrument", "doubles"]
        labels = {"role": "As"}


class RosterForm(forms.Form):
    """A roster as a file or as pasted text."""

    term = forms.ModelChoiceField(Term.objects.all(), label="Term", empty_label=None)
    file = forms.FileField(
        label="File",
        required=False,
        help_text="CSV from any spreadsheet, with a first line of column names; or a OneRoster package (ZIP).",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.txt,.tsv,text/csv,.zip,application/zip"}),
    )
    text = forms.CharField(
        label="Or the rows themselves",
        required=False,
        strip=False,
        max_length=1_000_000,
        widget=forms.Textarea(
            attrs={"rows": 8, "class": "code", "spellcheck": "false", "wrap": "off", "data-line-numbers": ""}
        ),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("file", "text"):
            self.fields[name].one_is_enough = True  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not data.get("file") and not (data.get("text") or "").strip():
            raise ValidationError("Choose a file, or paste the rows.")
        return data


class EraseForm(forms.Form):
    """The name of whoever is erased, typed by hand."""

    name = forms.CharField(
        label="Type the person's name", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )

    def __init__(self, *args: Any, person: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person

    def clean_name(self) -> str:
        typed = " ".join(str(self.cleaned_data["name"]).split())
        if typed.casefold() != " ".join(self.person.name.split()).casefold():
            raise ValidationError(f"Type “{self.person.name}”, as it stands above. Nothing has been erased.")
        return typed


class KeepingForm(forms.Form):
    """How long the data of people is kept after they left."""

    years = forms.IntegerField(
        label="Years after leaving",
        required=False,
        min_value=1,
        max_value=60,
        help_text="Counted from the end of the last term in which they had a chair. Empty: kept until a director erases them.",
    )
