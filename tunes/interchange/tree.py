"""Small looks into an element tree, blind to namespaces, never raising."""

from __future__ import annotations

from fractions import Fraction
from xml.etree.ElementTree import Element


def one(element: Element | None, tag: str) -> Element | None:
    return None if element is None else element.find(tag)


def all_of(element: Element, tag: str) -> list[Element]:
    return element.findall(tag)


def text_of(element: Element | None) -> str:
    return (element.text or "").strip() if element is not None else ""


def integer(element: Element | None) -> int | None:
    """The whole number an element holds, or None; a decimal is rounded, an absurd one is None."""
    number = decimal(element)
    return None if number is None else round(number)


def decimal(element: Element | None) -> Fraction | None:
    text = text_of(element)
    if not text or len(text) > 12 or not set(text) <= set("0123456789.-+"):
        return None
    try:
        return Fraction(text)
    except ValueError:
        return None


def strip_namespaces(root: Element) -> None:
    """Drop a namespace in front of every tag, in place: some programs declare one."""
    for element in root.iter():
        if isinstance(element.tag, str) and "}" in element.tag:
            element.tag = element.tag.rsplit("}", 1)[-1]
