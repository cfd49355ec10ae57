"""From uploaded bytes to the bytes of one XML document, without trusting anything the file says of itself.

Bounds are in `Limits`. A compressed score (.mxl) is a zip with `META-INF/container.xml` naming the root
file (W3C, MusicXML 4.0, "Compressed .mxl files"). Declared sizes are checked before anything is inflated,
and again while reading, because they can lie.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from tunes.interchange.errors import Refused
from tunes.interchange.safe_xml import parse_xml

CONTAINER = "META-INF/container.xml"
ZIP_MAGIC = b"PK\x03\x04"
_CHUNK = 64 * 1024


@dataclass(frozen=True)
class Limits:
    """How much of a file is read. Bytes, but for `members` (a count) and `ratio` (inflated to stored)."""

    upload: int = 2 * 1024 * 1024
    xml: int = 8 * 1024 * 1024
    container: int = 64 * 1024
    members: int = 64
    ratio: int = 200
    elements: int = 400_000
    depth: int = 40
    bars: int = 1000
    parts: int = 64


LIMITS = Limits()


def unpack(data: bytes, limits: Limits = LIMITS) -> bytes:
    """The XML document inside `data`, compressed or plain. Raises `Refused`."""
    if not data:
        raise Refused("empty", "The file is empty. Export it again from the notation program.")
    if len(data) > limits.upload:
        raise Refused(
            "too-big",
            f"The file is {len(data) / 1e6:.1f} MB; a lead sheet is at most {limits.upload / 1e6:.0f} MB.",
        )
    if data.startswith(ZIP_MAGIC):
        return _unzip(data, limits)
    _refuse_other_content(data)
    return data


_FOREIGN: tuple[tuple[bytes, str], ...] = (
    (b"%PDF", "a PDF"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"MThd", "a MIDI file"),
    (b"RIFF", "a sound file"),
    (b"ID3", "a sound file"),
    (b"OggS", "a sound file"),
    (b"MZ", "a program"),
    (b"\x7fELF", "a program"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"BZh", "a bzip2 archive"),
    (b"\xfd7zXZ", "an xz archive"),
    (b"7z\xbc\xaf", "a 7z archive"),
    (b"Rar!", "a RAR archive"),
    (b"PK", "a broken zip archive"),
    (b"\xd0\xcf\x11\xe0", "an old office document"),
)
_UTF16 = (b"\xff\xfe", b"\xfe\xff")


def _refuse_other_content(data: bytes) -> None:
    for magic, name in _FOREIGN:
        if data.startswith(magic):
            raise Refused("not-musicxml", f"This is {name}, not MusicXML. Choose a .musicxml, .xml or .mxl file.")
    head = data[:4096]
    if head.startswith(_UTF16):
        return
    if b"\x00" in head:
        raise Refused("not-text", "The file holds bytes that no XML text has. Export it again as MusicXML.")
    if not head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<"):
        raise Refused("not-xml", "This is not XML. Choose a .musicxml, .xml or .mxl file.")


def _unzip(data: bytes, limits: Limits) -> bytes:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = _checked_members(archive, limits)
            wanted = _root_file(archive, members, limits)
            xml = _read(archive, members[wanted], limits.xml)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, UnicodeDecodeError, IndexError) as error:
        raise Refused("broken-zip", "The compressed file is damaged or cut short. Export it again.") from error
    except (NotImplementedError, RuntimeError) as error:
        raise Refused("odd-zip", "The compressed file uses a method we do not open. Save it uncompressed.") from error
    if xml.startswith(b"PK"):
        raise Refused("nested", "The archive holds another archive where the score should be.")
    _refuse_other_content(xml)
    return xml


def _checked_members(archive: zipfile.ZipFile, limits: Limits) -> dict[str, zipfile.ZipInfo]:
    infos = archive.infolist()
    if len(infos) > limits.members:
        raise Refused("many-members", f"The archive holds {len(infos)} files; a score holds a few.")
    members: dict[str, zipfile.ZipInfo] = {}
    for info in infos:
        name = info.filename
        if name in members:
            raise Refused("twice", "The archive holds two files of the same name. Export it again.")
        if _escapes(name):
            raise Refused("path", "The archive names a file outside itself, which no score does.")
        if info.flag_bits & 1:
            raise Refused("encrypted", "The archive is locked with a password. Save it without one.")
        if name.lower().endswith((".mxl", ".zip")):
            raise Refused("nested", "The archive holds another archive. Send the score itself.")
        if info.file_size > limits.xml and _is_score(name):
            raise Refused("inflates", "The score inside the archive is far too large for a lead sheet.")
        members[name] = info
    if sum(info.file_size for info in infos) > limits.xml * 4:
        raise Refused("inflates", "The archive unpacks to far more than a lead sheet holds.")
    return members


def _is_score(name: str) -> bool:
    return name.lower().endswith((".xml", ".musicxml"))


def _escapes(name: str) -> bool:
    parts = name.replace("\\", "/").split("/")
    return name.startswith(("/", "\\")) or ".." in parts or ":" in parts[0] or "\x00" in name


def _root_file(archive: zipfile.ZipFile, members: dict[str, zipfile.ZipInfo], limits: Limits) -> str:
    if CONTAINER not in members:
        scores = [name for name in members if _is_score(name)]
        if len(scores) == 1:
            return scores[0]
        raise Refused("no-container", "The archive does not say which file is the score (META-INF/container.xml).")
    root = parse_xml(
        _read(archive, members[CONTAINER], limits.container), elements=200, depth=10, expect=("container",)
    )
    path = _first_root_path(root)
    if path is None or path not in members or not _is_score(path):
        raise Refused("no-score", "The archive names a score that is not inside it.")
    return path


def _first_root_path(container: Element) -> str | None:
    for element in container.iter():
        if element.tag.rsplit("}", 1)[-1] == "rootfile":
            path = element.get("full-path", "")
            if path and not _escapes(path):
                return path
    return None


def _read(archive: zipfile.ZipFile, info: zipfile.ZipInfo, cap: int) -> bytes:
    """At most `cap` bytes of one member; never trusts `info.file_size`."""
    if info.file_size > cap:
        raise Refused("inflates", "A file inside the archive is far too large for a lead sheet.")
    if info.compress_size and info.file_size / info.compress_size > LIMITS.ratio and info.file_size > 256 * 1024:
        raise Refused("inflates", "The archive unpacks to far more than it should. Export it again.")
    out = bytearray()
    with archive.open(info) as stream:
        while chunk := stream.read(_CHUNK):
            out += chunk
            if len(out) > cap:
                raise Refused("inflates", "A file inside the archive is far too large for a lead sheet.")
    return bytes(out)
