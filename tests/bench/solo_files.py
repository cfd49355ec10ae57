"""Files of notes that music21 carries, through the site and round again: how many come back note for note.

    python -m tests.bench.solo_files [count]

Each file is read (`read_music`), laid into bars, written as MusicXML and as MIDI, and both are read again. Printed: notes on the same
beats as music21's own reading, and the same again after each round.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")

import django

django.setup()

import music21  # noqa: E402

from drills.midi import to_midi  # noqa: E402
from drills.musicxml import to_musicxml  # noqa: E402
from drills.solos.score import solo_line, written  # noqa: E402
from studio.instruments import CONCERT  # noqa: E402
from tunes.interchange.errors import Refused  # noqa: E402
from tunes.interchange.foreign import read_music  # noqa: E402
from tunes.solos.bars import Covers, solo_form  # noqa: E402
from tunes.solos.layout import lay_out  # noqa: E402
from tunes.solos.notes import sounding  # noqa: E402
from tunes.study import study_of_text  # noqa: E402

CORPUS = Path(music21.__file__).parent / "corpus"
FOLDERS = (
    ("ryansMammoth", "*.abc"),
    ("oneills1850", "*.abc"),
    ("bach", "*.krn"),
    ("bach", "*.mxl"),
    ("leadSheet", "*.mxl"),
    ("trecento", "*.xml"),
    ("essenFolksong", "*.abc"),
    ("monteverdi", "*.mxl"),
)


def files(count: int) -> list[Path]:
    rows = [
        sorted((CORPUS / folder).glob(pattern))[:: max(1, len(sorted((CORPUS / folder).glob(pattern))) // 8)]
        for folder, pattern in FOLDERS
    ]
    return [
        path for row in zip(*(row + [None] * (60 - len(row)) for row in rows), strict=True) for path in row if path
    ][:count]


def main(count: int) -> None:
    same = round_trip = by_midi = notes_in = notes_back = read = 0
    for path in files(count):
        try:
            music = read_music(path.read_bytes())
        except Refused as error:
            print(f"refused {path.parent.name}/{path.name}: {error}")
            continue
        read += 1
        bars = min(500, int(max(note.onset + note.duration for note in music.notes) // 4) + 1)
        form = solo_form(study_of_text("key: C major\n" + "| C " * bars + "|"), Covers(1, 1, 1, bars), CONCERT)
        laid = lay_out(music, form)
        first = [(one.onset, one.duration, one.pitch.midi) for one in sounding(laid.bars, form.starts, form.lengths)]
        wanted = [(note.onset, note.duration, note.pitch.midi) for note in music.notes if 0 <= note.onset < 4 * bars]
        line = solo_line(form, laid.bars, title=path.stem)
        back = lay_out(read_music(to_musicxml(line, written=written(line, form, laid.bars)).encode()), form)
        again = [(one.onset, one.duration, one.pitch.midi) for one in sounding(back.bars, form.starts, form.lengths)]
        played = lay_out(read_music(to_midi(line)), form)
        midi = [(one.onset, one.duration, one.pitch.midi) for one in sounding(played.bars, form.starts, form.lengths)]
        same += first == wanted
        by_midi += midi == first
        round_trip += again == first
        notes_in += len(wanted)
        notes_back += len(set(wanted) & set(first))
        if first != wanted or again != first or midi != first:
            print(
                f"{path.parent.name}/{path.name}: {len(set(wanted) - set(first))} of {len(wanted)} notes elsewhere; MusicXML round {again == first}; "
                f"MIDI round: {len(set(first) - set(midi))} elsewhere; {laid.remarks + played.remarks}"
            )
    print(
        f"{read} files read, {same} with every note on its beat, {round_trip} the same after a round by MusicXML, "
        f"{by_midi} by MIDI; {notes_back} of {notes_in} notes"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 48)
