"""What the hearing of takes gets right, on material that it renders itself. Prints tables; asserts nothing.

python -m tests.bench.hearing                     # tones by arithmetic
python -m tests.bench.hearing --tones FOLDER      # and chained single tones of real instruments (tones.json beside them)
python -m tests.bench.hearing --font FILE.sf2     # and a sound font, by the program `fluidsynth` (for the bench alone)

Chained single tones are isolated and tongued: their figures are an upper bound of what players will meet.
"""

from __future__ import annotations

import argparse
import json
import random
import resource
import statistics
import subprocess
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

import mir_eval
import numpy as np

from drills.band.chorus import play_chorus
from drills.band.feel import swung
from drills.band.styles import STYLES
from drills.hearing.expected import Score, score_of
from drills.hearing.judge import judge
from drills.hearing.result import Advice
from drills.hearing.solo import notes_of
from drills.hearing.tracker import listen
from drills.lines.passage import passage
from tests import tones as t
from tests.drills.lines import plain_scales
from tests.drills.studies import study

TEMPO, COUNT, LINES = 120.0, 64, 6
Made = Callable[[float, float], t.Samples]


@dataclass
class Tally:
    """Notes by what was planted and what was said."""

    right: int = 0
    false: int = 0
    planted: int = 0
    found: int = 0
    same_word: int = 0
    declined: int = 0
    takes: int = 0
    kinds: Counter[str] = field(default_factory=Counter)

    def add(self, notes: list[t.Planted], advice: Advice) -> None:
        self.takes += 1
        if advice.state != "heard":
            self.declined += 1
            return
        for note, said in zip(notes, advice.notes, strict=True):
            word = said.timing or ("" if said.verdict == "as-written" else said.verdict)
            if note.done:
                self.planted += 1
                self.found += bool(word)
                self.same_word += word == note.done
                if not word:
                    self.kinds[f"missed {note.done}"] += 1
            else:
                self.right += 1
                self.false += bool(word)
                if word:
                    self.kinds[f"false {word}"] += 1

    def row(self) -> str:
        if self.declined == self.takes:
            return f"{'declines, all ' + str(self.takes) + ' takes':>48}"
        precision = self.found / max(1, self.found + self.false)
        return (
            f"{self.right + self.planted:6d} {100 * self.false / max(1, self.right):7.2f} % {precision:8.3f} "
            f"{self.found / max(1, self.planted):8.3f} {self.same_word / max(1, self.found):9.3f}   "
            + ", ".join(f"{key} {count}" for key, count in sorted(self.kinds.items()))
        )


