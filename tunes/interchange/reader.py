"""MusicXML bytes to a `LeadSheet`: the one part that carries the chords, read measure by measure.

Partwise and timewise scores, MusicXML 1.0 to 4.0 (W3C, MusicXML 4.0, 2021). Everything the sheet cannot
keep is a named `Loss`; everything that is no MusicXML is `Refused`.
"""

from __future__ import annotations

from collections.abc import Iterable
from xml.etree.ElementTree import Element

from tunes.interchange.archive import LIMITS, Limits, unpack
from tunes.interchange.errors import Loss, Refused
from tunes.interchange.measures import read_measures
from tunes.interchange.safe_xml import parse_xml
from tunes.interchange.sheet import LeadSheet
from tunes.interchange.tree import all_of, one, strip_namespaces, text_of


def read_musicxml(data: bytes, limits: Limits = LIMITS) -> LeadSheet:
    """The lead sheet in an uploaded file (.musicxml, .xml or .mxl). Raises `Refused`."""
    root = parse_xml(
        unpack(data, limits),
        elements=limits.elements,
        depth=limits.depth,
        expect=("score-partwise", "score-timewise"),
    )
    strip_namespaces(root)
    parts = _parts(root, limits)
    chosen = max(parts, key=_harmonies)  # the first of equals
    if not chosen:
        raise Refused("no-bars", "The score has no bars.")
    if len(chosen) > limits.bars:
        raise Refused("too-long", f"The score has {len(chosen)} bars; a lead sheet has at most {limits.bars}.")
    bars, state = read_measures(chosen)
    losses = tuple(state.losses) + _left_out(parts, chosen) + _lyrics(chosen)
    return LeadSheet(_title(root), _composer(root), state.fifths, state.mode, bars, losses)


def _parts(root: Element, limits: Limits) -> list[list[Element]]:
    """Measures of each part; a timewise score is turned round."""
    if root.tag == "score-partwise":
        parts = [all_of(part, "measure") for part in all_of(root, "part")]
    else:
        parts = _turned(all_of(root, "measure"))
    if not parts:
        raise Refused("no-part", "The score has no part to read.")
    if len(parts) > limits.parts:
        raise Refused("many-parts", f"The score has {len(parts)} parts; a lead sheet has one or two.")
    return parts


def _turned(measures: Iterable[Element]) -> list[list[Element]]:
    by_part: dict[str, list[Element]] = {}
    for measure in measures:
        for part in all_of(measure, "part"):
            copy = Element("measure", measure.attrib)
            copy.extend(list(part))
            by_part.setdefault(part.get("id", ""), []).append(copy)
    return list(by_part.values())


def _harmonies(measures: list[Element]) -> int:
    return sum(len(all_of(measure, "harmony")) for measure in measures)


def _left_out(parts: list[list[Element]], chosen: list[Element]) -> tuple[Loss, ...]:
    others = sum(_harmonies(part) for part in parts if part is not chosen)
    return (Loss("part", None, f"{others} chords of other parts"),) if others else ()


def _lyrics(measures: list[Element]) -> tuple[Loss, ...]:
    count = sum(1 for measure in measures for note in all_of(measure, "note") if one(note, "lyric") is not None)
    return (Loss("lyrics", None, f"words under {count} notes"),) if count else ()


def _title(root: Element) -> str:
    work = one(root, "work")
    found = text_of(one(root, "movement-title")) or text_of(one(work, "work-title"))
    return " ".join(found.split())[:120]


def _composer(root: Element) -> str:
    identification = one(root, "identification")
    if identification is None:
        return ""
    names = [text_of(c) for c in all_of(identification, "creator") if c.get("type", "composer") == "composer"]
    return " ".join(" ".join(names).split())[:120]
