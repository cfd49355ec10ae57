"""From labels to readings: where each chord goes and how, the reason, second readings, and what shows over several chords."""

from __future__ import annotations

from dataclasses import replace

from tunes.harmony.analysis.alternatives.others import OtherReadings
from tunes.harmony.analysis.key_areas.cadences import key_of
from tunes.harmony.analysis.naming.label import Label
from tunes.harmony.analysis.naming.teller import MOVES_ON, Teller
from tunes.harmony.analysis.passes.draft import Draft
from tunes.harmony.analysis.patterns.patterns import with_patterns
from tunes.harmony.analysis.preparation.skeleton import TOP
from tunes.harmony.analysis.relations import SUPERTONIC, TRITONE
from tunes.harmony.analysis.sounds import DOMINANTS, HALF, NONE, STABLE
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings import landing
from tunes.harmony.readings.function import Function
from tunes.harmony.readings.reading import Analysis, Reading
from tunes.harmony.readings.reason import Args, Reason
from tunes.harmony.readings.rule_ids import RuleId

_PASSING = (RuleId.INTERCHANGE, RuleId.CHROMATIC, RuleId.LEFT_TWO_OF_TWO, RuleId.TURNS, RuleId.TURNS_SEVENTH)
"""Rules of chords that are told by what they move to next, not by a goal further off."""
SILENCE = Function("1", "", "none", "no-chord")


def no_chord(event: int, key: Key) -> Reading:
    why = Reason(rule=RuleId.SILENCE, args=Args(key=key, chord=SILENCE))
    return Reading(
        event=event, key=key, function=SILENCE, resolves_to=None, resolution="none", reason=why, local_key=key
    )


def readings(draft: Draft) -> Draft:
    """Every event as it is told."""
    teller = Teller(draft.bones, draft.key_names, draft.keys, draft.names_of)
    return replace(draft, readings=tuple(
        no_chord(event, draft.key_names.key(draft.keys[draft.stretch_of.get(event, 0)])) if found is None else _reading(draft, teller, event, found)
        for event, found in enumerate(draft.labels)
    ))  # fmt: skip


def _reading(draft: Draft, teller: Teller, event: int, found: Label) -> Reading:
    index = draft.stretch_of[event]
    key = draft.key_names.key(draft.keys[index])
    goal = None if found.resolution == "none" else draft.goal_event(event)
    return Reading(
        event=event, key=key, function=found.function, resolves_to=goal, resolution=_way_on(found, goal),
        reason=teller.reason(index, found, draft.keys[index]), local_key=_local(draft, index, found, key),
        half_two=_half_two(draft, index),
    )  # fmt: skip


def _half_two(draft: Draft, index: int) -> bool:
    """Whether a dominant follows its own 2, half diminished, or that and the substitute of 5 of it."""
    bones = draft.bones
    if not index or bones.chords[index].cls not in DOMINANTS:
        return False
    slips = index > 1 and bones.goals[index - 1] == index and bones.moves[index - 1] == TRITONE
    two = index - 2 if slips else index - 1
    return bones.chords[two].cls == HALF and bones.goals[two] == index and bones.moves[two] == SUPERTONIC


def _way_on(found: Label, goal: int | None) -> str:
    """How a chord goes to its goal. A tonic, a colour and a chord that slides by do not resolve: the music goes on from them, and
    so it does from a borrowed or foreign chord that is told by what it moves to, not by a goal further off."""
    if goal is None:
        return "onward" if found.rule in MOVES_ON and found.function.role != "tonic" else "none"
    if found.rule in (RuleId.TAKEN_UP, RuleId.SUSPENDED, RuleId.PROLONGED):
        return "held"
    passing = found.rule in _PASSING and found.resolution == "delayed"
    still = found.function.role in ("tonic", "subdominant", "colour")
    onward = passing or still or found.rule in (*landing.SLIDES, RuleId.AUXILIARY, RuleId.SIDE_SLIP)
    return "onward" if onward else found.resolution


def _local(draft: Draft, index: int, found: Label, key: Key) -> Key:
    """The key the chord directly serves."""
    chord, at = draft.bones.goal_chord(index), index
    if found.function.of == "2":
        goal = draft.bones.goals[index]
        at = goal if goal is not None and goal != TOP else index
        chord = draft.bones.goal_chord(at)
    if found.function.of in ("5", "sub5", "2") and chord is not None and chord.cls in STABLE:
        return draft.key_names.key(key_of(chord))
    return key


def second_readings(draft: Draft) -> Draft:
    """Other ways to hear each chord: what somebody hears and what comes true."""
    others = OtherReadings(
        draft.bones, draft.key_names, draft.keys, draft.ranked, draft.spots, draft.names_of, draft.blues
    )

    def with_others(reading: Reading, label: Label | None) -> Reading:
        found = others.of(draft.stretch_of[reading.event], draft.chord(reading.event), label) if label else ()
        return replace(reading, alternatives=found) if found else reading

    return replace(draft, readings=tuple(with_others(*pair) for pair in zip(draft.readings, draft.labels, strict=True)))


def patterns(draft: Draft) -> Draft:
    """What shows only over several chords: progressions, clichés, cycles, pedals, modes."""
    home = draft.key_names.key(draft.bones.home)
    told = with_patterns(
        Analysis(home=home, areas=draft.areas, readings=draft.readings, landing=(), engine=""),
        [None if sound.cls == NONE else sound.bass for sound in draft.sounds],
    )
    return replace(draft, readings=told.readings, areas=told.areas)


def landing_profile(draft: Draft) -> Draft:
    """How many resolutions are still to come before each chord lands."""
    return replace(draft, landing=landing.landing(draft.readings))