def score_for(notes: list[t.Planted], tempo: float = TEMPO) -> Score:
    beat = 60 / tempo
    rows = [(note.start / beat, note.length / beat, note.midi) for note in notes]
    bars = int(max(start + length for start, length, _ in rows) // 4) + 1
    return score_of(rows, [(4.0 * bar, 4.0) for bar in range(bars)], tempo=tempo)


def heard(sound: t.Samples, score: Score, leak: float | None = None, limit: float = -25.0) -> Advice:
    return judge(
        listen([sound.astype(np.float32)]), score, lambda _i, midi: str(midi), begins=2.0, leak_level=leak, limit=limit
    )


def band(seconds: float, rng: np.random.Generator) -> t.Samples:
    """A chorus of the band: bass and piano as decaying tones, drums as noise."""
    chorus = play_chorus(passage(study().chart, None), STYLES["four"], plain_scales(None), "bench")
    beat = 60 / TEMPO
    sound = np.zeros(int(seconds * t.RATE))

    def lay(start: float, wave: t.Samples) -> None:
        first = int(swung(start, 2.0) * beat * t.RATE)
        wave = wave[: max(0, len(sound) - first)]
        sound[first : first + len(wave)] += wave

    def plucked(midi: float, length: float, size: float) -> t.Samples:
        at = np.arange(int(length * t.RATE)) / t.RATE
        hertz = 440 * 2 ** ((midi - 69) / 12)
        return sum(
            (size / n * np.exp(-3 * at) * np.sin(2 * np.pi * n * hertz * at) for n in (1, 2, 3, 4)), np.zeros(len(at))
        )

    for note in chorus.bass:
        if note.pitch:
            lay(float(note.start), plucked(note.pitch.midi, float(note.duration) * beat, 0.5))
    for voiced in chorus.piano:
        for pitch in voiced.pitches:
            lay(float(voiced.start), plucked(pitch.midi, float(voiced.length) * beat, 0.2))
    for start, stroke in chorus.drums:
        wave = stroke.level * np.exp(-np.arange(3200) / 600) * rng.standard_normal(3200)
        lay(float(start), 0.3 * np.diff(wave, prepend=0))
    return sound


def by_arithmetic(name: str) -> Made:
    rng = np.random.default_rng(7)
    kind = t.KINDS[name]
    return lambda length, midi: t.tone(kind, length, midi, rng)


def by_recordings(folder: Path, name: str) -> tuple[Made, list[int]]:
    """Single tones, tuned to equal temperament by a small change of speed and cut to length."""
    from tunes.samples import blocks_of

    rows = [row for row in json.loads((folder / "tones.json").read_text()) if row["instrument"] == name]
    waves: dict[int, list[t.Samples]] = {}
    for row in rows:
        if row["seconds"] < 0.4:
            continue
        with (folder / row["file"]).open("rb") as file:
            wave = np.concatenate(list(blocks_of(file, "audio/mpeg"))).astype(float)
        loud = np.flatnonzero(np.abs(wave) > 0.05 * np.abs(wave).max())
        wave = wave[max(0, loud[0] - 160) : loud[-1]]
        place = np.arange(0, len(wave) - 1, 2 ** (-row["cents"] / 1200))
        wave = np.interp(place, np.arange(len(wave)), wave)
        waves.setdefault(row["midi"], []).append(wave / np.sqrt(np.mean(wave**2) + 1e-12))
    rng = random.Random(3)

    def made(length: float, midi: float) -> t.Samples:
        wave = sustained(rng.choice(waves[round(midi)]), int(length * t.RATE))
        fall = min(480, len(wave))
        wave[len(wave) - fall :] *= np.linspace(1, 0, fall)
        return wave

    return made, sorted(waves)


def sustained(wave: t.Samples, count: int) -> t.Samples:
    """A tone cut to length, or held on: its middle third again and again, faded over into itself."""
    if len(wave) < count:  # what dies away at its end is no part of a held tone
        power = np.convolve(wave**2, np.ones(640) / 640, mode="same")
        wave = wave[: int(np.flatnonzero(power > 0.15 * power.max())[-1])]
    third, fade = len(wave) // 3, len(wave) // 9
    middle = wave[third : 2 * third]
    while len(wave) < count:
        ramp = np.linspace(0, 1, fade)
        keep, rest = wave[:-third], wave[-third:]
        seam = keep[-fade:] * np.sqrt(1 - ramp) + middle[:fade] * np.sqrt(ramp)
        wave = np.concatenate([keep[:-fade], seam, middle[fade:], rest])
    return wave[:count].copy()


PROGRAMS = {"clarinet": 71, "saxophone": 66, "trombone": 57, "voice": 53, "flute": 73, "trumpet": 56}


def by_font(font: str, name: str, tones: Iterable[t.Tone]) -> t.Samples:
    """A take rendered by fluidsynth."""
    import mido

    from tunes.samples import blocks_of

    midi = mido.MidiFile(ticks_per_beat=1000)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=1_000_000),
                            mido.Message("program_change", program=PROGRAMS[name])])  # fmt: skip
    midi.tracks.append(track)
    events = []
    for one in t.joined(list(tones)):
        events += [
            (round(1000 * one.start), 1, round(one.midi)),
            (round(1000 * (one.start + one.length)), 0, round(one.midi)),
        ]
    now = 0
    for at, on, note in sorted(events):
        track.append(mido.Message("note_on" if on else "note_off", note=note, velocity=90 if on else 0, time=at - now))
        now = at
    with tempfile.TemporaryDirectory() as folder:
        midi.save(f"{folder}/take.mid")
        subprocess.run(
            ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.7", "-F", f"{folder}/take.wav", "-r", "44100",
             font, f"{folder}/take.mid"],
            check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        with open(f"{folder}/take.wav", "rb") as file:
            return np.concatenate(list(blocks_of(file, "audio/wav"))).astype(float)


Render = Callable[[list[t.Tone]], t.Samples]


