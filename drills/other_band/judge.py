"""What a player says of a chorus that went another way, bar by bar: the bar, what was played in it, the note into it. Pure.

Chords are compared as changes by ear are (`tunes.harmony.comparison.substitutions`), each with its named share. Only what was
changed is asked: a chord of the bar that stayed as it was counts neither way. All in the pitch of the player.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from drills.lines.guide_tones import Tone, options, smoothest
from drills.marking_rules import points_for
from tunes.by_ear.reading import BarReading, Sounding
from tunes.harmony.charts import Event
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.comparison.substitutions import compare_chords
from tunes.harmony.pitch.spelling import NoteName
from tunes.study import StudyChart

# Shares of one bar: common practice, no source. Hearing the place is worth as much as naming what was played there.
BAR, CHORDS, GUIDE = 0.4, 0.4, 0.2
NEXT_TO_IT = 0.5  # of the share of the bar, for the bar beside it
LEAD_IN = 4  # chords before a bar over which the guide-tone line is led into it


@dataclass(frozen=True, slots=True)
class Said:
    """What somebody says of one bar: its chords (None: only the bar), and the first guide tone."""

    chords: BarReading | None = None
    guide: NoteName | None = None


@dataclass(frozen=True, slots=True)
class ChordSaid:
    """One changed chord and what was said in its place. `name` and `sentence` say how they stand, `credit` from 0 to 1."""

    played: ChordSymbol
    said: str
    name: str
    sentence: str
    credit: float


@dataclass(frozen=True, slots=True)
class BarJudged:
    """One bar. `place` indexes the chorus, `number` is the bar as played.

    heard    "bar", "beside" (the bar next to it was named), "missed", or "as-written" for a bar that was named and had not
             changed.
    guides   the notes that a guide-tone line may begin with here; `best` is the one that moves least.
    """

    place: int
    number: int
    heard: str
    points: float
    old: tuple[ChordSymbol, ...]
    new: tuple[ChordSymbol, ...]
    chords: tuple[ChordSaid, ...] = ()
    guides: tuple[Tone, ...] = ()
    best: Tone | None = None
    guide: NoteName | None = None
    guide_words: str = ""

    @property
    def changed(self) -> bool:
        return self.heard != "as-written"


@dataclass(frozen=True, slots=True)
class Judged:
    """The whole answer: `score` from 0 to 1 is the mean over the bars that changed and those wrongly named."""

    bars: tuple[BarJudged, ...] = field(default=())

    @property
    def asked(self) -> int:
        return sum(bar.changed for bar in self.bars)

    @property
    def heard(self) -> int:
        return sum(bar.heard == "bar" for bar in self.bars)

    @property
    def stray(self) -> int:
        return sum(not bar.changed for bar in self.bars)

    @property
    def score(self) -> float:
        return sum(bar.points for bar in self.bars) / len(self.bars) if self.bars else 0.0

    @property
    def missed(self) -> tuple[BarJudged, ...]:
        """Changed bars that were not heard, or whose chords were not."""
        return tuple(bar for bar in self.bars if bar.changed and bar.points < BAR + CHORDS / 2)


def judge(
    agreed: StudyChart, played: StudyChart, changed: Sequence[int], said: Mapping[int, Said], shades: Sequence[int] = ()
) -> Judged:
    """The verdict on every changed bar and every bar that was named.

    agreed, played  the chorus as written and as it was played, both written out, in the player's pitch.
    changed         indices of the bars that went another way; shades: bars with other tensions only, asked of nobody.
    said            index of a bar → what was said of it.
    """
    wanted = set(changed)
    beside = {bar for bar in said if bar not in wanted and {bar - 1, bar + 1} & (wanted - set(said))}
    rows = []
    for place in sorted(wanted | (set(said) - set(shades))):
        if place in wanted:
            rows.append(_changed(agreed, played, place, said.get(place), bool({place - 1, place + 1} & beside)))
        elif place not in beside:
            rows.append(_as_written(agreed, place))
    return Judged(tuple(rows))


def _as_written(agreed: StudyChart, place: int) -> BarJudged:
    old = _symbols(agreed, place)
    return BarJudged(place, agreed.chart.bars[place].number, "as-written", 0.0, old, old)


def _changed(agreed: StudyChart, played: StudyChart, place: int, said: Said | None, beside: bool) -> BarJudged:
    old, new = _symbols(agreed, place), _symbols(played, place)
    guides, best = guides_into(played, place)
    heard = "bar" if said else "beside" if beside else "missed"
    points = {"bar": BAR, "beside": BAR * NEXT_TO_IT, "missed": 0.0}[heard]
    chords: tuple[ChordSaid, ...] = ()
    guide_words = ""
    if said:
        chords = tuple(_chords(agreed, played, place, said.chords or BarReading()))
        weights = [float(event.duration) for event in _asked(agreed, played, place)]
        points += CHORDS * sum(c.credit * w for c, w in zip(chords, weights, strict=True)) / sum(weights)
        share, guide_words = _guide(said.guide, guides, best, new[0])
        points += GUIDE * share
    return BarJudged(
        place, played.chart.bars[place].number, heard, points, old, new, chords, guides, best,
        said.guide if said else None, guide_words,
    )  # fmt: skip


def _symbols(study: StudyChart, place: int) -> tuple[ChordSymbol, ...]:
    return tuple(event.symbol for event in study.events if event.chorus_bar == place and event.symbol)


def _at(study: StudyChart, place: int, onset: Fraction) -> ChordSymbol | None:
    """What sounds in a bar at a beat."""
    return next(
        (e.symbol for e in study.events if e.chorus_bar == place and e.onset <= onset < e.onset + e.duration), None
    )


def _asked(agreed: StudyChart, played: StudyChart, place: int) -> list[Event]:
    """The chords of a bar that are not what is written there; all of them where only their time differs."""
    events = [event for event in played.events if event.chorus_bar == place and event.symbol]
    return [event for event in events if event.symbol != _at(agreed, place, event.onset)] or events


def _chords(agreed: StudyChart, played: StudyChart, place: int, reading: BarReading) -> list[ChordSaid]:
    found = []
    for event in _asked(agreed, played, place):
        assert event.symbol is not None
        written = _at(agreed, place, event.onset)
        found.append(_chord(event.symbol, written, reading.at(event.onset), played, event.index))
    return found


def _chord(
    new: ChordSymbol, written: ChordSymbol | None, said: Sounding | None, played: StudyChart, index: int
) -> ChordSaid:
    if said is None or (said.chord is None and said.bass is None):
        return ChordSaid(new, "", "Only the bar", "What was played there was left open.", 0.0)
    if said.chord is not None and written is not None and said.chord.pcs == written.pcs and new.pcs != written.pcs:
        return ChordSaid(new, said.chord.display, "As written", "That is what the chart has here.", 0.0)
    reading = played.reading(index)
    heard = said.chord or said.bass
    assert heard is not None
    found = compare_chords(new, heard, reading.key, reading.function)
    return ChordSaid(new, heard.display, found.relation.name, found.sentence, found.relation.credit)


# --- the note into the bar


def guides_into(played: StudyChart, place: int) -> tuple[tuple[Tone, ...], Tone | None]:
    """The guide tones of the first chord of a bar, and the one on which the line that moves least arrives."""
    events = [event for event in played.events if event.symbol]
    at = next((n for n, event in enumerate(events) if event.chorus_bar == place), None)
    if at is None:
        return (), None
    symbols = [event.symbol for event in events[max(0, at - LEAD_IN) : at + 1] if event.symbol]
    symbols = [one for n, one in enumerate(symbols) if n == 0 or one != symbols[n - 1]]
    last = symbols[-1]
    line = smoothest(symbols).tones[-1]
    allowed = options(last, symbols[-2] if len(symbols) > 1 else None)
    return allowed, line[0] if line else allowed[0]


def _guide(given: NoteName | None, guides: Sequence[Tone], best: Tone | None, chord: ChordSymbol) -> tuple[float, str]:
    """The share of the note into the bar, and what is said of it."""
    least = f"The line that moves least comes in on {best.name.display}, {degree_words(best, chord)}." if best else ""
    if given is None:
        return 0.0, least
    tone = next((tone for tone in guides if tone.name.pc == given.pc), None)
    if tone is not None and best is not None and tone.name.pc == best.name.pc:
        return 1.0, f"{given.display} is {degree_words(tone, chord)} of {chord.display}, and the line that moves least."
    if tone is not None:
        return 1.0, f"{given.display} is {degree_words(tone, chord)} of {chord.display}. {least}"
    if given.pc in chord.pcs:
        return points_for(
            "line-chord-tone", False
        ), f"{given.display} is a note of {chord.display}, not its 3rd or 7th. {least}"
    return 0.0, f"{given.display} is not in {chord.display}. {least}"


_NAMES = {"3": "the 3rd", "7": "the 7th", "4": "the 4th, held for the 3rd", "2": "the 2nd, held for the 3rd",
          "6": "the 6th, in place of the 7th", "5": "the 5th", "1": "the root"}  # fmt: skip


def degree_words(tone: Tone, chord: ChordSymbol) -> str:
    """A degree as it is said: "the 3rd".

    >>> from tunes.harmony.chords import parse_symbol
    >>> c = parse_symbol("Cm7").symbol
    >>> degree_words(guide_tones_of(c)[0], c)
    'the 3rd'
    """
    return _NAMES.get(tone.degree.lstrip("#b"), f"the {tone.degree}")
