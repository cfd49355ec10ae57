"""What may be left out is said once in a form, never beside every field."""

from __future__ import annotations

from django import forms

from studio.templatetags.fields import needed


def form_of(asked: int, free: int, either: int = 0) -> forms.Form:
    form = forms.Form()
    for count, name, required in ((asked, "asked", True), (free, "free", False), (either, "either", False)):
        for number in range(1, count + 1):
            field = forms.CharField(required=required, label=f"{name.capitalize()} {number}")
            field.one_is_enough = name == "either"  # type: ignore[attr-defined]
            form.fields[f"{name}{number}"] = field
    form.fields["tick"] = forms.BooleanField(required=False, label="Tick")
    return form


CASES = (
    (1, 8, 0, "Needed: Asked 1. The rest if you like."),
    (2, 2, 0, "Needed: Asked 1 and Asked 2. The rest if you like."),
    (5, 2, 0, "If you like: Free 1 and Free 2. The rest is needed."),
    (0, 3, 0, "All of this if you like."),
    (0, 2, 2, "Free 1 and Free 2: if you like."),
    (3, 1, 0, ""),
    (3, 0, 2, ""),
)


def test_a_form_says_once_what_may_be_left_out() -> None:
    for asked, free, either, words in CASES:
        assert needed(form_of(asked, free, either)) == words
        page = str(form_of(asked, free, either))
        assert page.lower().count("if you like") == (1 if free else 0), page
        assert words in page
        assert ("form__needed" in page) == bool(words)