def renderers(args: argparse.Namespace) -> dict[str, tuple[Render, t.Kind | list[int]]]:
    """Every source of sound: name → (tones to samples, compass or the pitches there are)."""
    found: dict[str, tuple[Render, t.Kind | list[int]]] = {}
    for name in ("clarinet", "saxophone", "trombone", "voice"):
        found[f"{name}, arithmetic"] = (_with(by_arithmetic(name)), t.KINDS[name])
    if args.tones:
        for name in ("clarinet", "saxophone", "trombone"):
            made, pitches = by_recordings(Path(args.tones), name)
            found[f"{name}, single tones"] = (_with(made), pitches)
    if args.font:
        for name in ("clarinet", "saxophone", "trombone", "voice"):
            found[f"{name}, sound font"] = ((lambda tones, name=name: by_font(args.font, name, tones)), t.KINDS[name])
    return found


def _with(made: Made) -> Render:
    rng = np.random.default_rng(1)
    return lambda tones: t.take(tones, made, rng=rng)


def line_in(rng: random.Random, where: t.Kind | list[int], repeats: float) -> list[t.Planted]:
    """A line with faults, on pitches that the source has."""
    if isinstance(where, t.Kind):
        return t.plant(rng, t.melody(rng, where, COUNT, repeats), TEMPO, 0.05)
    wide = t.Kind((), 0, 0, (0, 0), where[0], where[-1])

    def nearest(midi: int, but: int | None = None) -> int:
        return min((pitch for pitch in where if pitch != but), key=lambda pitch: abs(pitch - midi))

    line = [(start, length, nearest(midi)) for start, length, midi in t.melody(rng, wide, COUNT, repeats)]
    notes = t.plant(rng, line, TEMPO, 0.05)
    return [
        t.Planted(n.start, n.length, n.midi, n.done, nearest(n.sounds or n.midi, n.midi)) if n.done == "another" else n
        for n in notes
    ]


CONDITIONS = ("clean", "room 0.5 s", "25 % slurred", "band -20 dB", "band -12 dB", "band -9 dB")
AIMS = {"clean": "≤ 1", "room 0.5 s": "≤ 2", "25 % slurred": "≤ 3", "band -20 dB": "≤ 2 (judged although above -25)",
        "band -12 dB": "declines", "band -9 dB": "declines"}  # fmt: skip


def known_lines(sources: dict[str, tuple[Render, t.Kind | list[int]]], lines: int) -> None:
    print("Known line, planted wrong, missing and late notes; aims: precision and recall ≥ 0.95")
    print(f"{'':26}{'notes':>6} {'false':>9} {'precision':>8} {'recall':>8} {'same word':>9}")
    noise = np.random.default_rng(5)
    beside = band(60.0, noise)
    for condition in CONDITIONS:
        whole = Tally()
        print(f"{condition}   (aim for false alarms on right notes, %: {AIMS[condition]})")
        for name, (render, where) in sources.items():
            tally = Tally()
            for seed in range(lines):
                rng = random.Random(f"{name}:{seed}")
                slurred = condition == "25 % slurred"
                notes = line_in(rng, where, 0.25 if slurred else 0.03)
                sound = render(t.played(rng, notes, slur=slurred))
                leak, limit = None, -25.0
                if condition.startswith("room"):
                    sound = t.room(sound, 0.5, 0.35, noise)
                elif condition.startswith("band"):
                    sound, leak = t.beside(sound, beside, float(condition.split()[1]))
                    limit = 0.0 if "-20" in condition else -25.0
                advice = heard(sound, score_for(notes), leak, limit)
                tally.add(notes, advice)
                whole.add(notes, advice)
            print(f"  {name:24}{tally.row()}")
        print(f"  {'all':24}{whole.row()}")


def cents() -> None:
    print("\nPlanted +20 cents on one long note in five, read (aim 20 ± 3); the rest in tune")
    for name in ("clarinet", "saxophone", "trombone", "voice"):
        made, read, plain = by_arithmetic(name), [], []
        for seed in range(4):
            rng = random.Random(f"cents:{name}:{seed}")
            line = [(start * 2, length * 2, midi) for start, length, midi in t.melody(rng, t.KINDS[name], 40)]
            notes = t.plant(rng, line, TEMPO, 0.0)
            off = [i for i in range(len(notes)) if i % 5 == 3]
            tones = [
                t.Tone(one.start, one.length, one.midi + (0.2 if i in off else 0), one.level)
                for i, one in enumerate(t.played(rng, notes))
            ]
            advice = heard(t.take(tones, made, rng=np.random.default_rng(seed)), score_for(notes))
            for i, said in enumerate(advice.notes):
                if said.cents is not None:
                    (read if i in off else plain).append(said.cents)
        error = [abs(value - 20) for value in read]
        print(
            f"  {name:12} median {statistics.median(read):5.1f}, within ±3: {sum(e <= 3 for e in error)} of {len(error)}, "
            f"worst {max(error):.0f} off; notes in tune: median {statistics.median(plain):.1f}, "
            f"flagged (20 or more) {sum(abs(v) >= 20 for v in plain)} of {len(plain)}"
        )


