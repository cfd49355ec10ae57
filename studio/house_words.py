"""The site's own sentences where a form is wrong, in place of the framework's: what is amiss and what to type instead.

Set once at start-up for every form, whichever app it belongs to; a form with better words of its own keeps them.
Numbers in the sentences are filled in by the framework (`%(limit_value)s` and so on).
"""

from __future__ import annotations

from django import forms
from django.apps import apps
from django.core import validators
from django.db.models import constraints, fields

REQUIRED = "Fill this in: it is required."
CHOOSE = "Choose one of the list: “%(value)s” is not in it."
CHOOSE_AGAIN = "This is not in the list (any more). Choose again."

FIELDS: dict[type[forms.Field], dict[str, str]] = {
    forms.Field: {"required": REQUIRED},
    forms.IntegerField: {"invalid": "Write a whole number, such as 3."},
    forms.FloatField: {"invalid": "Write a number, such as 0.5."},
    forms.DecimalField: {"invalid": "Write a number, such as 0.5."},
    forms.DateField: {"invalid": "Write a day as year-month-day, such as 2026-09-01."},
    forms.TimeField: {"invalid": "Write a time as hours and minutes, such as 19:30."},
    forms.DateTimeField: {"invalid": "Write day and time, such as 2026-09-01 19:30."},
    forms.URLField: {"invalid": "Write the whole address, starting with https://."},
    forms.UUIDField: {"invalid": "This page is out of date. Open it again."},
    forms.JSONField: {"invalid": "This cannot be read. Open the page again and try once more."},
    forms.ChoiceField: {"invalid_choice": CHOOSE},
    forms.TypedChoiceField: {"invalid_choice": CHOOSE},
    forms.MultipleChoiceField: {"invalid_choice": CHOOSE, "invalid_list": CHOOSE_AGAIN},
    forms.ModelChoiceField: {"invalid_choice": CHOOSE_AGAIN},
    forms.ModelMultipleChoiceField: {
        "invalid_choice": CHOOSE_AGAIN,
        "invalid_list": CHOOSE_AGAIN,
        "invalid_pk_value": CHOOSE_AGAIN,
    },
    forms.FileField: {
        "invalid": "No file arrived. Choose it again.",
        "missing": "No file arrived. Choose it again.",
        "empty": "This file is empty. Choose another one.",
        "max_length": "The name of this file is too long: at most %(max)d characters.",
        "contradiction": "Choose a file or take the old one away, not both.",
    },
    forms.BooleanField: {"required": "Tick this to go on."},
}

VALIDATORS: dict[type, str] = {
    validators.MinValueValidator: "Write %(limit_value)s or more.",
    validators.MaxValueValidator: "Write %(limit_value)s or less.",
    validators.MinLengthValidator: "Write at least %(limit_value)d characters; this has %(show_value)d.",
    validators.MaxLengthValidator: "There is room for %(limit_value)d characters; this has %(show_value)d. Shorten it.",
    validators.EmailValidator: "Write a whole address, such as ada@school.example.",
    validators.URLValidator: "Write the whole address, starting with https://.",
    validators.RegexValidator: "This cannot be read. Write it another way.",
    validators.ProhibitNullCharactersValidator: "This holds a character that cannot be kept. Type it again.",
}

UNIQUE = "There is one with this %(field_label)s already. Choose another."
CONSTRAINT = "This does not go with what is kept already. Change one of the two."


def use_house_words() -> None:
    """Put the sentences where every form looks for them. Called once, when the site starts."""
    for kind, words in FIELDS.items():
        kind.default_error_messages = {**kind.__dict__.get("default_error_messages", {}), **words}
    for validator, sentence in VALIDATORS.items():
        validator.message = sentence  # type: ignore[attr-defined]
    fields.Field.default_error_messages = {**fields.Field.default_error_messages, "unique": UNIQUE}
    plain = constraints.BaseConstraint.default_violation_error_message
    constraints.BaseConstraint.default_violation_error_message = CONSTRAINT
    for model in apps.get_models():
        for rule in model._meta.constraints:
            if rule.violation_error_message == plain:
                rule.violation_error_message = CONSTRAINT
