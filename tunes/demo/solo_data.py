"""Three solos of the demo, all written for it: bars of eighths unless a length is given, in concert pitch.

`C5` is an eighth, `C5:1` a quarter note, `r` a rest; `tC5` an eighth of a triplet, `C5~` tied on, `C5*` hardly sounded.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class DemoSolo:
    """Who plays on which tune, from which chorus, who writes it down; `names` are bar (of the solo) and name of a passage."""

    tune: str
    player: str
    instrument: str
    writer: str
    bars: tuple[str, ...]
    first_chorus: int = 2
    ensemble: str = ""
    asked: tuple[int, ...] = ()
    unwritten: tuple[int, ...] = ()
    names: tuple[tuple[str, str, str], ...] = ()


COBALT = DemoSolo(
    "Cobalt Street", "Odalys Brandt", "trumpet", "ruta", ensemble="first", asked=(10,), names=(("59/2", "32", "The long way down"),),
    bars=(
        "r C5 A4 F4 G4 A4 C5 Eb5", "D5 Bb4 F4 G4 Ab4:1 r:1", "r:1 G#4 A4 C5 A4 F4:1", "r G4 Bb4 Eb5 D5 C5 A4 Gb4",
        "F4 Ab4 Bb4 D5 C5 Bb4 Ab4:1", "B4 D5 F5 Ab5 G5 F5 D5 C5~", "C5:1 A4 F4 r:1 r Bb4", "A4 C5 Eb5 G5 F#5 E5 C5 G#4",
        "A4 Bb4 D5 F5 E5:1 D5:1", "r E5 Db5 Bb4 G4 A4 Bb4 B4", "C5 A4 C5 G5 F#5 Eb5 C5 G#4", "A4:1 r:1 r:2",
        "r:1 F5 Eb5 C5 A4* F4 G4", "Ab4 Bb4 D5 F5 Ab5:1 F5 D5", "C5 r r F4 tA4 tC5 tEb5 D5 C5", "Bb4 G4 Eb5 D5 C5 A4 Eb5 Gb5",
        "F5:3/2 D5 Bb4:1 r:1", "r Ab4 B4 D5 F5 Ab5 F5 D5", "C5 A4 C5 Eb5 D5 C5 A4 F4", "Eb5 C5 A4 G5 F#5 E5 C5 G#4",
        "A4 Bb4 D5 F5 A5 F5 D5 Bb4", "C5 E5 G5 Bb5 Ab5 F5 Db5 B4", "C5 Eb5 C5 G5 F#5 Eb5 C5 G#4", "A4 Bb4 D5 Bb4 G4:1 r:1",
        "F5 r F5 Eb5 C5 F5 Eb5 C5", "D5 F5 D5 Ab4 Bb4 D5 F5 Ab5", "A5 F5 C5 A4* C5 Eb5 G5 F5", "Eb5 D5 C5 Bb4 A4 C5 Eb5 Gb5",
        "F5 D5 Bb4 Ab4 F4:1 r:1", "r B4 D5 F5 Ab5 F5 D5 B4", "C5:1 r C5 Eb5 C5 A4 F4", "A4 C5 Eb5 G5 F#5 E5 C5 G#4",
        "A4 D5 Bb4 G4 F4 G4 Bb4 D5", "E5 C5 Db5 Bb4 G4 E4 F4 G4", "A4 C5 F5 G5 F#5 E5 C5 G#4", "A4 Bb4 G4 E4 F4:1 r:1",
    ),
)  # fmt: skip

LOW_TIDE = DemoSolo(
    "Low Tide Ledger", "Ruth Amadi-Hale", "tenor-sax", "teodor", ensemble="first",
    bars=(
        "r:1 C4 D4 Eb4 G4 Bb4 G4", "F4 C4 D4 Ab4 G4 F4 D4 B3", "C4:3/2 G3 Eb4:1 r:1", "r Db4 F4 Bb4 Bb4 G4 E4 Db4",
        "C4:1 tAb3 tC4 tEb4 G4:1 F4:1", "D4 F4 Ab4 C5 B4 Bb4 Ab4 F4", "Eb4 G4 F4 D4 C4 Bb3 G3:1", "r:2 r G3 C4 Eb4",
        "Gb4 Eb4 C4 Ab3 Bb3 C4 Eb4 Gb4", "F4 D4* B3 Ab4 G4 F4 D4 B3", "C4 D4 Eb4 G4 Gb4 Eb4 C4 Ab3", "F4 C4 D4 Ab4 G4 F4 D4 B3",
    ),
)  # fmt: skip

FERRY = DemoSolo(
    "Winter Ferry", "Petra Lindqvist", "vibraphone", "kofi", unwritten=(14, 15, 16),
    bars=(
        "r B4 D5 G5 F#5 D5", "E5 G5 B5:1 A5 G5", "E5 C5 A4 G4 A4 C5", "D5 F#5 A5 C6 B5 A5", "A5 F5 D5 B4 A4:1", "G#4 B4 D5 F5 E5 D5",
        "C5 E5 A5:1 r:1", "r G5 Eb5 C5 A4 G4", "D5:1 tB4 tD5 tF#5 A5:1", "G5 E5 Db5 Bb4 C5 C#5", "E5 G5 E5 C5 A4 G4",
        "F#4 A4 C5 Eb5 D5 C5", "D5 F#5 A5:1 F#5:1", "G#5 E5 D5 B4 G#4 B4", "C#5 E5 G5 B5 A5 G5", "E5 C5 A4 B4 C5 F#4",
    ),
)  # fmt: skip

SOLOS = (COBALT, LOW_TIDE, FERRY)
