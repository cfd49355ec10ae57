"""What a tune of the demo programme is made of."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class DemoRecording:
    """An invented recording. `key` concert, `tempo` in beats a minute, `link` to a host that cannot exist (RFC 2606)."""

    leader: str
    album: str
    year: int
    key: str
    tempo: int
    why: str
    reference: bool = False
    link: str = ""


@dataclass(frozen=True)
class DemoVersion:
    """One chart version; the last text is its newest revision. `recording` is an index into the tune's recordings."""

    name: str
    texts: tuple[str, ...]
    source: str = "other"
    recording: int | None = None
    note: str = ""
    checked: bool = False


@dataclass(frozen=True)
class DemoTune:
    """An invented tune; the first version is the agreed chart."""

    title: str
    composer: str
    key: str
    form: str
    feel: str
    tempo: tuple[int, int]
    recordings: tuple[DemoRecording, ...]
    versions: tuple[DemoVersion, ...]
    metre: str = "4/4"
    has_lyrics: bool = False
    notes: str = ""


@dataclass(frozen=True)
class DemoIdiom:
    """A progression and what the invented class calls it."""

    name: str
    pattern: str
    notes: str = ""


@dataclass(frozen=True)
class DemoChord:
    """A chord of an agreed chart: bar as printed, symbol as typed, and which time round it is (from 1)."""

    bar: int
    symbol: str
    turn: int = 1


@dataclass(frozen=True)
class DemoOverrule:
    """What an instructor hears otherwise: `reading` in `key` at one chord, or, up to `last`, that key for a run.

    `by` is the e-mail name of the instructor.
    """

    tune: str
    by: str
    first: DemoChord
    key: str
    why: str
    reading: str = ""
    last: DemoChord | None = None
    once: bool = False  # this time only, where the bar sounds again
