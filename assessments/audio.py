"""Is this upload a sound file, and of what kind: decided by its first bytes, never by name or header.

Signatures: RIFF/WAVE (Microsoft/IBM multimedia specification 1991), AIFF (Apple 1989), Ogg (RFC 3533),
FLAC (RFC 9639), ISO base media `ftyp` (ISO/IEC 14496-12), EBML (RFC 8794), MPEG audio frame sync
(ISO/IEC 11172-3), ID3v2 (id3.org, 2000), ADTS (ISO/IEC 13818-7).
"""
from __future__ import annotations

import wave
from typing import BinaryIO

MAX_BYTES = 60 * 1024 * 1024
ACCEPTED = "WAV, AIFF, FLAC, Ogg, Opus, MP3, M4A, AAC or WebM"
_M4A_BRANDS = (b"M4A ", b"M4B ", b"mp41", b"mp42", b"isom", b"iso2", b"iso4", b"iso5", b"iso6", b"dash")


def sniff(head: bytes) -> str | None:
    """The media type of a sound file whose first bytes (at least 16) are `head`; None when it is none."""
    for matches, media_type in (
        (head[:4] == b"RIFF" and head[8:12] == b"WAVE", "audio/wav"),
        (head[:4] == b"FORM" and head[8:12] in (b"AIFF", b"AIFC"), "audio/aiff"),
        (head[:4] == b"OggS", "audio/ogg"),
        (head[:4] == b"fLaC", "audio/flac"),
        (head[:4] == b"\x1aE\xdf\xa3" and b"webm" in head[:64], "audio/webm"),
        (head[4:8] == b"ftyp" and head[8:12] in _M4A_BRANDS, "audio/mp4"),
        (head[:3] == b"ID3", "audio/mpeg"),
        (_is_adts(head), "audio/aac"),
        (_is_mpeg_frame(head), "audio/mpeg"),
    ):
        if matches:
            return media_type
    return None


def wav_seconds(file: BinaryIO) -> float | None:
    """Length of a WAV file in seconds, None when its header can't be read; leaves the file at its start."""
    try:
        with wave.open(file, "rb") as sound:
            return round(sound.getnframes() / sound.getframerate(), 2)
    except (wave.Error, EOFError, ZeroDivisionError):
        return None
    finally:
        file.seek(0)


def _is_adts(head: bytes) -> bool:
    return len(head) > 6 and head[0] == 0xFF and head[1] & 0xF6 == 0xF0


def _is_mpeg_frame(head: bytes) -> bool:
    """Sync, a layer, a bit rate and a sample rate that the standard does not forbid."""
    if len(head) < 4 or head[0] != 0xFF or head[1] & 0xE0 != 0xE0:
        return False
    return head[1] & 0x06 != 0 and head[2] & 0xF0 != 0xF0 and head[2] & 0x0C != 0x0C
