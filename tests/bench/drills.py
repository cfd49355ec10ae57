"""What drills cost and how smooth their lines are. Prints ratios measured in one run; asserts nothing about time.

    python -m tests.bench.drills                      # cost, packs, exchange
    python -m tests.bench.drills --charts FILE.json   # also guide tones over a file of charts

A file of charts is a list of {"chords": ["Dm7", "G7", …]}; "%7" in it stands for a half-diminished seventh.
"""

from __future__ import annotations

import argparse
import gc
import json
import os
import resource
import statistics
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import django

django.setup()

# ruff: noqa: E402
from drills import sheets
from drills.engraving import engrave, render
from drills.lines import guide_tones
from drills.lines.build import Recipe
from drills.lines.line import Line, LineNote
from drills.mei import to_mei
from drills.musicxml import to_musicxml
from drills.wishes import Wish
from studio.instruments import INSTRUMENTS
from tests.drills.studies import FORM
from tunes.harmony.chords import ChordSymbol, parse_symbol
from tunes.study import StudyChart, study_of_text

ROUNDS = 15
SEVENTH = 10  # semitones of a minor seventh
DRILLS = (Recipe("arpeggios", "nearest"), Recipe("guide-tones", "3"), Recipe("scales", "nearest"),
          Recipe("arpeggios", "third", ninth=True, direction="alternating"), Recipe("guide-tones", "7", ornament="enclosure"))  # fmt: skip


def median_ms(work: Callable[[], Any], rounds: int = ROUNDS) -> float:
    """Median of several runs in milliseconds of processor time (a busy machine changes it little), after one uncounted."""
    work()
    times = []
    for _ in range(rounds):
        start = time.process_time()
        work()
        times.append((time.process_time() - start) * 1000)
    return statistics.median(times)


class FakeMaterial:
    """A chart that is in no database: only what `sheets.sheet` reads."""

    def __init__(self, study: StudyChart) -> None:
        self.study, self.mark, self.melody, self.carried = study, "bench", None, {}


def cost(study: StudyChart) -> None:
    """A 32-bar drill of quavers, chart to SVG, beside the engraver alone on the same music; and from the kept file."""
    wish = Wish(recipe=DRILLS[0], instrument="alto-sax")
    line, _ = sheets.line_shown(study, wish)
    score = to_musicxml(line)
    ours = median_ms(lambda: sheets.make_sheet(study, wish))
    alone = median_ms(lambda: render(score))
    drawn = median_ms(lambda: engrave(line))
    from django.test.utils import override_settings

    with tempfile.TemporaryDirectory() as folder, override_settings(MEDIA_ROOT=Path(folder)):
        material = FakeMaterial(study)
        kept = median_ms(lambda: sheets.sheet(material, wish))  # type: ignore[arg-type]
    svg = median_ms(lambda: engrave(sheets.line_shown(study, wish)[0]))
    four_systems(study)
    print(f"32-bar drill, chart to SVG     {svg:7.1f} ms   ratio to verovio alone {svg / alone:.2f} (aim 1.3)")
    print(f"  with words and sound         {ours:7.1f} ms   ratio {ours / alone:.2f}")
    print(f"  of that, line to SVG         {drawn:7.1f} ms   ratio {drawn / alone:.2f}")
    print(f"verovio alone on our MusicXML  {alone:7.1f} ms")
    print(f"the same sheet, kept           {kept:7.2f} ms   ratio to making it {kept / ours:.3f} (aim 0.05)")


def four_systems(study: StudyChart) -> None:
    """Sixteen bars, line to SVG, beside the engraver alone: on our MusicXML, and on the MEI that it is given here."""
    line, _ = sheets.line_shown(study, Wish(recipe=replace(DRILLS[0], last_bar=16), instrument="alto-sax"))
    score, source = to_musicxml(line), to_mei(line, filled=True)
    drawn = median_ms(lambda: engrave(line))
    alone, given = median_ms(lambda: render(score)), median_ms(lambda: render(source))
    print(
        f"four systems, line to SVG      {drawn:7.1f} ms   ratio to verovio alone {drawn / alone:.2f}, on MEI {drawn / given:.2f} (aim 1.3)"
    )


