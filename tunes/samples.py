"""The samples of a sound that was kept, for those who listen to it: mono, 16 kHz, in blocks. Beside `tunes.audio`, which says
whether an upload is sound at all, the only door to audio decoding."""

from __future__ import annotations

from collections.abc import Iterator
from typing import IO

import numpy as np
import numpy.typing as npt

from tunes.audio import demuxer_of

RATE = 16_000
Samples = npt.NDArray[np.float32]


class CannotDecode(ValueError):
    """The file cannot be read through; the message says so."""


def blocks_of(file: IO[bytes], media_type: str) -> Iterator[Samples]:
    """Blocks of samples between -1 and 1, as they are decoded. Raises `CannotDecode`."""
    import av

    try:
        with av.open(file, "r", format=demuxer_of(media_type), metadata_errors="ignore") as container:
            resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE)
            for frame in container.decode(container.streams.audio[0]):
                for piece in resampler.resample(frame):
                    yield piece.to_ndarray().reshape(-1).astype(np.float32)
            for piece in resampler.resample(None):
                yield piece.to_ndarray().reshape(-1).astype(np.float32)
    except (av.FFmpegError, ValueError, EOFError, IndexError) as error:
        raise CannotDecode("The sound of this file cannot be read through.") from error
