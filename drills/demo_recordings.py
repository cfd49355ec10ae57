"""What the demo's recordings play: the band over the changes of the chart version that was taken down from each, in the recording's
own key and tempo. `manage.py render_demo` renders them once; the demo loads the files (`tunes/demo/recorded.py`).
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from drills.band.chorus import Chorus, play_chorus
from drills.band.feel import swing_ratio
from drills.band.styles import STYLES, Style
from drills.bands import ending_of
from drills.chord_scales import scales_of
from drills.lines.build import Recipe, chosen
from drills.sounding.performance import Lineup, Played, Score
from tunes.demo.melodies import read_melody, sung
from tunes.demo.melody_data import MELODIES
from tunes.demo.recorded import LEAD_IN, Mark
from tunes.demo.repertoire_more import TUNES
from tunes.demo.shapes import DemoRecording, DemoTune, DemoVersion
from tunes.demo.solos import choruses as choruses_of
from tunes.demo.solos import played as solo_notes
from tunes.demo.solos import solo_on
from tunes.harmony.pitch.spelling import Key
from tunes.recordings.charts import form_bars
from tunes.respelling import readable_study
from tunes.study import StudyChart, chart_of, study_of_text

# Who is heard on a recording, by its leader; two have another band on one record.
LINEUPS = {
    "Odalys Brandt Quintet": Lineup("trumpet"), "Tomas Ekwall Trio": Lineup("piano"),
    "Harbour Lane Six": Lineup("alto-sax"), "Ruth Amadi-Hale": Lineup("tenor-sax"), "Ilse Maartens Nonet": Lineup("flugelhorn"),
    "Nell Corrigan": Lineup("voice"), "Petra Lindqvist Quartet": Lineup("vibraphone"), "Bastian Quillby Octet": Lineup("trombone"),
    "Ferran Ysella": Lineup("tenor-sax", bass="piano", drums=False), "Kwabena Strand Quartet": Lineup("soprano-sax", "electric"),
    "Inácia Vale": Lineup("voice", "guitar", "guitar", drums=False),
}  # fmt: skip
OTHER_LINEUPS = {
    ("Counting the Stairs", 0): Lineup("clarinet", bass="tuba"),
    ("Counting the Stairs", 1): Lineup("piano", bass="piano", drums=False),
}
# Feel of a tune → style of the head, style of what follows.
FEELS = {
    "medium swing": ("two", "four"), "slow swing": ("four", "four"), "medium bounce": ("two", "four"), "up swing": ("four", "four"),
    "fast swing": ("four", "four"), "ballad": ("ballad", "ballad"), "bossa": ("bossa", "bossa"), "even eighths": ("even", "even"),
    "jazz waltz": ("waltz", "waltz"),
}  # fmt: skip
TWO_AGAINST_THREE = ("Winter Ferry", 0, 1)  # tune, recording, chorus from 0: the bass plays dotted crotchets
LONG = 60.0  # seconds: a recording that would be longer than this has one chorus only
WITHOUT_SOUND = (  # with a chart of its own, and heard elsewhere all the same: what a programme without the file sees
    ("The Glassblower's Letter", 1),  # the longest, and sung, which the band cannot
)
SOLO_SWING = 2.0  # soloists play quavers less uneven than drummers (Friberg and Sundström 2002)


@dataclass(frozen=True)
class Planned:
    """A recording to render: the versions of its choruses, in order."""

    tune: DemoTune
    place: int
    recording: DemoRecording
    choruses: tuple[DemoVersion, ...]

    @property
    def name(self) -> str:
        return "-".join([*self.tune.title.lower().replace("'", "").split(), str(self.place + 1)])


def planned() -> Iterator[Planned]:
    """The references, and every recording that a version was taken from: the agreed chart first, where it is the reference's."""
    for tune in TUNES:
        for place, recording in enumerate(tune.recordings):
            own = [version for version in tune.versions if version.recording == place]
            if not own or (tune.title, place) in WITHOUT_SOUND:
                continue
            study = study_of_text(own[0].texts[-1])
            turns = _turns(tune, recording, study)
            yield Planned(tune, place, recording, (own[0],) * turns + tuple(own[1:]))


