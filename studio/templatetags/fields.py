"""What a form asks for, said once at its head instead of beside every field."""

from __future__ import annotations

from django import forms, template

register = template.Library()
FEW = 4  # names in the sentence


@register.simple_tag
def needed(form: forms.BaseForm) -> str:
    """The one sentence about what may be left out, "" where at most one field may: that one says so itself.

    A field whose form takes one of several (`one_is_enough`) is neither needed nor free. Once the sentence is said, no label of the
    form says it again (`templates/django/forms/field.html`).
    """
    shown = [field for field in form.visible_fields() if _labelled(field)]
    told = [field for field in shown if not getattr(field.field, "one_is_enough", False)]
    free = [str(field.label) for field in told if not field.field.required]
    asked = [str(field.label) for field in told if field.field.required]
    if len(free) < 2:
        return ""
    form.needed_said = True  # type: ignore[attr-defined]
    if not asked:
        return "All of this if you like." if len(told) == len(shown) else f"{_listed(free)}: if you like."
    if len(asked) <= FEW and len(asked) <= len(free):
        return f"Needed: {_listed(asked)}. The rest if you like."
    return f"If you like: {_listed(free)}. The rest is needed."


def _labelled(field: forms.BoundField) -> bool:
    """Whether its label would say that it may be left out: a tick and a choice of ticks or buttons never do."""
    return not field.use_fieldset and getattr(field.field.widget, "input_type", "") != "checkbox"


def _listed(labels: list[str]) -> str:
    """Labels in a row, as they stand on the page.

    >>> _listed(["Title"]), _listed(["Title", "Metre", "Key"])
    ('Title', 'Title, Metre and Key')
    """
    return ", ".join(labels[:-1]) + f" and {labels[-1]}" if len(labels) > 1 else labels[0]