def pack(study: StudyChart) -> None:
    """20 chairs of 6 pages: the chart and five drills. Made twice: what is kept for each of the twelve transpositions fills
    up in the first round, and memory must not grow in the second."""
    from drills.printing import Booklet, PrintedSheet, sheet_of_line, to_pdf

    def part(instrument: str) -> int:
        player = INSTRUMENTS[instrument]
        pages = [PrintedSheet("Bench", player.pitch_label, chart=study.for_instrument(player).chart)]
        for recipe in DRILLS:
            for line in sheets.lines(study, Wish(recipe=recipe, instrument=instrument)):
                pages.append(sheet_of_line(line, tune="Bench", credit="", pitch=player.pitch_label))
        return len(to_pdf(Booklet("Bench", tuple(pages))))

    chairs = [key for key in INSTRUMENTS if key != "drums"]
    chairs += chairs[: 20 - len(chairs)]
    start, busy = time.perf_counter(), time.process_time()
    peaks = []
    for chair in chairs * 2:
        part(chair)
        gc.collect()
        peaks.append(_memory())
    seconds, busy = (time.perf_counter() - start) / 2, (time.process_time() - busy) / 2
    pages = 6 * len(chairs)
    print(f"pack of {len(chairs)} chairs x 6 pages    {seconds:.1f} s, {pages / seconds:.1f} pages a second "
          f"({pages / busy:.1f} a second of processor time)")  # fmt: skip
    print(f"  memory after 1, 10, 20, 40 chairs: {', '.join(f'{peaks[n - 1]:.0f} MB' for n in (1, 10, 20, 40))}; "
          f"peak {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")  # fmt: skip


def _memory() -> float:
    """Resident megabytes now (Linux)."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1024 / 1024


def _hundred(study: StudyChart) -> Iterator[tuple[str, Line]]:
    players = [key for key in INSTRUMENTS if key != "drums"]
    for number in range(100):
        instrument = players[number % len(players)]
        wish = Wish(recipe=DRILLS[number % len(DRILLS)], instrument=instrument, order="fourths", at=number % 12)
        yield instrument, sheets.line_shown(study, wish)[0]


def exchange(study: StudyChart) -> None:
    """100 drills in many keys: valid, the same through music21, read by the engraver without a word."""
    import music21
    from lxml import etree

    from tests.tunes.musicxml_schema import schema

    invalid = different = 0
    quiet = _Stderr()
    for _, line in _hundred(study):
        score = to_musicxml(line)
        invalid += not schema().validate(etree.fromstring(score.encode()))
        part = music21.converter.parseData(score, format="musicxml").parts[0].stripTies()
        theirs = sorted(
            (float(n.getOffsetInHierarchy(part)), float(n.quarterLength), n.pitch.nameWithOctave.replace("-", "b"))
            for n in part.recurse().getElementsByClass(music21.note.Note)
        )
        ours = sorted((float(n.start), float(n.duration), n.pitch.text) for n in line.notes if n.pitch)
        symbols = [
            (h.root().name.replace("-", "b"), h.bass().name.replace("-", "b"))
            for h in part.recurse().getElementsByClass(music21.harmony.ChordSymbol) if h.chordKind != "none"
        ]  # fmt: skip
        named = [(c.symbol.root.text, (c.symbol.bass or c.symbol.root).text) for c in line.chords if c.symbol]
        different += theirs != ours or symbols != named
        with quiet:
            render(score)
    print(f"100 drills as MusicXML: {invalid} invalid, {different} different through music21, "
          f"{len(quiet.text)} characters of warnings from the engraver")  # fmt: skip


class _Stderr:
    """Catches what C++ writes to standard error."""

    text = ""

    def __enter__(self) -> None:
        self.file = tempfile.TemporaryFile()
        self.kept = os.dup(2)
        os.dup2(self.file.fileno(), 2)

    def __exit__(self, *_: object) -> None:
        os.dup2(self.kept, 2)
        os.close(self.kept)
        self.file.seek(0)
        self.text += self.file.read().decode()
        self.file.close()


def smoothness(path: Path) -> None:
    """Guide tones over a file of charts: total movement beside a greedy line's, and the bounds of falling fifths."""
    totals, unread = Counter[str](), 0
    outside = Counter[tuple[str, str, str, int]]()
    for chart in json.loads(path.read_text()):
        symbols: list[ChordSymbol | None] = []
        for text in chart["chords"]:
            read = parse_symbol(text.replace("%7", "m7b5"))
            unread += not read.ok
            if not symbols or read.symbol != symbols[-1]:
                symbols.append(read.symbol)
        for start in ("3", "7"):
            line = guide_tones.smoothest(symbols, start)
            totals["ours"] += line.movement
            totals["greedy"] += guide_tones.greedy_movement(symbols, start)
            totals["lines"] += 1
            totals["worse"] += line.movement > guide_tones.greedy_movement(symbols, start)
            for step in _falling(symbols, line):
                totals["falling"] += 1
                if step is not None:
                    outside[step] += 1
    print(f"guide tones, {totals['lines']} lines ({unread} chords unread): {totals['ours']} semitones in all, "
          f"greedy {totals['greedy']} ({totals['ours'] / totals['greedy']:.3f}); worse than greedy: {totals['worse']}")  # fmt: skip
    print(
        f"  falling fifths between seventh chords: {totals['falling']}, outside the exact bounds: {sum(outside.values())} {dict(outside)}"
    )


