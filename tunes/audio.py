"""The only door to audio decoding: is this upload sound that a browser can play, and how long is it?

A file is believed by its content alone: first by its opening bytes (puremagic), then by decoding it with the
one demuxer that fits, so that a playlist or a film cannot pass for sound. Durations are in seconds.
"""

from __future__ import annotations

import io
from array import array
from dataclasses import dataclass
from fractions import Fraction
from typing import IO, Any

MAX_BYTES = 80 * 1024 * 1024
MAX_SECONDS = 40 * 60
MIN_SECONDS = 0.5
_DECODED_AT_EACH_END = 3.0

# Media type by demuxer, and the opening bytes that lead to it (RFC 3533, RFC 9639, ISO/IEC 14496-12, RFC 8794,
# ISO/IEC 11172-3, id3.org 2.4.0, ISO/IEC 13818-7, IBM/Microsoft RIFF 1991).
_DEMUXERS: dict[str, tuple[str, tuple[str, ...]]] = {
    "audio/wav": ("wav", (".wav",)),
    "audio/mpeg": ("mp3", (".mp3", ".mp2")),
    "audio/ogg": ("ogg", (".ogg", ".oga", ".opus", ".ogv")),
    "audio/flac": ("flac", (".flac",)),
    "audio/mp4": ("mov", (".m4a", ".mp4", ".m4b", ".3gp", ".mov", ".m4v")),
    "audio/webm": ("matroska", (".webm", ".mkv", ".mka")),
    "audio/aac": ("aac", (".aac",)),
}
ACCEPTED = "WAV, MP3, M4A, Ogg, Opus, FLAC, WebM or AAC"
_COVER_CODECS = {"mjpeg", "png", "gif", "bmp", "webp"}


class SoundRefused(ValueError):
    """The upload is not a sound we take; the message says why and what to do."""


@dataclass(frozen=True)
class Sound:
    """What an upload turned out to be."""

    media_type: str
    duration: float
    codec: str


def inspect(file: IO[bytes], size: int) -> Sound:
    """Look at an upload (seekable, left at its start). Raises `SoundRefused`."""
    if size <= 0:
        raise SoundRefused("The file is empty.")
    if size > MAX_BYTES:
        raise SoundRefused(f"The file is larger than {MAX_BYTES // 2**20} MB. Send it as MP3 or M4A.")
    file.seek(0)
    head = file.read(4096)
    file.seek(0)
    media_type = _media_type(head)
    if media_type is None:
        raise SoundRefused(f"This is not a sound file we can play. Send {ACCEPTED}.")
    if media_type == "audio/wav" and _is_cut(head, size):
        raise SoundRefused("The file is cut short: it holds less sound than it says. Export it again.")
    sound = _decode(file, media_type)
    file.seek(0)
    if sound.duration > MAX_SECONDS:
        raise SoundRefused(f"The recording is longer than {MAX_SECONDS // 60} minutes. Send the take alone.")
    if sound.duration < MIN_SECONDS:
        raise SoundRefused("The recording holds no sound to speak of. Export it again.")
    return sound


def _is_cut(head: bytes, size: int) -> bool:
    """Whether a WAV's first count of bytes is more than there are; 0 and all ones mean "not known" (RIFF, 1991)."""
    declared = int.from_bytes(head[4:8], "little")
    return declared not in (0, 0xFFFFFFFF) and declared > size + 64


def _media_type(head: bytes) -> str | None:
    if head[:2] == b"\xff\xf1" or head[:2] == b"\xff\xf9":
        return "audio/aac"
    if len(head) > 3 and head[0] == 0xFF and head[1] & 0xE0 == 0xE0 and head[1] & 0x06 and head[2] & 0xF0 != 0xF0:
        return "audio/mpeg"
    for media_type, found in (
        ("audio/wav", head[:4] == b"RIFF" and head[8:12] == b"WAVE"),
        ("audio/ogg", head[:4] == b"OggS"),
        ("audio/flac", head[:4] == b"fLaC"),
        ("audio/mp4", head[4:8] == b"ftyp"),
        ("audio/webm", head[:4] == b"\x1aE\xdf\xa3"),
        ("audio/mpeg", head[:3] == b"ID3"),
    ):
        if found:
            return media_type if _agrees(head, media_type) else None
    return None


def _agrees(head: bytes, media_type: str) -> bool:
    """Whether the library of signatures also takes it for a container of that kind, or does not know it."""
    import puremagic

    try:
        guesses = {match.extension for match in puremagic.magic_string(head)}
    except (puremagic.PureError, ValueError):
        return True
    return bool(guesses & set(_DEMUXERS[media_type][1])) or not guesses or media_type == "audio/mpeg"


def demuxer_of(media_type: str) -> str:
    """The one demuxer that a kept file of that type may be opened with. Raises `KeyError` for a type that is not ours."""
    return _DEMUXERS[media_type][0]


def _decode(file: IO[bytes], media_type: str) -> Sound:
    import av

    demuxer = _DEMUXERS[media_type][0]
    try:
        with av.open(file, "r", format=demuxer, metadata_errors="ignore") as container:
            stream = _audio_stream(container)
            codec = stream.codec_context.name
            duration = _measure(container, stream)
            if duration > 2 * _DECODED_AT_EACH_END and duration <= MAX_SECONDS:
                _decode_end(container, stream, duration)
    except SoundRefused:
        raise
    except (av.FFmpegError, ValueError, EOFError, MemoryError, IndexError) as error:
        raise SoundRefused(f"The file is damaged or is not sound. Export it again as {ACCEPTED}.") from error
    return Sound(media_type, round(duration, 3), codec)


