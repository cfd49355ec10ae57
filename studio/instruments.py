"""Instruments: written transposition, clef, range. One table, looked up by key.

Transpositions are the published ones of each instrument (the same figures as MusicXML's `transpose`
element for it). Ranges are common practice, set on the careful side, without a single source: treat
them as a warning, never as an error, since altissimo and pedal notes exist. The comfortable range is
where an average student can play a drill at tempo (common practice, no source).
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tunes.harmony.pitch.spelling import Interval, Pitch

COMMON = "common practice, no single source"


@dataclass(frozen=True)
class Instrument:
    """One instrument. All four pitches are *written* pitches; `transposition` is written minus sounding."""

    key: str
    name: str
    family: str
    transposition: str
    clef: str
    low_text: str
    high_text: str
    comfortable_low_text: str
    comfortable_high_text: str
    source: str = COMMON
    blown: bool = False  # embouchure: drills offer rests

    @cached_property
    def interval(self) -> Interval:
        """How far written notes lie above sounding ones."""
        from tunes.harmony.pitch.spelling import Interval

        return Interval.parse(self.transposition)

    @cached_property
    def low(self) -> Pitch:
        return _pitch(self.low_text)

    @cached_property
    def high(self) -> Pitch:
        return _pitch(self.high_text)

    @cached_property
    def comfortable_low(self) -> Pitch:
        return _pitch(self.comfortable_low_text)

    @cached_property
    def comfortable_high(self) -> Pitch:
        return _pitch(self.comfortable_high_text)

    @property
    def is_concert(self) -> bool:
        """True when written and sounding notes have the same names (guitar and bass included)."""
        return self.transposition in {"P1", "P8"}

    @property
    def pitch_label(self) -> str:
        """How a page of this instrument is labelled."""
        return "concert pitch" if self.transposition == "P1" else f"written for {self.name[0].lower()}{self.name[1:]}"


def in_sentence(name: str) -> str:
    """The name of an instrument inside a sentence; pitch names in it keep their capitals.

    >>> in_sentence("Trumpet in B♭")
    'trumpet in B♭'
    """
    return name[:1].lower() + name[1:]


def _pitch(text: str) -> Pitch:
    from tunes.harmony.pitch.spelling import Pitch

    return Pitch.parse(text)


def _wind(
    key: str, name: str, family: str, up: str, low: str, high: str, easy: tuple[str, str], clef: str = "treble"
) -> Instrument:
    return Instrument(key, name, family, up, clef, low, high, *easy, blown=True)


_TABLE = (
    _wind("flute", "Flute", "Woodwind", "P1", "C4", "C7", ("E4", "G6")),
    _wind("clarinet", "Clarinet in B♭", "Woodwind", "M2", "E3", "G6", ("G3", "C6")),
    _wind("bass-clarinet", "Bass clarinet", "Woodwind", "M9", "Eb3", "G6", ("G3", "C6")),
    _wind("soprano-sax", "Soprano saxophone", "Saxophone", "M2", "Bb3", "F#6", ("D4", "C6")),
    _wind("alto-sax", "Alto saxophone", "Saxophone", "M6", "Bb3", "F#6", ("D4", "C6")),
    _wind("tenor-sax", "Tenor saxophone", "Saxophone", "M9", "Bb3", "F#6", ("D4", "C6")),
    _wind("baritone-sax", "Baritone saxophone", "Saxophone", "M13", "A3", "F#6", ("C4", "B5")),
    _wind("trumpet", "Trumpet in B♭", "Brass", "M2", "F#3", "C6", ("B3", "G5")),
    _wind("flugelhorn", "Flugelhorn", "Brass", "M2", "F#3", "Bb5", ("B3", "E5")),
    _wind("horn", "Horn in F", "Brass", "P5", "F#3", "C6", ("C4", "G5")),
    _wind("trombone", "Trombone", "Brass", "P1", "E2", "Bb4", ("Bb2", "F4"), clef="bass"),
    _wind("bass-trombone", "Bass trombone", "Brass", "P1", "Bb1", "F4", ("E2", "D4"), clef="bass"),
    _wind("tuba", "Tuba", "Brass", "P1", "D1", "F4", ("F1", "Bb3"), clef="bass"),
    Instrument("violin", "Violin", "Strings", "P1", "treble", "G3", "E7", "G3", "D6"),
    Instrument("guitar", "Guitar", "Rhythm section", "P8", "treble", "E3", "C7", "G3", "C6"),
    Instrument("bass", "Bass", "Rhythm section", "P8", "bass", "E2", "G5", "E2", "C4"),
    Instrument("piano", "Piano", "Rhythm section", "P1", "treble", "A0", "C8", "C3", "C6"),
    Instrument("keyboards", "Keyboards", "Rhythm section", "P1", "treble", "E1", "G7", "C3", "C6"),
    Instrument("vibraphone", "Vibraphone", "Rhythm section", "P1", "treble", "F3", "F6", "F3", "C6"),
    Instrument("drums", "Drum set", "Rhythm section", "P1", "treble", "C3", "C6", "C3", "C6"),
    Instrument("percussion", "Percussion", "Rhythm section", "P1", "treble", "C3", "C6", "C3", "C6"),
    Instrument("voice-soprano", "Voice, soprano", "Voice", "P1", "treble", "C4", "C6", "D4", "G5", blown=True),
    Instrument("voice-alto", "Voice, alto", "Voice", "P1", "treble", "G3", "E5", "A3", "C5", blown=True),
    Instrument("voice-tenor", "Voice, tenor", "Voice", "P8", "treble", "C4", "B5", "D4", "G5", blown=True),
    Instrument("voice-bass", "Voice, bass", "Voice", "P1", "bass", "E2", "E4", "G2", "C4", blown=True),
)

INSTRUMENTS: dict[str, Instrument] = {entry.key: entry for entry in _TABLE}
CONCERT = INSTRUMENTS["piano"]

ALIASES: dict[str, str] = {
    "bb clarinet": "clarinet",
    "clarinet": "clarinet",
    "soprano": "soprano-sax",
    "alto": "alto-sax",
    "tenor": "tenor-sax",
    "bari": "baritone-sax",
    "baritone": "baritone-sax",
    "baritone sax": "baritone-sax",
    "bari sax": "baritone-sax",
    "alto sax": "alto-sax",
    "tenor sax": "tenor-sax",
    "soprano sax": "soprano-sax",
    "bb trumpet": "trumpet",
    "trumpet": "trumpet",
    "flugel": "flugelhorn",
    "fluegelhorn": "flugelhorn",
    "bone": "trombone",
    "vibes": "vibraphone",
    "keys": "keyboards",
    "keyboard": "keyboards",
    "synth": "keyboards",
    "synthesizer": "keyboards",
    "organ": "keyboards",
    "electric piano": "keyboards",
    "french horn": "horn",
    "horn": "horn",
    "f horn": "horn",
    "sousaphone": "tuba",
    "bass cl": "bass-clarinet",
    "bb bass clarinet": "bass-clarinet",
    "congas": "percussion",
    "aux percussion": "percussion",
    "auxiliary percussion": "percussion",
    "bass": "bass",
    "double bass": "bass",
    "upright bass": "bass",
    "bass guitar": "bass",
    "electric bass": "bass",
    "drums": "drums",
    "drum kit": "drums",
    "kit": "drums",
    "electric guitar": "guitar",
    "vocals": "voice-alto",
    "voice": "voice-alto",
    "singer": "voice-alto",
    "soprano voice": "voice-soprano",
    "alto voice": "voice-alto",
    "tenor voice": "voice-tenor",
    "bass voice": "voice-bass",
}


def _plain(text: str) -> str:
    return " ".join(text.replace("♭", "b").replace("-", " ").replace(",", " ").lower().split())


_BY_NAME = {_plain(name): entry.key for entry in _TABLE for name in (entry.key, entry.name)} | ALIASES


def find_instrument(text: str) -> Instrument | None:
    """The instrument that a person means by `text`, or None.

    >>> find_instrument("Tenor Sax").key
    'tenor-sax'
    >>> find_instrument("kazoo") is None
    True
    """
    key = _BY_NAME.get(_plain(text))
    return INSTRUMENTS[key] if key else None


_BETWEEN = re.compile(r"\s*(?:[/+;&,]|\band\b|\bdoubling\b|\bdoubles\b)\s*", re.IGNORECASE)


def split_instruments(text: str) -> list[str]:
    """The instruments that a person names in one cell, the main one first; a name that holds a comma stays whole.

    >>> split_instruments("Alto sax / Flute, Clarinet"), split_instruments("Voice, alto")
    (['Alto sax', 'Flute', 'Clarinet'], ['Voice, alto'])
    """
    if not text.strip() or find_instrument(text):
        return [text] if text.strip() else []
    return [part for part in _BETWEEN.split(text) if part.strip()]


def nearest(text: str) -> str:
    """What to type instead of a name that is none of the table: the nearest ones, and all of them."""
    called = {_plain(entry.name): entry.name for entry in _TABLE} | {
        alias: INSTRUMENTS[key].name for alias, key in ALIASES.items()
    }
    found = difflib.get_close_matches(_plain(text[:80]), called, n=4, cutoff=0.5)
    near = list(dict.fromkeys(called[word] for word in found))[:2]
    every = "; ".join(entry.name for entry in _TABLE)  # some names hold a comma
    meant = f"Type {' or '.join(f'“{name}”' for name in near)}; the list" if near else "The list"
    return f"{meant}: {every}."


def instrument_list(keys: Iterable[str]) -> str:
    """ "Alto saxophone, also flute, clarinet"; what is no key of the table is left out."""
    names = [INSTRUMENTS[key].name for key in keys if key in INSTRUMENTS]
    return (
        names[0]
        + "".join(
            f", {'also ' if not place else ''}{name[0].lower()}{name[1:]}" for place, name in enumerate(names[1:])
        )
        if names
        else ""
    )


def instrument_choices() -> list[tuple[str, list[tuple[str, str]]]]:
    """Choices for a form, grouped by family."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for entry in _TABLE:
        groups.setdefault(entry.family, []).append((entry.key, entry.name))
    return list(groups.items())
