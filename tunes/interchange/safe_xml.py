"""XML from strangers: no entities, no outside files, a bound on elements and depth."""

from __future__ import annotations

from xml.etree.ElementTree import Element, ParseError, TreeBuilder

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import DefusedXMLParser

from tunes.interchange.errors import Refused

_CHUNK = 64 * 1024


class _BoundedBuilder(TreeBuilder):
    """A tree builder that stops at `elements` elements or `depth` levels, and keeps no tail text."""

    def __init__(self, elements: int, depth: int) -> None:
        super().__init__()
        self._left = elements
        self._max_depth = depth
        self._depth = 0

    def start(self, tag: str, attrs: dict[str, str]) -> Element:
        self._left -= 1
        self._depth += 1
        if self._left < 0:
            raise Refused("too-many-elements", "The score is far too large for a lead sheet.")
        if self._depth > self._max_depth:
            raise Refused("too-deep", "The file nests deeper than any score does.")
        return super().start(tag, attrs)

    def end(self, tag: str) -> Element:
        self._depth -= 1
        return super().end(tag)


def parse_xml(data: bytes, *, elements: int, depth: int, expect: tuple[str, ...]) -> Element:
    """The root element of `data`, whose local name must be in `expect`. Raises `Refused`."""
    parser = DefusedXMLParser(
        target=_BoundedBuilder(elements, depth), forbid_dtd=False, forbid_entities=True, forbid_external=True
    )
    try:
        for at in range(0, len(data), _CHUNK):
            parser.feed(data[at : at + _CHUNK])
        root: Element = parser.close()
    except DefusedXmlException as error:
        raise Refused("entities", "The file defines entities, which no score needs. Export it again.") from error
    except ParseError as error:
        line, column = error.position
        raise Refused(
            "broken-xml", f"The XML breaks at line {line}, column {column}. Export the file again."
        ) from error
    except (ValueError, LookupError, AssertionError) as error:
        if isinstance(error, Refused):
            raise
        raise Refused("broken-xml", "The XML cannot be read in its encoding. Export the file as UTF-8.") from error
    name = root.tag.rsplit("}", 1)[-1]
    if name not in expect:
        raise Refused(
            "wrong-root", f"This is XML, but not MusicXML: it begins with <{name[:40]}>. Choose a MusicXML file."
        )
    return root
