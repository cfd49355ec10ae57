"""In which key and for which instrument a person sees a chart, and how that is labelled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urlencode

from studio.access import doubled, instrument_of
from studio.instruments import CONCERT, INSTRUMENTS, Instrument
from tunes.harmony.pitch.spelling import MAJOR_KEYS, MINOR_KEYS, Key, SpellingError
from tunes.respelling import readable_study
from tunes.study import StudyChart

WORDS = ("numeral", "spoken")
SHOWS = {"analysis": "Full", "compact": "Compact", "chart": "Chords"}


@dataclass(frozen=True)
class Sight:
    """What the picker above a chart says.

    `key` is the concert key asked for (None: the chart's own); `instrument` whose written pitch is shown;
    `words` which form of the functions; `analysed`, `compact` (without the lines above and below), `written_out`
    what is drawn.
    """

    key: Key | None = None
    instrument: Instrument = CONCERT
    words: str = "numeral"
    analysed: bool = True
    written_out: bool = False
    compact: bool = False

    @property
    def show(self) -> str:
        return ("compact" if self.compact else "analysis") if self.analysed else "chart"

    def query(self, **changes: object) -> str:
        """The address part that leads back to this sight, with changes."""
        now = replace(self, **changes)  # type: ignore[arg-type]
        return urlencode(
            {
                "key": now.key.tonic.text if now.key else "",
                "for": now.instrument.key,
                "words": now.words,
                "show": now.show,
                "repeats": "written" if now.written_out else "folded",
            }
        )


def read_sight(query: Mapping[str, str], user: Any) -> Sight:
    """The sight that a query string asks for; anything unreadable falls back to the person's own default.

    `ensemble` in it (an id) means the chair that the person has there.
    """
    own = INSTRUMENTS.get(instrument_of(user, query.get("ensemble", "")), CONCERT)
    key: Key | None = None
    try:
        key = Key.parse(query["key"]) if query.get("key") else None
    except SpellingError:
        key = None
    return Sight(
        key=key,
        instrument=INSTRUMENTS.get(query.get("for", ""), own),
        words=query["words"] if query.get("words") in WORDS else "numeral",
        analysed=query.get("show") != "chart",
        written_out=query.get("repeats") == "written",
        compact=query.get("show") == "compact",
    )


def seen(study: StudyChart, sight: Sight) -> StudyChart:
    """The study as that sight shows it, its keys and chords spelled as players read them."""
    if sight.key is not None:
        study = study.transposed(sight.key)
    return readable_study(study if sight.instrument.is_concert else study.for_instrument(sight.instrument))


def pitch_label(study: StudyChart, sight: Sight, concert: Key) -> str:
    """ "Concert pitch, E♭ major" or "Written for alto saxophone in C major (concert E♭ major)"."""
    if sight.instrument.is_concert:
        return f"Concert pitch, {study.key.display}"
    name = sight.instrument.name
    name = name[0].lower() + name[1:]
    return f"Written for {name} in {study.key.display} (concert {concert.display})"


@dataclass(frozen=True)
class ChairChoice:
    """One of several instruments that a person plays this term: its name, where, and the address part that shows it."""

    instrument: str
    ensembles: str
    query: str
    current: bool


def chair_choices(user: Any, sight: Sight) -> list[ChairChoice]:
    """The instruments of a person whose chairs differ, none for everybody else. No query of its own."""
    return [
        ChairChoice(
            INSTRUMENTS[key].name,
            ", ".join(names),
            sight.query(instrument=INSTRUMENTS[key]),
            key == sight.instrument.key,
        )
        for key, names in doubled(user).items()
        if key in INSTRUMENTS
    ]


def key_choices(study: StudyChart) -> list[tuple[str, str]]:
    """The twelve concert keys in the chart's mode, its own first."""
    keys = MINOR_KEYS if study.key.mode == "minor" else MAJOR_KEYS
    own = study.key
    others = sorted((key for key in keys if key.tonic.pc != own.tonic.pc), key=lambda key: key.tonic.pc)
    return [("", f"{own.display}, its own"), *((key.tonic.text, key.display) for key in others)]
