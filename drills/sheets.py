"""A drill as it is shown: the line in its keys, the engraving, a text that says the same, and what a player hears.

Finished sheets are kept in files named by a digest of everything they were made from, so a sheet is engraved once.
"""

from __future__ import annotations

import gzip
import json
import os
import tempfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field, replace
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any

from django.conf import settings

from drills.chord_scales import scales_of
from drills.lines.build import build_line
from drills.lines.carried import CarriedNotes, Heard
from drills.lines.compass import compass_of
from drills.lines.keys import key_order
from drills.lines.line import Line
from drills.midi import shell
from drills.wishes import Wish
from tunes.engine import version
from tunes.harmony.pitch.spelling import Key
from tunes.interchange.melody import Melody
from tunes.models import ChartRevision, SoloTaken
from tunes.respelling import readable_study
from tunes.solos.taken import by_event
from tunes.study import StudyChart, study_chart

NOTHING: CarriedNotes = MappingProxyType({})
FORMAT = 11
"""Raised whenever a finished sheet would come out differently; older files are then never read again."""


@dataclass(frozen=True)
class Sheet:
    """One engraved drill. `bars` is the text equivalent, `sound` what the page plays; both plain data."""

    title: str
    key: str
    svg: str
    movement: int | None
    remarks: list[dict[str, Any]]
    bars: list[dict[str, Any]]
    sound: dict[str, Any]
    keys: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Material:
    """What drills of one chart revision are made from; `taken`: what the person who asks took from solos on the tune; `key`: another concert key than the chart's. `mark` names its content: a digest changes when it does."""

    revision: ChartRevision
    melody: Melody | None = None
    taken: tuple[SoloTaken, ...] = ()
    key: str = ""

    @property
    def mark(self) -> str:
        revision = self.revision
        overrules = [f"L{row.pk}" for row in revision.label_overrides.all()]
        overrules += [f"A{row.pk}" for row in revision.area_overrides.all()]
        tune = self.melody.to_json() if self.melody else None
        taken = "/".join(f"S{row.pk}" for row in self.taken)
        return f"{revision.pk}/{version()}/{','.join(overrules)}/{tune}/{taken}{f'/{self.key}' if self.key else ''}"

    @cached_property
    def study(self) -> StudyChart:
        """Raises `ChartUnreadable`."""
        study = study_chart(self.revision)
        return study.transposed(Key.parse(self.key)) if self.key else study

    @property
    def carried(self) -> CarriedNotes:
        """What somebody took from solos on this tune, by event."""
        told = by_event(self.taken, self.study) if self.taken else {}
        return {event: [Heard(one.degree, one.words) for one in rows] for event, rows in told.items()}


def printed_study(study: StudyChart, wish: Wish) -> StudyChart:
    """The study in the pitch that the page prints."""
    return study.for_instrument(wish.player) if wish.written else study


def keys_of(study: StudyChart, wish: Wish) -> tuple[Key, ...]:
    """The printed keys of the drill, in order."""
    return key_order(study.key, wish.order, wish.seed)


def line_in(
    study: StudyChart,
    wish: Wish,
    key: Key,
    *,
    open_analysis: bool = True,
    melody: Melody | None = None,
    carried: CarriedNotes = NOTHING,
) -> Line:
    """The line of a wish over a printed study, in one key. Without `open_analysis` no key area or function is told.

    `melody` is that of the chart in concert pitch: a note of it that is not in a scale overrules that scale.
    """
    moved = readable_study(study if key == study.key else study.transposed(key))
    line = build_line(
        moved,
        wish.recipe,
        compass_of(wish.player, written=wish.written),
        scale_of=lambda study: scales_of(study, melody, carried),  # type: ignore[arg-type]
        written_for=wish.player.key if wish.written else "",
        carried=carried,
    )
    return line if open_analysis else _without_analysis(line)


def _without_analysis(line: Line) -> Line:
    bars = tuple(replace(bar, area=None) for bar in line.bars)
    chords = tuple(replace(chord, numeral="", spoken="") for chord in line.chords)
    return replace(line, bars=bars, chords=chords)


def lines(
    study: StudyChart,
    wish: Wish,
    *,
    open_analysis: bool = True,
    melody: Melody | None = None,
    carried: CarriedNotes = NOTHING,
) -> Iterator[Line]:
    """The line in every key of the wish."""
    printed = printed_study(study, wish)
    for key in keys_of(printed, wish):
        yield line_in(printed, wish, key, open_analysis=open_analysis, melody=melody, carried=carried)


