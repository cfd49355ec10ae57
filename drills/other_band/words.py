"""What the page says of a round when the answers are out: each bar with its reason and what the melody makes of it."""

from __future__ import annotations

from dataclasses import dataclass

from tunes.harmony.charts.bar_count import bar_name
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.scales.scales import scale_for
from tunes.study import StudyChart

from .judge import BarJudged, Judged
from .offers import Offer, reason_of, source_of
from .sheet import Round

HEARD = {
    "bar": "You heard the bar.",
    "beside": "You were one bar off.",
    "missed": "You did not name this bar.",
    "as-written": "The band played this bar as the chart has it.",
}


@dataclass(frozen=True)
class BarShown:
    """One bar of the answer: its name, what was said of it, why it was played so."""

    bar: BarJudged
    name: str
    heard: str
    reason: str = ""
    source: str = ""
    melody: str = ""


def shown_bars(round_: Round, judged: Judged, played: StudyChart) -> list[BarShown]:
    """Every bar of the answer in the pitch of `played`, which is the round's own chorus as the player reads it."""
    drawn = round_.drawn
    assert drawn is not None
    rows = []
    for bar in judged.bars:
        offer = drawn.offer_at(bar.place) if bar.changed else None
        if offer is None:
            rows.append(BarShown(bar, bar_name(bar.number), HEARD[bar.heard]))
            continue
        reason = _reason(offer, bar, round_, judged, played)
        rows.append(
            BarShown(bar, bar_name(bar.number), HEARD[bar.heard], reason, source_of(offer), melody_words(round_, bar, played))
        )  # fmt: skip
    return rows


def _reason(offer: Offer, bar: BarJudged, round_: Round, judged: Judged, played: StudyChart) -> str:
    if not offer.rule:
        said = reason_of(offer, bar.place, bar.old, bar.new, None)
        text = " ".join(symbol.display for symbol in bar.new)
        guides = " and ".join(tone.name.display for tone in bar.guides[:2])
        tones = f" Guide tones of {bar.new[0].display}: {guides}." if "Other harmony" in said else ""
        return f"“{offer.version}” plays {text} here. {said}{tones}"
    whole = [one for one in judged.bars if one.place in offer.places]
    old = [symbol for one in whole for symbol in _changed(one.old, one.new)]
    new = [symbol for one in whole for symbol in _changed(one.new, one.old)]
    return reason_of(offer, bar.place, old, new, _goal(round_, offer, played))


def _changed(symbols: tuple[ChordSymbol, ...], other: tuple[ChordSymbol, ...]) -> list[ChordSymbol]:
    """The chords of a bar without those that stand at both ends of the change; all of them where one grew into several."""
    if len(symbols) != len(other):
        return list(symbols)
    return [one for one, there in zip(symbols, other, strict=True) if one != there]


def _goal(round_: Round, offer: Offer, played: StudyChart) -> ChordSymbol | None:
    """The chord that a substitution leads to, as the player reads it: the same beat of the chorus in both."""
    event = round_.agreed.events[offer.goal]
    found = [e for e in played.events if e.chorus_bar == event.chorus_bar and e.onset == event.onset]
    return found[0].symbol if found else None


def melody_words(round_: Round, bar: BarJudged, played: StudyChart) -> str:
    """Whether the melody of the chart goes with what was played; "" where no melody is known there."""
    study, melody = round_.material.study, round_.material.melody
    if melody is None:
        return ""
    found, outside = False, []
    for event in played.events:
        if event.chorus_bar != bar.place or event.symbol is None:
            continue
        place = study.chart.unfold()[bar.place].bar
        notes = melody.during(place, event.onset, event.duration)
        scale = {note.pc for note in scale_for(event.symbol, played.reading(event.index)).notes} | event.symbol.pcs
        for note in notes:
            if note.start.denominator == 1 or note.duration >= 1:
                found = True
                name = note.pitch.name + (played.interval)
                if name.pc not in scale and name not in outside:
                    outside.append(name)
    if not found:
        return ""
    if not outside:
        return "The melody goes with it."
    names = " and ".join(name.display for name in outside)
    return f"The melody has {names}, outside this harmony: something to play behind a solo, not behind the tune."
