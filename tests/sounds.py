"""Sounds made for tests: a tone, and the same tone in the formats that browsers record and play."""

from __future__ import annotations

import io
import math
import struct
import wave

import av


def tone(seconds: float = 2.0, rate: int = 8000) -> bytes:
    """A WAV file of a 440 Hz tone."""
    out = io.BytesIO()
    with wave.open(out, "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(rate)
        step = 2 * math.pi * 440 / rate
        sound.writeframes(
            b"".join(struct.pack("<h", int(9000 * math.sin(step * i))) for i in range(int(seconds * rate)))
        )
    return out.getvalue()


def encoded(container: str, codec: str, rate: int, seconds: float = 8) -> bytes:
    """The tone in another format, by PyAV's encoders."""
    out = io.BytesIO()
    with av.open(out, "w", format=container) as made, av.open(io.BytesIO(tone(seconds, rate)), format="wav") as source:
        stream = made.add_stream(codec, rate=rate)
        resampler = av.AudioResampler(format=stream.codec_context.format or "fltp", layout="mono", rate=rate)
        for frame in source.decode(audio=0):
            for ready in resampler.resample(frame):
                ready.pts = None
                made.mux(stream.encode(ready))
        made.mux(stream.encode(None))
    return out.getvalue()