def line_shown(
    study: StudyChart,
    wish: Wish,
    *,
    open_analysis: bool = True,
    melody: Melody | None = None,
    carried: CarriedNotes = NOTHING,
) -> tuple[Line, tuple[Key, ...]]:
    """The line in the key that the page shows, and all keys of the wish."""
    printed = printed_study(study, wish)
    keys = keys_of(printed, wish)
    return line_in(
        printed, wish, keys[min(wish.at, len(keys) - 1)], open_analysis=open_analysis, melody=melody, carried=carried
    ), keys


def make_sheet(
    study: StudyChart,
    wish: Wish,
    *,
    open_analysis: bool = True,
    melody: Melody | None = None,
    carried: CarriedNotes = NOTHING,
    style: str = "",
) -> Sheet:
    """Engraved now; the band plays in `style`. Raises `EmptyPassage` when the chosen bars hold no chord."""
    from drills.engraving import engrave
    from drills.line_sound import over_band

    line, keys = line_shown(study, wish, open_analysis=open_analysis, melody=melody, carried=carried)
    functions = wish.functions and open_analysis
    return Sheet(
        title=line.title,
        key=line.key.display,
        svg=engrave(line, per_system=wish.per_system, functions=functions).svg,
        movement=line.movement,
        remarks=[{"text": remark.text, "at": remark.at(line)} for remark in line.remarks],
        bars=in_words(line),
        sound=over_band(line, wish.recipe.tempo, style),
        keys=[key.display for key in keys],
    )


def sheet(material: Material, wish: Wish, *, open_analysis: bool = True) -> Sheet:
    """The kept sheet, or a new one; the study is made only when it is needed."""
    from drills.bands import styles_of, usual_style

    tune = material.revision.version.tune
    path = _folder() / f"{wish.mark(f'{material.mark}/{tune.feel}', open_analysis, FORMAT)}.gz"
    try:
        return Sheet(**json.loads(gzip.decompress(path.read_bytes())))
    except (FileNotFoundError, OSError, EOFError, ValueError, TypeError):
        made = make_sheet(
            material.study, wish, open_analysis=open_analysis, melody=material.melody, carried=material.carried,
            style=usual_style(tune, styles_of(material.study)),
        )  # fmt: skip
        _keep(path, made)
        return made


def _folder() -> Path:
    return Path(settings.MEDIA_ROOT) / "engraved"


def _keep(path: Path, made: Sheet) -> None:
    """Written aside and renamed, so that nobody reads half a file; a full disk costs only the keeping."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(gzip.compress(json.dumps(asdict(made)).encode(), 5))
        os.replace(name, path)
    except OSError:
        return


def in_words(line: Line) -> list[dict[str, Any]]:
    """Bar by bar: number, section, key, and each chord with its notes, as a screen reader says them."""
    rows = []
    spoken: dict[int, list[str]] = {}
    for note in line.notes:
        if note.pitch:
            heads = [pitch.name.spoken for pitch in (note.pitch, *note.stack)]
            spoken.setdefault(note.event, []).append(" with ".join(heads))
    for bar, here in zip(line.bars, line.chords_by_bar(), strict=True):
        chords = [
            {
                "name": chord.symbol.display if chord.symbol else chord.text,
                "spoken": chord.symbol.spoken if chord.symbol else "no chord",
                "function": chord.spoken,
                "notes": ", ".join(spoken.get(chord.event, ())),
            }
            for _, chord in here
        ]
        rows.append(
            {
                "number": bar.number,
                "written": bar.written,
                "label": bar.label,
                "area": bar.area.display if bar.area else "",
                "chords": chords,
            }
        )
    return rows


def in_sound(line: Line, tempo: int) -> dict[str, Any]:
    """What the page's synthesiser needs: bars, notes and chords in crotchets and sounding MIDI numbers."""
    down = line.shift.semitones
    return {
        "tempo": tempo,
        "bars": [
            [bar.number, float(bar.start), float(bar.length), bar.metre.beats, bar.metre.unit] for bar in line.bars
        ],
        "notes": [
            [float(note.start), float(note.duration), pitch.midi - down]
            for note in line.notes
            if note.pitch
            for pitch in (note.pitch, *note.stack)
        ],
        # At the piano the line holds the chords already; a bass and shells under it would be a second player.
        "voice": "shells" if line.kind == "piano" else "line",
        "chords": []
        if line.kind == "piano"
        else [
            [float(chord.start), float(chord.duration), *shell(chord.symbol, -down)]
            for chord in line.chords
            if chord.symbol
        ],
    }