def _turns(tune: DemoTune, recording: DemoRecording, study: StudyChart) -> int:
    """How often the first version of a recording is played."""
    if recording.reference and solo_on(tune.title):
        return choruses_of(tune.title, len(form_bars(study.chart)))
    beats = float(sum(bar.length for bar in chosen(study, Recipe()).bars))
    verse = any(section.label == "Verse" for section in study.chart.sections)
    return 1 if verse or 2 * beats * 60 / recording.tempo > LONG else 2


def score_of(plan: Planned) -> tuple[Score, list[Mark]]:
    """The notes of a recording in seconds, and where its bars lie."""
    second = 60 / plan.recording.tempo
    key = Key.parse(plan.recording.key)
    rng = random.Random(f"{plan.name}:force")
    bass: list[Played] = []
    chords: list[Played] = []
    strokes: list[tuple[float, str, float]] = []
    marks: list[Mark] = []
    begins, chorus, starts = 0.0, None, []
    for number, version in enumerate(plan.choruses):
        chorus = _chorus(plan, version, number, key)
        ratio = swing_ratio(plan.recording.tempo) if chorus.style.swing else 1.0
        skipped = _pickup(chorus)
        clock = _Clock(begins - float(skipped), second, ratio)
        calm = _Clock(begins - float(skipped), second, min(ratio, SOLO_SWING))
        for note in chorus.bass:
            if note.pitch is not None and note.start >= skipped:
                force = rng.uniform(0.72, 0.82) + 0.08 * (note.start % 2 == 1)
                bass.append(clock.played(note.start, note.end, (note.pitch.midi,), force))
        for voiced in chorus.piano:
            if voiced.start >= skipped:
                pitches = tuple(pitch.midi for pitch in voiced.pitches)
                chords.append(calm.played(voiced.start, voiced.start + voiced.length, pitches, rng.uniform(0.5, 0.78)))
        strokes += [(clock.at(at), stroke.what, stroke.level) for at, stroke in chorus.drums if at >= skipped]
        marks += _marks(plan, version, chorus, number + 1, clock)
        starts.append(begins)
        begins += float(chorus.passage.bars[-1].end - skipped)
    assert chorus is not None
    end = LEAD_IN + begins * second
    low, *held = ending_of(chorus.passage.key)
    bass.append(Played(end, 4 * second, (low,), 0.8))
    chords.append(Played(end, 4 * second, tuple(held), 0.7))
    strokes.append((end, "crash", 0.5))
    solo = _solo(plan, second, starts, key)
    return Score(end + min(4 * second, 3.0) + 0.8, bass, chords, solo, strokes), marks


