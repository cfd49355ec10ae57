"""Runs alone, never inside the site: reads one file with music21 from standard input, writes plain numbers as JSON.

`python foreign_worker.py midi|abc|humdrum < file`. The process that starts it sets its limits (`foreign.py`). A pitch is
written as it is spelled; of MIDI only its sound is known, so the name there is the nearest usual one.
"""

from __future__ import annotations

import json
import re
import sys
import warnings
from fractions import Fraction
from typing import Any

MOST_NOTES = 20_000


def _stream(kind: str, data: bytes) -> Any:
    """The score. Parsers are called directly: `converter.parse` would take a path or an address."""
    if kind == "midi":
        from music21 import midi

        file = midi.MidiFile()
        file.readstr(data)
        return midi.translate.midiFileToStream(file, quantizePost=False)
    from music21.converter import subConverters

    text = data.decode("utf-8", "replace")
    if kind == "abc":  # a book of tunes: only the first, and what stands before it, is worth the time
        starts = [found.start() for found in re.finditer(r"^X:", text, re.MULTILINE)]
        text = text[: starts[1]] if len(starts) > 1 else text
    reader: Any = subConverters.ConverterABC() if kind == "abc" else subConverters.ConverterHumdrum()  # type: ignore[no-untyped-call]
    reader.parseData(text)
    return reader.stream


def _part(score: Any) -> tuple[Any, list[str]]:
    """The part with notes in it that stands first; of an opus the first tune."""
    from music21 import stream

    remarks = []
    if isinstance(score, stream.Opus):
        score = next(iter(score.scores))
    parts = [part for part in getattr(score, "parts", []) if part.recurse().notes]
    if len(parts) > 1:
        remarks.append(f"The file has {len(parts)} parts; the first was read.")
    return (parts[0] if parts else score), remarks


def _notes(part: Any) -> list[list[str]]:
    """[onset, duration, pitch] in concert pitch, ties joined; of a chord the top note. A pickup has negative times."""
    from music21 import chord, note

    part = part.toSoundingPitch() if part.isStream else part
    first = part.recurse().getElementsByClass("Measure").first()
    ahead = Fraction(0)
    if first is not None and first.paddingLeft:
        ahead = Fraction(first.duration.quarterLength)
    rows = []
    for element in part.stripTies().flatten().notes:
        if isinstance(element, chord.Chord) and type(element) is chord.Chord and element.pitches:
            pitch = max(element.pitches)
        elif isinstance(element, note.Note):
            pitch = element.pitch
        else:
            continue  # chord symbols, drums
        length = Fraction(element.quarterLength)
        if length <= 0:
            continue
        rows.append([str(Fraction(element.offset) - ahead), str(length), pitch.nameWithOctave.replace("-", "b")])
        if len(rows) > MOST_NOTES:
            break
    return rows


def main() -> None:
    warnings.simplefilter("ignore")
    kind, data = sys.argv[1], sys.stdin.buffer.read()
    try:
        part, remarks = _part(_stream(kind, data))
        if kind == "abc" and (tunes := len(re.findall(rb"^X:", data, re.MULTILINE))) > 1:
            remarks.append(f"The file holds {tunes} tunes; the first was read.")
        answer: dict[str, Any] = {"notes": _notes(part), "remarks": remarks}
    except MemoryError:
        answer = {"refused": "The file takes far more work than a solo does. Send the solo alone, one part."}
    except Exception as error:  # (whatever a stranger's file makes a parser do, it ends here, in its own process)
        answer = {
            "refused": f"The file could not be read as {kind.upper() if kind != 'humdrum' else 'Humdrum'} "
            f"({type(error).__name__}). Save it again from the program it comes from."
        }
    sys.stdout.write(json.dumps(answer))


if __name__ == "__main__":
    main()
