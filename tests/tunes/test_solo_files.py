"""Files of notes: read beside the site, laid into bars; what is no music is refused in one line.

Checked against music21's own reading of real tunes that it carries (Airds Airs, Ryan's Mammoth Collection, Essen folk
songs in ABC; chorales in Humdrum), and against `mido` for MIDI. More of them: `tests/bench/solo_files.py`.
"""

from __future__ import annotations

import io
import zipfile
from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import music21
import pytest
from django.test import Client
from django.urls import reverse

from drills.midi import to_midi
from drills.musicxml import to_musicxml
from drills.solos.score import solo_line, written
from studio.instruments import CONCERT, INSTRUMENTS
from studio.models import Job
from tests import factories
from tunes.harmony.pitch.spelling import Pitch
from tunes.interchange.errors import Refused
from tunes.interchange.foreign import FileMusic, FileNote, read_music
from tunes.solos import selectors, services
from tunes.solos.bars import Covers, SoloForm, solo_form
from tunes.solos.layout import lay_out
from tunes.solos.notes import sounding
from tunes.study import study_of_text

CORPUS = Path(music21.__file__).parent / "corpus"
ABC = b"X:1\nT:A\nM:4/4\nL:1/8\nK:F\nFGAB c2 (3cde|f4 z2 e_e|d6-d2|]\n"


def four_four(bars: int) -> SoloForm:
    return solo_form(study_of_text("key: F major\n" + "| F7 " * bars + "|"), Covers(1, 1, 1, bars), CONCERT)


def heard(bars: Any, form: SoloForm) -> list[tuple[Fraction, Fraction, int]]:
    return [(one.onset, one.duration, one.pitch.midi) for one in sounding(bars, form.starts, form.lengths)]


def midi_file(rows: list[tuple[float, float, int]]) -> bytes:
    """Onset, end (quarter notes) and sound."""
    events = sorted([(int(a * 480), 1, n) for a, _, n in rows] + [(int(b * 480), 0, n) for _, b, n in rows])
    track, at = mido.MidiTrack(), 0
    for tick, on, sound in events:
        track.append(
            mido.Message("note_on" if on else "note_off", note=sound, velocity=80 if on else 0, time=tick - at)
        )
        at = tick
    out = io.BytesIO()
    mido.MidiFile(ticks_per_beat=480, tracks=[track]).save(file=out)
    return out.getvalue()


def test_an_abc_tune_is_written_as_it_reads() -> None:
    form = four_four(4)
    laid = lay_out(read_music(ABC), form)
    assert [(e.pitch.text if e.pitch else "r", str(e.length), e.tuplet) for e in laid.bars[0]] == [
        ("F4", "1/2", 0), ("G4", "1/2", 0), ("A4", "1/2", 0), ("Bb4", "1/2", 0), ("C5", "1", 0), ("C5", "1/3", 3),
        ("D5", "1/3", 3), ("E5", "1/3", 3),
    ]  # fmt: skip
    assert [e.pitch.text if e.pitch else "r" for e in laid.bars[1]] == ["F5", "r", "E5", "Eb5"]
    assert not laid.bars[3]


def test_swung_eighths_of_a_midi_file_are_written_as_eighths() -> None:
    """Off-beats on the last third of the beat, as swing is played at moderate tempos (common practice, no source)."""
    rows = [(beat + off, beat + end, 65 + beat % 5) for beat in range(8) for off, end in ((0, 0.66), (0.665, 1))]
    form = four_four(2)
    laid = lay_out(read_music(midi_file(rows)), form)
    assert "The eighths are swung; they are written as eighths." in laid.remarks
    assert {entry.length for bar in laid.bars for entry in bar} == {Fraction(1, 2)}


def test_a_sound_is_spelled_by_chord_and_key() -> None:
    form = solo_form(study_of_text("key: F major\n| D7b9 | Bb7 | Fmaj7 |"), Covers(1, 1, 1, 3), CONCERT)
    notes = tuple(
        FileNote(Fraction(4 * bar), Fraction(1), Pitch.nearest(Pitch.parse(name).name, 63))
        for bar, name in enumerate(("D#4", "G#4", "F#4"))
    )
    laid = lay_out(FileMusic(notes, spelled=False), form)
    assert [bar[0].pitch.name.text for bar in laid.bars if bar[0].pitch] == ["Eb", "Ab", "F#"]


@pytest.mark.parametrize(
    "rows", [[("1/3", "1/2")], [("0", "7/2")], [("3/2", "3")], [("2/3", "2")], [("1/5", "3/5"), ("3/5", "1")]]
)
def test_every_cut_adds_up(rows: list[tuple[str, str]]) -> None:
    form = four_four(2)
    notes = tuple(FileNote(Fraction(a), Fraction(b) - Fraction(a), Pitch.parse("C5")) for a, b in rows)
    laid = lay_out(FileMusic(notes, spelled=True), form)
    assert sum(entry.length for entry in laid.bars[0]) == 4
    assert heard(laid.bars, form) == [(n.onset, n.duration, 72) for n in notes]


def real_files() -> list[Path]:
    """A few short tunes of each kind."""
    abc = sorted((CORPUS / "ryansMammoth").glob("*.abc"))[::400][:2] if (CORPUS / "ryansMammoth").is_dir() else []
    return [*abc, CORPUS / "bach" / "bwv277.krn"]