def without_line(args: argparse.Namespace) -> None:
    print(
        "\nWithout a known line: note F1 (mir_eval, 50 ms, 50 cents, onsets only), quavers at 140 (aim: median ≥ 0.9)"
    )
    names = ("clarinet", "saxophone", "trombone", "voice", "flute")
    for source in ("arithmetic", *(("sound font",) if args.font else ())):
        for repeats in (0.0, 0.25):
            scores = {}
            for name in names:
                found = []
                for seed in range(3):
                    rng = random.Random(f"solo:{name}:{seed}")
                    line = [
                        (0.5 * i, 0.5, midi) for i, (_, _, midi) in enumerate(t.melody(rng, t.KINDS[name], 64, repeats))
                    ]
                    tones = t.played(rng, t.plant(rng, line, 140.0, 0.0), legato=0.95)
                    sound = (
                        _with(by_arithmetic(name))(tones) if source == "arithmetic" else by_font(args.font, name, tones)
                    )
                    found.append(note_f1(sound, tones))
                scores[name] = statistics.median(found)
            words = ", ".join(f"{name} {value:.2f}" for name, value in scores.items())
            print(
                f"  {source:12} {int(100 * repeats):3d} % repeated: median {statistics.median(scores.values()):.2f} ({words})"
            )


def note_f1(sound: t.Samples, tones: list[t.Tone]) -> float:
    notes = notes_of(listen([sound.astype(np.float32)]).events)
    hz = mir_eval.util.midi_to_hz
    truth = np.array([(one.start, one.start + one.length) for one in tones])
    found = np.array([(one.start, max(one.end, one.start + 0.01)) for one in notes])
    shift = float(np.median([found[np.argmin(np.abs(found[:, 0] - start)), 0] - start for start in truth[:, 0]]))
    score = mir_eval.transcription.precision_recall_f1_overlap(
        truth, hz(np.array([one.midi for one in tones])), found - shift, hz(np.array([one.midi for one in notes])),
        onset_tolerance=0.05, pitch_tolerance=50.0, offset_ratio=None,
    )  # fmt: skip
    return float(score[2])


def cost() -> None:
    """Alone in its process: a take of a minute."""
    rng = random.Random(1)
    notes = t.plant(rng, t.melody(rng, t.KINDS["saxophone"], 170), TEMPO, 0.05)
    sound = _with(by_arithmetic("saxophone"))(t.played(rng, notes))[: 60 * t.RATE].astype(np.float32)
    score = score_for([note for note in notes if note.start + note.length < 58])
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    listen([sound[: t.RATE]])
    start, cpu = time.perf_counter(), time.process_time()
    heard_sound = listen([sound])
    middle = time.process_time()
    judge(heard_sound, score, lambda _i, midi: str(midi), begins=2.0)
    wall, used = time.perf_counter() - start, time.process_time() - cpu
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"\nA take of {len(sound) / t.RATE:.0f} s: {used:.2f} s of processor ({middle - cpu:.2f} tracking), {wall:.2f} s by the clock "
        f"(aim < 3); peak {peak:.0f} MB, of it {before:.0f} MB before the tracker was loaded (aim < 300)"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tones", help="folder of single tones with tones.json")
    parser.add_argument("--font", help="a sound font in SF2, for the program fluidsynth")
    parser.add_argument(
        "--lines", type=int, default=LINES, help=f"lines of {COUNT} notes for each source and condition"
    )
    parser.add_argument("--only", choices=("known", "cents", "solo", "cost"))
    args = parser.parse_args()
    if args.only in (None, "cost"):
        cost()
    if args.only in (None, "known"):
        known_lines(renderers(args), args.lines)
    if args.only in (None, "cents"):
        cents()
    if args.only in (None, "solo"):
        without_line(args)


if __name__ == "__main__":
    main()