@dataclass(frozen=True)
class _Clock:
    """Crotchets of a chorus to seconds of the file: `begins` in crotchets from the first downbeat."""

    begins: float
    second: float
    ratio: float

    def at(self, time: Fraction | float) -> float:
        whole = float(time // 1)
        rest = float(time) - whole
        moved = self.ratio / (1 + self.ratio) if abs(rest - 0.5) < 1e-6 else rest
        return LEAD_IN + (self.begins + whole + moved) * self.second

    def played(self, start: Fraction | float, end: Fraction | float, pitches: tuple[int, ...], force: float) -> Played:
        return Played(self.at(start), self.at(end) - self.at(start), pitches, force)


def _chorus(plan: Planned, version: DemoVersion, number: int, key: Key) -> Chorus:
    study = study_of_text(version.texts[-1])
    moved = readable_study(study.transposed(key) if key.tonic != study.key.tonic else study)
    style: Style = STYLES[FEELS[plan.tune.feel][min(number, 1)]]
    if (plan.tune.title, plan.place, number) == TWO_AGAINST_THREE:
        style = replace(style, bass=(Fraction(0), Fraction(3, 2)), walks=False)
    return play_chorus(chosen(moved, Recipe()), style, scales_of(moved), f"{plan.name}-{number}")


def _pickup(chorus: Chorus) -> Fraction:
    """The length of a pickup, which is not played again before every chorus, nor before the first."""
    first = chorus.passage.bars[0]
    return first.length if first.number == 0 else Fraction(0)


def _marks(plan: Planned, version: DemoVersion, chorus: Chorus, number: int, clock: _Clock) -> list[Mark]:
    """Bar lines by the form that recordings of the tune are mapped on: where sections begin, and where a version has other bars
    than the form. A verse before the first chorus lies before it; bars past the form have no place in it."""
    form = form_bars(chart_of(plan.tune.versions[0].texts[-1]))
    bars = [bar for bar in chorus.passage.bars if bar.number]
    verse = sum(1 for bar in form_bars(chart_of(version.texts[-1])) if bar.label == "Verse")
    rows = bars[verse : verse + len(form)]
    found = []
    for own, bar in zip(form, rows, strict=False):
        if own.opens or bar is rows[-1]:
            found.append(Mark(number, own.number, round(clock.at(bar.start), 4), own.label if own.opens else ""))
    return found


def _solo(plan: Planned, second: float, starts: Sequence[float], key: Key) -> list[Played]:
    """The melody over the first chorus, and the solo of the demo on its reference; transposed with the recording."""
    agreed = chart_of(plan.tune.versions[0].texts[-1])
    first = chart_of(plan.choruses[0].texts[-1])
    if len(form_bars(agreed)) != len(form_bars(first)):
        return []  # another form than the melody's: the rhythm section alone
    shift = _shift(Key.parse(plan.tune.key), key)
    notes = [
        (at, length, midi + shift) for at, length, midi in sung(read_melody(MELODIES[plan.tune.title], agreed), agreed)
    ]
    if plan.recording.reference and solo_on(plan.tune.title):
        bars = len(form_bars(agreed))
        beats = starts[1] - starts[0]
        notes += [
            (at, length, midi + shift)
            for at, length, midi in solo_notes(plan.tune.title, beats, beats / bars, swing=False)
        ]
    ratio = min(swing_ratio(plan.recording.tempo), SOLO_SWING) if STYLES[FEELS[plan.tune.feel][0]].swing else 1.0
    rng = random.Random(f"{plan.name}:solo")
    clock = _Clock(0.0, second, ratio)
    return [
        clock.played(Fraction(at).limit_denominator(24), Fraction(at + length * 0.96).limit_denominator(240), (midi,), rng.uniform(0.6, 0.9))
        for at, length, midi in notes
    ]  # fmt: skip


def _shift(home: Key, key: Key) -> int:
    """Semitones from one key to another, the shorter way."""
    return (key.tonic.pc - home.tonic.pc + 6) % 12 - 6


def chords_of(plan: Planned) -> list[tuple[float, float, int]]:
    """(second, length in seconds, pitch class of the bass) of every chord of the changes that a recording plays, from its charts and
    not from its notes; a chord that only goes on is left out."""
    second, key = 60 / plan.recording.tempo, Key.parse(plan.recording.key)
    found, begins = [], 0.0
    for number, version in enumerate(plan.choruses):
        chorus = _chorus(plan, version, number, key)
        skipped = _pickup(chorus)
        for span in chorus.passage.spans:
            if span.symbol is not None and span.start >= skipped:
                at = LEAD_IN + (begins + float(span.start - skipped)) * second
                found.append((at, float(span.end - span.start) * second, (span.symbol.bass or span.symbol.root).pc))
        begins += float(chorus.passage.bars[-1].end - skipped)
    return found
