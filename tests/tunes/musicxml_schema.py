"""The MusicXML 4.0 schema (W3C, 2021) as the package `musicxml` ships it, with local stubs for xml: and xlink:."""

from __future__ import annotations

import re
import tempfile
from functools import lru_cache
from pathlib import Path
from typing import Any

from lxml import etree

_XML = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/XML/1998/namespace">
<xs:attribute name="lang" type="xs:language"/>
<xs:attribute name="space" type="xs:NCName"/>
</xs:schema>"""
_XLINK = (
    '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/1999/xlink">'
    + "".join(
        f'<xs:attribute name="{name}" type="xs:string"/>'
        for name in ("href", "type", "role", "title", "show", "actuate")
    )
    + "</xs:schema>"
)


def source() -> str:
    import musicxml

    return (Path(musicxml.__file__).parent / "generate_classes" / "musicxml_4_0.xsd").read_text("utf-8")


def values_of(simple_type: str) -> set[str]:
    """The values that the schema lists for a type."""
    block = re.search(rf'<xs:simpleType name="{simple_type}">.*?</xs:simpleType>', source(), re.DOTALL)
    return set(re.findall(r'<xs:enumeration value="([^"]+)"', block[0])) if block else set()


@lru_cache(maxsize=1)
def schema() -> Any:
    text = re.sub(r'schemaLocation="http[^"]*/(xml|xlink)\.xsd"', r'schemaLocation="\1.xsd"', source())
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "musicxml.xsd").write_text(text, "utf-8")
        (Path(folder) / "xml.xsd").write_text(_XML, "utf-8")
        (Path(folder) / "xlink.xsd").write_text(_XLINK, "utf-8")
        return etree.XMLSchema(etree.parse(str(Path(folder) / "musicxml.xsd")))


def faults(document: bytes) -> list[str]:
    """What the schema says against a document; empty when it is valid."""
    found = schema()
    found.validate(etree.fromstring(document))
    return [f"line {entry.line}: {entry.message}" for entry in found.error_log]