def _audio_stream(container: Any) -> Any:
    """The one audio stream; a cover picture beside it is allowed, a film is not."""
    if len(container.streams) > 4 or not container.streams.audio:
        raise SoundRefused("The file holds no single sound track. Export the sound alone.")
    for video in container.streams.video:
        if video.codec_context is None or video.codec_context.name not in _COVER_CODECS:
            raise SoundRefused("The file is a film. Export its sound alone.")
    return container.streams.audio[0]


def _measure(container, stream) -> float:  # type: ignore[no-untyped-def]
    """Seconds of sound by its packets, decoding the opening; the header is not believed."""
    end = Fraction(0)
    decoded = 0.0
    samples = 0
    for packet in container.demux(stream):
        if packet.pts is not None and packet.time_base is not None:
            end = max(end, (packet.pts + (packet.duration or 0)) * packet.time_base)
        if decoded < _DECODED_AT_EACH_END:
            for frame in packet.decode():
                decoded += frame.samples / frame.sample_rate
                samples += frame.samples
        if end > MAX_SECONDS:
            break
    if samples == 0:
        raise SoundRefused("No sound could be decoded from the file. Export it again.")
    start = (stream.start_time or 0) * stream.time_base if stream.time_base else Fraction(0)
    return float(max(end - max(start, Fraction(0)), Fraction(0))) or decoded


def _decode_end(container, stream, duration: float) -> None:  # type: ignore[no-untyped-def]
    """Decode the last seconds too: a file cut short in the middle fails here."""
    container.seek(int((duration - _DECODED_AT_EACH_END) * 1_000_000))
    for count, _frame in enumerate(container.decode(stream)):
        if count > 2000:
            return


# --- sound that a browser has recorded

# A browser writes its recordings in one go, without their length and without an index, so that nobody can seek in them.
_SETTLED = {"audio/webm": "webm", "audio/mp4": "mp4"}


def settled(file: IO[bytes], media_type: str) -> bytes | None:
    """The same sound in a container that knows its length and can be sought in, its tags left out, nothing coded anew.

    None for a container that needs no such thing. Raises `SoundRefused`.
    """
    import av

    if media_type not in _SETTLED:
        return None
    out = io.BytesIO()
    file.seek(0)
    try:
        with (
            av.open(file, "r", format=_DEMUXERS[media_type][0], metadata_errors="ignore") as source,
            av.open(out, "w", format=_SETTLED[media_type]) as made,
        ):
            stream = _audio_stream(source)
            copy = made.add_stream_from_template(stream)
            for packet in source.demux(stream):
                if packet.dts is not None:
                    packet.stream = copy
                    made.mux(packet)
    except SoundRefused:
        raise
    except (av.FFmpegError, ValueError, EOFError, MemoryError, IndexError) as error:
        raise SoundRefused("The recording is damaged. Record it again.") from error
    finally:
        file.seek(0)
    return out.getvalue()


def peaks(file: IO[bytes], media_type: str, per_second: int) -> list[int]:
    """The loudest moment of every stretch of sound, 0 to 99 of full scale, `per_second` of them a second. For a waveform."""
    import av

    found: list[int] = []
    rate = 8000
    step, rest = rate // per_second, array("h")
    file.seek(0)
    try:
        with av.open(file, "r", format=_DEMUXERS[media_type][0], metadata_errors="ignore") as container:
            stream = _audio_stream(container)
            resampler = av.AudioResampler(format="s16", layout="mono", rate=rate)
            for frame in container.decode(stream):
                for ready in resampler.resample(frame):
                    rest.frombytes(bytes(ready.planes[0])[: 2 * ready.samples])
                whole = len(rest) - len(rest) % step
                found += [_loudest(rest[at : at + step]) for at in range(0, whole, step)]
                del rest[:whole]
    except SoundRefused:
        raise
    except (av.FFmpegError, ValueError, EOFError, MemoryError, IndexError) as error:
        raise SoundRefused("The recording is damaged. Record it again.") from error
    finally:
        file.seek(0)
    return found + ([_loudest(rest)] if rest else [])


def _loudest(samples: array[int]) -> int:
    return min(99, max(max(samples), -min(samples)) * 100 // 32768)


def as_webm(wav: IO[bytes], *, bits: int = 24_000, layout: str = "mono") -> bytes:
    """A WAV file of 16-bit sound as WebM with Opus (RFC 6716), "mono" or "stereo", `bits` a second: small, as a browser would
    have it."""
    import av

    out = io.BytesIO()
    with av.open(wav, "r", format="wav") as source, av.open(out, "w", format="webm") as made:
        stream = made.add_stream("libopus", rate=48_000, layout=layout, options={"frame_duration": "60"})
        stream.bit_rate = bits
        resampler = av.AudioResampler(format=stream.codec_context.format or "s16", layout=layout, rate=48_000)
        for frame in [*source.decode(audio=0), None]:
            for ready in resampler.resample(frame):
                ready.pts = None
                made.mux(stream.encode(ready))
        made.mux(stream.encode(None))
    return out.getvalue()


def as_flac(wav: IO[bytes]) -> bytes:
    """A WAV file of 16-bit sound as FLAC (RFC 9639): the same samples, and no delay of an encoder before the first."""
    import av

    out = io.BytesIO()
    with av.open(wav, "r", format="wav") as source, av.open(out, "w", format="flac") as made:
        given = source.streams.audio[0]
        stream = made.add_stream("flac", rate=given.rate, layout=given.layout.name, options={"compression_level": "12"})
        stream.codec_context.format = "s16"
        for frame in source.decode(given):
            frame.pts = None
            made.mux(stream.encode(frame))
        made.mux(stream.encode(None))
    return out.getvalue()
