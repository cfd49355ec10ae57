"""Charts in and out: MusicXML and plain text. Pure, but for reading the bytes it is given.

reading = import_lead_sheet(data)          # Refused when it is no lead sheet
reading.text, reading.chart, reading.melody, reading.losses

write_musicxml(chart, Extras(melody=…, analysis=…))
write_plain(chart, analysis)
"""

from __future__ import annotations

from tunes.interchange.errors import LOSSES, Loss, Refused
from tunes.interchange.importing import ImportReading, import_lead_sheet
from tunes.interchange.melody import Melody, MelodyNote
from tunes.interchange.plain import write_plain
from tunes.interchange.writer import Extras, write_musicxml

__all__ = [
    "LOSSES",
    "Extras",
    "ImportReading",
    "Loss",
    "Melody",
    "MelodyNote",
    "Refused",
    "import_lead_sheet",
    "write_musicxml",
    "write_plain",
]