@pytest.mark.parametrize("path", real_files(), ids=lambda path: path.stem)
def test_real_files_go_round(path: Path) -> None:
    """File → staves → MusicXML and MIDI → staves: the same notes on the same beats."""
    music = read_music(path.read_bytes())
    bars = int(max(note.onset + note.duration for note in music.notes) // 4) + 1
    form = four_four(bars)
    laid = lay_out(music, form)
    first = heard(laid.bars, form)
    assert [(onset, midi) for onset, _, midi in first] == [(n.onset, n.pitch.midi) for n in music.notes if n.onset >= 0]
    line = solo_line(form, laid.bars, title="round")
    score = to_musicxml(line, written=written(line, form, laid.bars)).encode()
    assert heard(lay_out(read_music(score), form).bars, form) == first
    played = lay_out(read_music(to_midi(line)), form)
    shell = {(onset, midi) for onset, _, midi in heard(played.bars, form)}
    assert {(onset, midi) for onset, _, midi in first} <= shell


def zipped(**members: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name.replace("__", "/"), data)
    return out.getvalue()


HEAD = b'<?xml version="1.0"?><score-partwise><part-list><score-part id="P1"/></part-list>'
NOT_MUSIC = {
    "empty": b"", "spaces": b"   \n ", "words": b"Dear class, here is my solo.", "zeros": bytes(4096), "pdf": b"%PDF-1.7 x\x00",
    "png": b"\x89PNG\r\n\x1a\n\x00", "program": b"MZ\x90\x00", "elf": b"\x7fELF\x02\x00", "gzip": b"\x1f\x8b\x08\x00", "wave": b"RIFF\x00\x00\x00\x00WAVE",
    "rar": b"Rar!\x1a\x07\x00", "7z": b"7z\xbc\xaf\x27\x1c\x00", "mp3": b"ID3\x04\x00", "ogg": b"OggS\x00", "json": b'{"notes": []}',
    "html": b"<html><body>no</body></html>", "svg": b"<svg onload='alert(1)'/>", "half a tag": b"<score-partwise", "no parts": HEAD + b"</score-partwise>",
    "entity": b'<!DOCTYPE x [<!ENTITY a "b">]><score-partwise>&a;</score-partwise>',
    "outside": b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><score-partwise>&a;</score-partwise>',
    "deep": b"<score-partwise>" + b"<part>" * 100 + b"</part>" * 100 + b"</score-partwise>",
    "no notes": HEAD + b'<part id="P1"><measure number="1"/></part></score-partwise>',
    "zip of nothing": zipped(a=b""), "zip cut short": zipped(a__xml=b"x" * 900)[:40],
    "path": zipped(**{"..__..__etc__passwd.xml": b"<score-partwise/>"}), "nested": zipped(**{"in.mxl": zipped(a=b"")}),
    "bomb": zipped(**{"a.xml": b"<score-partwise>" + b" " * 9_000_000}), "too big": b"X:1\nK:C\n" + b"c" * 3_000_000,
    "utf-16 of nothing": b"\xff\xfe<\x00x\x00", "python": b"import os\nos.system('true')", "header alone": b"<?xml version='1.0'?>",
}  # fmt: skip
BY_THE_WORKER = {
    "midi cut in its head": b"MThd\x00\x00\x00\x06\x00\x01", "midi without tracks": b"MThd\x00\x00\x00\x06\x00\x01\x00\x00\x01\xe0",
    "midi whose track lies": b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x01\xe0MTrk\xff\xff\xff\xff\x00\x90\x3c\x40",
    "midi of noise": b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x01\xe0MTrk\x00\x00\x00\x20" + bytes(range(200, 232)),
    "abc without a note": b"X:1\nT:nothing\nK:C\n", "abc of repeats": b"X:1\nK:C\n" + b"|:" * 4000,
    "abc of brackets": b"X:1\nK:C\n" + b"[" * 20_000, "kern of nothing": b"**kern\n*-\n", "kern that splits": b"**kern\n" + b"*^\n" * 400 + b"*-\n",
}  # fmt: skip


@pytest.mark.parametrize("case", [*NOT_MUSIC, *BY_THE_WORKER])
def test_what_is_no_music_gets_one_line(case: str) -> None:
    with pytest.raises(Refused) as refused:
        read_music((NOT_MUSIC | BY_THE_WORKER)[case])
    line = str(refused.value)
    assert line
    assert "\n" not in line
    assert len(line) < 320
    assert "/" not in line.replace("META-INF/container.xml", "")  # no path of this machine


def test_there_are_forty_of_them() -> None:
    assert len(NOT_MUSIC) + len(BY_THE_WORKER) >= 40


def test_a_file_becomes_the_draft_and_nothing_is_lost(db: None, client: Client) -> None:
    player = factories.make_player(factories.make_ensemble())
    revision = factories.make_version()
    solo = services.begin(
        by=player, revision=revision, recording=None, player="Ada", instrument="", covers=Covers(1, 1, 1, 4), bars=4
    )
    before = lay_out(
        FileMusic((FileNote(Fraction(0), Fraction(1), Pitch.parse("D4")),), spelled=True),
        selectors.form_of(solo, CONCERT),
    ).bars
    services.save_draft(solo=solo, bars=before, serial=0, client="a window")
    client.force_login(player)
    answer = client.post(reverse("tunes:solo-file", args=[solo.pk]), {"file": io.BytesIO(ABC)})
    job = Job.objects.get()
    assert answer.headers["Location"] == reverse("studio:job", args=[job.pk])
    assert (job.state, job.payload) == ("done", {"solo": solo.pk})
    solo.refresh_from_db()
    form = selectors.form_of(solo, INSTRUMENTS["piano"])
    assert len(heard(selectors.read_stored(solo.draft.notes, 4), form)) == 12
    kept = selectors.newest(solo)
    assert kept is not None
    assert kept.why == "before a file was read"
    refused = client.post(reverse("tunes:solo-file", args=[solo.pk]), {"file": io.BytesIO(b"%PDF")})
    assert refused.status_code == 422
    assert "This is no file of notes" in refused.content.decode()
