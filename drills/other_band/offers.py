"""What another band may play otherwise on a chart: where its other versions differ, and what the rules allow. Pure.

Everything is said of a chorus that is written out (`flat`); an offer changes chords, never the number or length of bars.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from tunes.harmony.analysis.pipeline import Reading
from tunes.harmony.charts import Chart, Event, Slot, transpose_chart
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.comparison.names import KINDS, same_chord
from tunes.harmony.comparison.reharmonise import RULES, Substitution, substitutions
from tunes.harmony.comparison.variants import Row, align
from tunes.harmony.pitch.spelling import UNISON
from tunes.versions.chorus import evenly, flat

SHADES = frozenset({"colour", "moved"})
"""Differences that nobody is asked about: other tensions, the same chords at another time."""
LONGEST = 2
"""Neighbouring bars of a version that are offered as one change; longer stretches are offered bar by bar."""
COMMON_VERSION = "another version of this tune"


@dataclass(frozen=True, slots=True)
class Offer:
    """One change.

    id       tells it apart: "v12:8", "r:backdoor:14".
    bars     index of a bar of the chorus → what is played in it.
    version  the name of the version it comes from, "" for a rule.
    rule     id of the rule (`RULES`), "" for a version.
    kinds    differences by bar, ids of `names.KINDS` (versions).
    goal     index of the event that a substitution leads to.
    """

    id: str
    bars: tuple[tuple[int, tuple[Slot, ...]], ...]
    version: str = ""
    rule: str = ""
    kinds: tuple[tuple[int, tuple[str, ...]], ...] = ()
    goal: int = -1

    @property
    def places(self) -> tuple[int, ...]:
        return tuple(bar for bar, _ in self.bars)


# --- other versions


def of_version(chorus: Chart, other: Chart, name: str, mark: str) -> tuple[Offer, ...]:
    """Where a version differs, bar by bar of `chorus` (written out): neighbours of one run of two together."""
    found: list[Offer] = []
    differing = tuple(_differing(chorus, other))
    for run in _runs(differing):
        parts = [run] if len(run) <= LONGEST else [[one] for one in run]
        for part in parts:
            first = chorus.bars[part[0][0]].number
            found.append(
                Offer(
                    f"v{mark}:{first}",
                    tuple((bar, slots) for bar, slots, _ in part),
                    version=name or COMMON_VERSION,
                    kinds=tuple((bar, kinds) for bar, _, kinds in part),
                )
            )
    return tuple(found)


_Differing = tuple[int, tuple[Slot, ...], tuple[str, ...]]


def _differing(chorus: Chart, other: Chart) -> Iterator[_Differing]:
    found = align(chorus, other)
    theirs = flat(transpose_chart(other, found.interval) if found.interval != UNISON else other)
    for row in found.rows:
        if row.a is None or row.b is None or not _told(row):
            continue
        ours, bar = chorus.bars[row.a], theirs.bars[row.b]
        whole = (bar.metre, bar.length) == (ours.metre, ours.length) and all(slot.symbol for slot in bar.slots)
        if whole and all(slot.symbol for slot in ours.slots):
            yield row.a, bar.slots, tuple(dict.fromkeys(one.kind for one in row.differences if one.kind not in SHADES))


def _told(row: Row) -> bool:
    return any(difference.kind not in SHADES for difference in row.differences)


def _runs(rows: Sequence[_Differing]) -> list[list[_Differing]]:
    runs: list[list[_Differing]] = []
    for row in rows:
        if runs and row[0] == runs[-1][-1][0] + 1:
            runs[-1].append(row)
        else:
            runs.append([row])
    return runs


# --- rules


def of_rules(chorus: Chart, readings: Sequence[Reading]) -> tuple[Offer, ...]:
    """What the rules of substitution allow in a chorus that is written out; `readings` are those of its events."""
    events = chorus.events()
    found = []
    for made in substitutions(events, readings):
        bars = _bars(chorus, events, made)
        if bars is not None:
            mark = events[made.replaced[-1][0]].index
            found.append(Offer(f"r:{made.rule}:{mark}", bars, rule=made.rule, goal=made.goal))
    return tuple(found)


def _bars(
    chorus: Chart, events: Sequence[Event], made: Substitution
) -> tuple[tuple[int, tuple[Slot, ...]], ...] | None:
    """The bars that a substitution changes; None where two chords running would be one."""
    new = dict(made.replaced)
    places = sorted({events[index].chorus_bar for index in new})
    bars = []
    for place in places:
        slots: list[Slot] = []
        for event in events:
            if event.chorus_bar == place and event.index in new:
                slots += evenly(new[event.index], event.onset, event.duration)
            elif event.chorus_bar == place:
                slots.append(chorus.bars[place].slots[event.slot])
        bars.append((place, tuple(slots)))
    sounding = [slot.symbol for _, slots in bars for slot in slots]
    sounding.append(events[made.goal].symbol)
    return None if any(same_chord(a, b) for a, b in pairwise(sounding)) else tuple(bars)


# --- in words


def reason_of(
    offer: Offer, bar: int, old: Sequence[ChordSymbol], new: Sequence[ChordSymbol], goal: ChordSymbol | None
) -> str:
    """Why a bar is played so: chords in the pitch of whoever reads it."""
    if not offer.rule:
        kinds = dict(offer.kinds).get(bar, ())
        return " ".join(KINDS[kind] for kind in kinds)
    rule = RULES[offer.rule]
    shared = _shared(old, new)
    where = goal.display if goal else "the next chord"
    return rule.sentence.format(old=_text(old), new=_text(new), goal=where, shared=shared)


def source_of(offer: Offer) -> str:
    """The source of a rule; "" for a version, which is its own."""
    return RULES[offer.rule].source if offer.rule else ""


def _text(symbols: Sequence[ChordSymbol]) -> str:
    return " ".join(symbol.display for symbol in symbols)


def _shared(old: Sequence[ChordSymbol], new: Sequence[ChordSymbol]) -> str:
    """Notes of the last old chord that the last new one holds, as the old one spells them."""
    if not old or not new:
        return "notes"
    tones = [tone.display for tone in old[-1].tones if tone.pc in new[-1].pcs]
    return " and ".join([", ".join(tones[:-1]), tones[-1]] if len(tones) > 1 else tones) or "no note"
