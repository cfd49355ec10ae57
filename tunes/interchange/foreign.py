"""Notes from files of any kind: MusicXML by our own reader, MIDI, ABC and Humdrum through music21.

music21 trusts what it is given, so it never runs in this process: `foreign_worker.py` runs on its own, with limits of
time, memory and output that the operating system keeps, and hands back plain numbers. Not for the way of a page: a file
may take seconds. Whatever goes wrong there ends in one line for the person who sent the file.
"""

from __future__ import annotations

import json
import re
import resource
import subprocess
import sys
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from tunes.harmony.pitch.spelling import Pitch, SpellingError
from tunes.interchange.archive import LIMITS, ZIP_MAGIC
from tunes.interchange.bars import count_bars
from tunes.interchange.errors import Refused
from tunes.interchange.reader import read_musicxml

MOST_BYTES = LIMITS.upload
SECONDS = 20  # of computing
PATIENCE = 60  # seconds by the clock
MEMORY = 1_500 * 2**20
MOST_OUTPUT = 4 * 2**20
MOST_NOTES = 20_000
MOST_QUARTERS = 8000
WORKER = Path(__file__).with_name("foreign_worker.py")


@dataclass(frozen=True)
class FileNote:
    """A note in concert pitch; times are quarter notes from the first bar line (before it: negative)."""

    onset: Fraction
    duration: Fraction
    pitch: Pitch


@dataclass(frozen=True)
class FileMusic:
    """The notes of the part that was read, in order. `spelled` is False where only sounds were stored (MIDI)."""

    notes: tuple[FileNote, ...]
    spelled: bool
    remarks: tuple[str, ...] = ()
    performed: bool = False


def kind_of(data: bytes) -> str:
    """ "musicxml", "midi", "abc" or "humdrum", by the content. Raises `Refused`."""
    if not data:
        raise Refused("empty", "The file is empty. Save it again.")
    if len(data) > MOST_BYTES:
        raise Refused("too-big", f"The file is {len(data) / 1e6:.1f} MB; a solo is at most {MOST_BYTES / 1e6:.0f} MB.")
    if data.startswith(b"MThd"):
        return "midi"
    head = data[:4096].lstrip(b"\xef\xbb\xbf \t\r\n")
    if data.startswith(ZIP_MAGIC) or head.startswith(b"<") or data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "musicxml"
    if b"\x00" in data:
        raise Refused("not-music", "This is no file of notes. Choose MusicXML, MIDI, ABC or Humdrum.")
    if re.search(rb"^\*\*kern\b", data, re.MULTILINE):
        return "humdrum"
    if re.search(rb"^X:\s*\d", data, re.MULTILINE) and re.search(rb"^K:", data, re.MULTILINE):
        return "abc"
    raise Refused("not-music", "This is no file of notes. Choose MusicXML, MIDI, ABC or Humdrum.")


def read_music(data: bytes) -> FileMusic:
    """The notes of a file. Raises `Refused` with one line that says what to do."""
    kind = kind_of(data)
    music = _of_score(data) if kind == "musicxml" else _of_worker(kind, data)
    if not music.notes:
        raise Refused("no-notes", "The file holds no notes. Choose one with the solo in its first part.")
    return music


def _of_score(data: bytes) -> FileMusic:
    counted = count_bars(read_musicxml(data).bars)
    notes: list[FileNote] = []
    at = Fraction(0)
    if counted.pickup and counted.bars:
        at = -counted.bars[0].length
    for bar in counted.bars:
        for note in bar.notes:
            last = notes[-1] if notes else None
            if note.tied and last and last.pitch == note.pitch and last.onset + last.duration == at + note.onset:
                notes[-1] = FileNote(last.onset, last.duration + note.duration, last.pitch)  # it goes on
            elif note.duration > 0:
                notes.append(FileNote(at + note.onset, note.duration, note.pitch))
        at += bar.length or bar.nominal
    return FileMusic(
        _one_at_a_time(notes),
        spelled=True,
        remarks=("Repeats of the score were read once.",) if any(bar.backward for bar in counted.bars) else (),
    )


def _one_at_a_time(notes: list[FileNote]) -> tuple[FileNote, ...]:
    """Of notes that begin together the highest; none sounds on over the next."""
    by_onset: dict[Fraction, FileNote] = {}
    for note in sorted(notes, key=lambda one: (one.onset, one.pitch.midi)):
        by_onset[note.onset] = note
    ordered = [by_onset[onset] for onset in sorted(by_onset)]
    found = []
    for place, note in enumerate(ordered):
        end = note.onset + note.duration
        end = min(end, ordered[place + 1].onset) if place + 1 < len(ordered) else end
        found.append(FileNote(note.onset, end - note.onset, note.pitch))
    return tuple(found)


def _limits() -> None:
    """In the child, before it reads anything."""
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS + 1))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    resource.setrlimit(resource.RLIMIT_NPROC, resource.getrlimit(resource.RLIMIT_NPROC))


def _of_worker(kind: str, data: bytes) -> FileMusic:
    too_much = Refused("too-much", "The file takes far more work than a solo does. Send the solo alone, one part.")
    try:
        done = subprocess.run(
            [sys.executable, "-I", "-B", str(WORKER), kind], input=data, capture_output=True, timeout=PATIENCE, check=False,
            env={"PATH": "/usr/bin:/bin", "HOME": "/nonexistent", "MPLCONFIGDIR": "/nonexistent", "OPENBLAS_NUM_THREADS": "1"},
            preexec_fn=_limits, cwd="/",
        )  # fmt: skip
    except subprocess.TimeoutExpired as error:
        raise too_much from error
    if done.returncode < 0 or len(done.stdout) > MOST_OUTPUT:
        raise too_much
    try:
        found = json.loads(done.stdout)
    except (ValueError, RecursionError) as error:
        raise Refused(
            "unreadable", "The file could not be read. Save it again from the program it comes from."
        ) from error
    if "refused" in found:
        raise Refused("unreadable", str(found["refused"])[:300])
    return _checked(found, spelled=kind != "midi")


def _checked(found: dict[str, object], *, spelled: bool) -> FileMusic:
    """What the worker says is only believed as far as it is music."""
    rows = found.get("notes")
    if not isinstance(rows, list) or len(rows) > MOST_NOTES:
        raise Refused("too-much", f"The file holds more than {MOST_NOTES} notes. Send the solo alone, one part.")
    notes = []
    try:
        for onset, duration, pitch in rows:
            note = FileNote(Fraction(onset), Fraction(duration), Pitch.parse(pitch))
            if -64 <= note.onset <= MOST_QUARTERS and 0 < note.duration <= 256 and 0 <= note.pitch.midi <= 127:
                notes.append(note)
    except (ValueError, TypeError, SpellingError, ZeroDivisionError) as error:
        raise Refused("unreadable", "The file holds notes that cannot be written on a staff.") from error
    remarks = tuple(str(line)[:200] for line in found.get("remarks", ()) if line)  # type: ignore[attr-defined]
    return FileMusic(_one_at_a_time(notes), spelled, remarks, performed=not spelled)