def leaps() -> None:
    """Guide tones over every chart of the demo for every instrument, both starts, one and two voices: leaps of a seventh
    or more on the way into a chord, and changes of octave while one is held."""
    from tunes.demo.repertoire_more import TUNES

    studies = [study_of_text(text) for tune in TUNES for version in tune.versions for text in version.texts]
    counts = Counter[str]()
    for study, player in (
        (study, player) for study in studies for player in INSTRUMENTS.values() if player.key != "drums"
    ):
        for recipe in (Recipe("guide-tones", "3"), Recipe("guide-tones", "7"), Recipe("guide-tones", voices=2)):
            line, _ = sheets.line_shown(study, Wish(recipe=recipe, instrument=player.key))
            for voice in (1, 2):
                counts.update(_octaves_of(line, voice))
            counts["lines"] += 1
    print(f"guide tones of {len(studies)} demo charts, {counts['lines']} lines: {counts['leap']} leaps of a seventh or more into a "
          f"chord, {counts['held']} changes of octave while a chord is held, {counts['rest']} after a rest")  # fmt: skip


def diminished_steps() -> None:
    """Scale drills over the demo's charts for every instrument: steps over a tone inside a scale of eight notes."""
    from drills.chord_scales import scales_of
    from tunes.demo.repertoire_more import TUNES

    counts = Counter[str]()
    texts = [text for tune in TUNES for version in tune.versions for text in version.texts]
    for study, player in (
        (study_of_text(text), player) for text in texts for player in INSTRUMENTS.values() if player.key != "drums"
    ):
        for direction in ("up", "down", "alternating"):
            wish = Wish(recipe=Recipe("scales", "root", direction=direction), instrument=player.key)
            line, _ = sheets.line_shown(study, wish)
            scale_of = scales_of(sheets.printed_study(study, wish))
            for chord in line.chords:
                if chord.symbol is None or len(scale_of(chord).notes) <= 7:
                    continue
                played = [note.pitch.midi for note in line.notes if note.event == chord.event and note.pitch]
                counts["scales"] += 1
                counts["wide"] += any(abs(a - b) > 2 for a, b in pairwise(played))
    print(f"diminished scales played: {counts['scales']}, with a step over a tone: {counts['wide']}")


def _octaves_of(line: Line, voice: int) -> Iterator[str]:
    """ "leap" into a chord, "held" within one, or "rest" for every move of a seventh or more in one voice."""
    symbols = {chord.event: chord.symbol for chord in line.chords}
    last: LineNote | None = None
    for note in (note for note in line.notes if note.voice == voice and note.pitch):
        assert note.pitch
        if last and last.pitch and abs(note.pitch.midi - last.pitch.midi) >= SEVENTH:
            same = symbols[last.event] == symbols[note.event]
            yield "rest" if last.end != note.start else "held" if same else "leap"
        last = note


def _falling(
    symbols: list[ChordSymbol | None], line: guide_tones.GuideLine
) -> Iterator[tuple[str, str, str, int] | None]:
    """Each move from a 3rd or a 7th over a falling fifth: None when it is in bounds, else what it is."""
    heard = [(symbol, tones[0]) for symbol, tones in zip(symbols, line.tones, strict=True) if symbol and tones]
    for (one, tone), (other, to) in pairwise(heard):
        if not guide_tones.falls_a_fifth(one, other) or not (_plain(one) and _plain(other)) or tone.degree == "5":
            continue
        step = guide_tones.move(tone.name, to.name)
        allowed = (-1, 0, 1) if tone == guide_tones.third_of(one) else (-1, -2, -3)
        yield None if step in allowed else (one.text, other.text, tone.degree, step)


def _plain(symbol: ChordSymbol) -> bool:
    """A 3rd and a minor or major 7th: the chords that the bounds speak of."""
    return bool({"3", "b3"} & set(symbol.degrees)) and bool({"7", "b7"} & set(symbol.degrees))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--charts", type=Path, help="a file of charts for the guide tones")
    options = parser.parse_args()
    study = study_of_text(FORM)
    leaps()
    diminished_steps()
    cost(study)
    exchange(study)
    pack(study)
    if options.charts:
        smoothness(options.charts)


if __name__ == "__main__":
    main()
