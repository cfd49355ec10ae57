"""The words of the handbook as text of a page: labels and links, everything else escaped."""

from __future__ import annotations

from django import template
from django.urls import reverse
from django.utils.html import escape, format_html
from django.utils.safestring import SafeString, mark_safe

from studio.handbook.task import LABEL, LINK

register = template.Library()


@register.filter
def told_plainly(text: str) -> SafeString:
    """`*Label*` in strong type, `[words](route)` as a link."""
    linked = LINK.sub(lambda found: format_html('<a href="{}">{}</a>', reverse(found[2]), found[1]), _escaped(text))
    return mark_safe(LABEL.sub(r"<strong>\1</strong>", linked))


def _escaped(text: str) -> str:
    return str(escape(text))
