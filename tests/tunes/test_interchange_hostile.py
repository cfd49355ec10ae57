"""Files that mean harm, or are simply wrong: every one refused with a clear line, in bounded time and memory.

The kinds of attack follow OWASP ASVS 5.0 (2025), 1.5.1 and 5.1 to 5.3, and the XML attacks listed by defusedxml.
"""

from __future__ import annotations

import contextlib
import gzip
import io
import struct
import tracemalloc
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tunes.interchange import Refused, import_lead_sheet
from tunes.interchange.archive import LIMITS

GOOD = (
    "<score-partwise version='4.0'><part id='P1'><measure number='1'><attributes><divisions>1</divisions>"
    "</attributes><harmony><root><root-step>C</root-step></root><kind>dominant</kind></harmony>"
    "<note><rest/><duration>4</duration></note></measure></part></score-partwise>"
)
CONTAINER = (
    "<container><rootfiles><rootfile full-path='{}' media-type='application/vnd.recordare.musicxml+xml'/>"
    "</rootfiles></container>"
)


def archive(*members: tuple[str, bytes], root: str = "score.xml", method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as made:
        made.writestr("META-INF/container.xml", CONTAINER.format(root))
        for name, data in members:
            made.writestr(name, data)
    return out.getvalue()


def good_archive() -> bytes:
    return archive(("score.xml", GOOD.encode()))


def entity_bomb() -> bytes:
    layers = "".join(f"<!ENTITY l{n} '{f'&l{n - 1};' * 10}'>" for n in range(1, 10))
    return f"<!DOCTYPE score-partwise [<!ENTITY l0 'lol'>{layers}]><score-partwise>&l9;</score-partwise>".encode()


def quadratic_bomb() -> bytes:
    return f"<!DOCTYPE score-partwise [<!ENTITY a '{'a' * 50_000}'>]><score-partwise>{'&a;' * 10_000}</score-partwise>".encode()


def external(system: str) -> bytes:
    return f"<!DOCTYPE score-partwise [<!ENTITY x SYSTEM '{system}'>]><score-partwise>&x;</score-partwise>".encode()


def lying_size() -> bytes:
    """A member that inflates to 50 MB and says it holds 100 bytes."""
    raw = bytearray(archive(("score.xml", b" " * 50_000_000 + GOOD.encode())))
    size = struct.pack("<I", 50_000_000 + len(GOOD))
    return bytes(raw).replace(size, struct.pack("<I", 100))


def overlapping() -> bytes:
    """Two central entries that point at the same bytes."""
    raw = archive(("score.xml", GOOD.encode()))
    end = raw.rindex(b"PK\x05\x06")
    start = struct.unpack("<I", raw[end + 16 : end + 20])[0]
    central = raw[start:end]
    return raw[:start] + central * 40 + raw[end:]


def locked() -> bytes:
    raw = bytearray(good_archive())
    at = raw.index(b"PK\x01\x02")
    while at != -1:
        raw[at + 8] |= 1
        at = raw.find(b"PK\x01\x02", at + 4)
    return bytes(raw)


def odd_method() -> bytes:
    raw = bytearray(good_archive())
    at = raw.index(b"PK\x01\x02")
    while at != -1:
        raw[at + 10 : at + 12] = struct.pack("<H", 97)
        at = raw.find(b"PK\x01\x02", at + 4)
    return bytes(raw)


def twice() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        made.writestr("META-INF/container.xml", CONTAINER.format("score.xml"))
        made.writestr("score.xml", GOOD)
        made.writestr("other.xml", GOOD.replace("dominant", "minor"))
    return out.getvalue().replace(b"other.xml", b"score.xml")


def bars(count: int) -> bytes:
    return ("<score-partwise><part id='p'>" + "<measure/>" * count + "</part></score-partwise>").encode()


def utf16(text: str) -> bytes:
    return text.encode("utf-16")


Make = Callable[[], bytes]
HOSTILE: dict[str, tuple[Make, str]] = {
    "nothing at all": (lambda: b"", "empty"),
    "entity bomb": (entity_bomb, "entities"),
    "quadratic entity bomb": (quadratic_bomb, "entities"),
    "entity bomb in UTF-16": (lambda: utf16(entity_bomb().decode()), "entities"),
    "entity bomb in an archive": (lambda: archive(("score.xml", entity_bomb())), "entities"),
    "entity bomb in the container": (
        lambda: archive(("score.xml", GOOD.encode()), root="'/><!DOCTYPE"), "broken-xml"),
    "outside file": (lambda: external("file:///etc/hostname"), "entities"),
    "outside address": (lambda: external("http://169.254.169.254/latest"), "entities"),
    "parameter entity": (
        lambda: b"<!DOCTYPE score-partwise [<!ENTITY % p SYSTEM 'http://localhost:1/x.dtd'> %p;]><score-partwise/>",
        "entities"),
    "zip bomb, honest about its size": (
        lambda: archive(("score.xml", b" " * 60_000_000 + GOOD.encode())), "inflates"),
    "zip bomb that lies about its size": (lying_size, "broken-zip"),
    "zip bomb beside the score": (
        lambda: archive(("score.xml", GOOD.encode()), ("picture.png", b"\x00" * 60_000_000)), "inflates"),
    "zip in a zip": (lambda: archive(("score.mxl", good_archive()), root="score.mxl"), "nested"),
    "zip in a zip, called xml": (lambda: archive(("score.xml", good_archive())), "nested"),
    "too many members": (
        lambda: archive(*((f"f{n}.xml", b"<a/>") for n in range(LIMITS.members + 1))), "many-members"),
    "climbing name": (lambda: archive(("../../etc/cron.d/x", b"x"), ("score.xml", GOOD.encode())), "path"),
    "climbing name, other strokes": (lambda: archive(("..\\..\\x", b"x"), ("score.xml", GOOD.encode())), "path"),
    "absolute name": (lambda: archive(("/etc/passwd", b"x"), ("score.xml", GOOD.encode())), "path"),
    "drive name": (lambda: archive(("C:\\x.xml", b"x"), ("score.xml", GOOD.encode())), "path"),
    "root that climbs": (lambda: archive(("score.xml", GOOD.encode()), root="../score.xml"), "no-score"),
    "root that is not there": (lambda: archive(("score.xml", GOOD.encode()), root="other.xml"), "no-score"),
    "one name, two files": (twice, "twice"),
    "no container": (
        lambda: archive(("a.xml", b"<a/>"), ("b.xml", b"<b/>")).replace(b"META-INF/container.xml", b"META-INF/container.xmm"),
        "no-container"),
    "overlapping members": (overlapping, "broken-zip"),
    "locked archive": (locked, "encrypted"),
    "archive method of its own": (odd_method, "odd-zip"),
    "archive cut short": (lambda: good_archive()[:-40], "broken-zip"),
    "archive with a broken body": (
        lambda: good_archive().replace(zlib.compress(GOOD.encode())[2:20], b"\x00" * 18), "broken-zip"),
    "score cut short": (lambda: GOOD.encode()[:-30], "broken-xml"),
    "too large": (lambda: GOOD.encode() + b" " * LIMITS.upload, "too-big"),
    "PDF": (lambda: b"%PDF-1.7\n" + GOOD.encode(), "not-musicxml"),
    "MIDI": (lambda: b"MThd\x00\x00\x00\x06", "not-musicxml"),
    "picture": (lambda: b"\x89PNG\r\n\x1a\n" + b"\x00" * 100, "not-musicxml"),
    "program": (lambda: b"MZ" + b"\x00" * 300, "not-musicxml"),
    "gzip": (lambda: gzip.compress(GOOD.encode()), "not-musicxml"),
    "NUL bytes": (lambda: GOOD.encode().replace(b"<part ", b"\x00<part "), "not-text"),
    "plain text": (lambda: b"| Dm7 | G7 | Cmaj7 |", "not-xml"),
    "SVG with a script": (
        lambda: b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "wrong-root"),
    "HTML": (lambda: b"<html><body onload='alert(1)'></body></html>", "wrong-root"),
    "HTML that is not XML": (lambda: b"<!doctype html><p>hello<br>", "broken-xml"),
    "stylesheet": (lambda: b"<xsl:stylesheet xmlns:xsl='http://www.w3.org/1999/XSL/Transform'/>", "wrong-root"),
    "SVG and score in one": (lambda: b"<svg>" + GOOD.encode() + b"</svg>", "wrong-root"),
    "two roots": (lambda: GOOD.encode() * 2, "broken-xml"),
    "unknown encoding": (lambda: b"<?xml version='1.0' encoding='klingon'?>" + GOOD.encode(), "broken-xml"),
    "UTF-16 without its mark": (lambda: GOOD.encode("utf-16-le"), "not-text"),
    "bytes that are no UTF-8": (lambda: GOOD.encode().replace(b"<part ", b"<\xff\xfe "), "broken-xml"),
    "a hundred thousand bars": (lambda: bars(190_000), "too-long"),
    "a million bars in an archive": (lambda: archive(("score.xml", bars(1_000_000))), "inflates"),
    "elements without end": (
        lambda: archive(("score.xml", b"<score-partwise>" + b"".join(b"<a n='%x'/>" % (n * 7919) for n in range(420_000)))),
        "too-many-elements"),
    "more bars than any tune": (lambda: bars(LIMITS.bars + 1), "too-long"),
    "no bars": (lambda: b"<score-partwise><part id='p'/></score-partwise>", "no-bars"),
    "no parts": (lambda: b"<score-partwise/>", "no-part"),
    "a thousand parts": (
        lambda: ("<score-partwise>" + "<part><measure/></part>" * 1000 + "</score-partwise>").encode(), "many-parts"),
    "nested ten thousand deep": (lambda: b"<score-partwise>" + b"<a>" * 10_000, "too-deep"),
    "a name ten thousand letters long": (lambda: b"<" + b"a" * 10_000 + b"/>", "wrong-root"),
}  # fmt: skip


def test_there_are_enough_of_them() -> None:
    assert len(HOSTILE) >= 25


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_files_are_refused(name: str) -> None:
    make, code = HOSTILE[name]
    data = make()
    tracemalloc.start()
    try:
        with pytest.raises(Refused) as caught:
            import_lead_sheet(data)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert caught.value.code == code
    line = str(caught.value)
    assert 20 < len(line) < 200
    assert line.endswith(".")
    assert "\n" not in line
    assert peak < 200_000_000


def test_a_good_archive_and_utf_16_are_taken() -> None:
    """The refusals above are not for want of a way in."""
    for data in (GOOD.encode(), good_archive(), utf16(GOOD), b"\xef\xbb\xbf" + GOOD.encode()):
        assert import_lead_sheet(data).text.endswith("| C7 ||") or "| C7" in import_lead_sheet(data).text


STRANGE = {
    "absurd metre": "<time><beats>999999999</beats><beat-type>4</beat-type></time>",
    "metre of nothing": "<time><beats>0</beats><beat-type>0</beat-type></time>",
    "metre of letters": "<time><beats>many</beats><beat-type>few</beat-type></time>",
    "negative metre": "<time><beats>-4</beats><beat-type>4</beat-type></time>",
    "third of a note": "<time><beats>4</beats><beat-type>3</beat-type></time>",
    "key beyond the circle": "<key><fifths>99</fifths></key>",
    "key of letters": "<key><fifths>x</fifths></key>",
    "no divisions": "<divisions>0</divisions>",
    "endless divisions": "<divisions>99999999999999999999</divisions>",
    "not a number": "<divisions>NaN</divisions>",
    "transposed out of hearing": "<transpose><chromatic>99999</chromatic></transpose>",
}


@pytest.mark.parametrize("name", STRANGE)
def test_strange_attributes_do_no_harm(name: str) -> None:
    data = GOOD.replace("<attributes>", f"<attributes>{STRANGE[name]}").encode()
    assert import_lead_sheet(data).chart.bars[0].slots[0].symbol is not None


STRANGE_HARMONY = [
    "<harmony/>", "<harmony><root/></harmony>", "<harmony><root><root-step>H</root-step></root><kind>major</kind></harmony>",
    "<harmony><root><root-step>C</root-step><root-alter>99</root-alter></root><kind>major</kind></harmony>",
    "<harmony><root><root-step>C</root-step></root><kind>" + "x" * 5000 + "</kind></harmony>",
    "<harmony><root><root-step>C</root-step></root><kind text='&lt;script&gt;'>other</kind></harmony>",
    "<harmony><root><root-step>C</root-step></root><kind>major</kind>" + "<degree><degree-value>99</degree-value></degree>" * 50 + "</harmony>",
    "<harmony><function>V</function><kind>major</kind></harmony>",
    "<harmony><numeral><numeral-root>9</numeral-root></numeral><kind>major</kind></harmony>",
    "<harmony><root><root-step>C</root-step></root><kind>major</kind><offset>-99999</offset></harmony>",
    "<harmony><root><root-step>C</root-step></root><kind>major</kind><offset>99999</offset></harmony>",
    "<note><pitch><step>Q</step><octave>99</octave></pitch><duration>-4</duration></note>",
    "<note><pitch><step>C</step><octave>4</octave><alter>0.5</alter></pitch><duration>1</duration></note>",
    "<backup><duration>9999</duration></backup>", "<forward><duration>999999</duration></forward>",
    "<barline><repeat direction='backward' times='999999999999'/></barline>",
    "<barline><ending number='" + "9," * 500 + "' type='start'/></barline>",
]  # fmt: skip


@pytest.mark.parametrize("inside", STRANGE_HARMONY)
def test_strange_music_does_no_harm(inside: str) -> None:
    reading = import_lead_sheet(GOOD.replace("<note>", inside + "<note>", 1).encode())
    assert reading.chart.bars


@given(st.binary(max_size=400))
def test_any_bytes_are_refused_or_read(data: bytes) -> None:
    with pytest.raises(Refused):
        import_lead_sheet(data)


@given(st.integers(0, len(GOOD) - 1), st.binary(min_size=1, max_size=6), st.booleans())
def test_a_damaged_score_is_refused_or_read(at: int, junk: bytes, packed: bool) -> None:
    data = good_archive() if packed else GOOD.encode()
    at %= len(data)
    with contextlib.suppress(Refused):
        assert import_lead_sheet(data[:at] + junk + data[at + len(junk) :]).chart.bars


def test_the_limits_are_what_stops_them() -> None:
    """With a bound that is far too low, an honest score is refused: the bounds are really asked."""
    for bound, code in (
        ("xml", "inflates"),
        ("elements", "too-many-elements"),
        ("depth", "too-deep"),
        ("upload", "too-big"),
    ):
        with pytest.raises(Refused) as caught:
            import_lead_sheet(good_archive(), replace(LIMITS, **{bound: 3}))
        assert caught.value.code == code
