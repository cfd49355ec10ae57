"""The key areas of a draft in words: what speaks for a key, and which other is heard nearly as well."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from tunes.harmony.analysis.home_key.mode import ends_otherwise
from tunes.harmony.analysis.key_areas.cadences import KeyPc
from tunes.harmony.analysis.key_areas.tables import DIATONIC, MARGIN_OPEN
from tunes.harmony.analysis.passes.draft import Draft
from tunes.harmony.analysis.preparation.skeleton import TOP
from tunes.harmony.analysis.relations import DOMINANT_MOVES
from tunes.harmony.analysis.sounds import DOMINANTS
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.landing import LANDED
from tunes.harmony.readings.reading import KeyArea, Reading
from tunes.harmony.readings.reason import Args, Reason
from tunes.harmony.readings.rule_ids import RuleId

_TOUCHED = 2.0  # bars at rest; a key with less is only touched


def areas(draft: Draft) -> Draft:
    """The stretches of one key, each with what speaks for it and which other key is heard nearly as well."""
    found: list[KeyArea] = []
    keys = [_key_at(draft, event) for event in range(len(draft.sounds))]
    start = 0
    for event in range(1, len(keys) + 1):
        if event == len(keys) or keys[event] != keys[start]:
            found.append(_area(draft, keys[start], draft.readings[start:event]))
            start = event
    return replace(draft, areas=tuple(found))


def _key_at(draft: Draft, event: int) -> KeyPc:
    """The key of an event; silence takes the key before it."""
    while event >= 0:
        index = draft.stretch_of.get(event)
        if index is not None:
            return draft.keys[index]
        event -= 1
    return draft.keys[0]


def _area(draft: Draft, key: KeyPc, inside_it: Sequence[Reading]) -> KeyArea:
    first, last = inside_it[0].event, inside_it[-1].event
    inside = sorted({draft.stretch_of[event] for event in range(first, last + 1) if event in draft.stretch_of})
    bars = sum(draft.bones.chords[index].duration for index in inside if draft.bones.goals[index] is None or
               draft.names_of[index].function.role == "tonic" or draft.names_of[index].rule in LANDED) / draft.bones.beats  # fmt: skip
    rule = RuleId.AREA_CADENCE if bars >= _TOUCHED else RuleId.AREA_TOUCHED
    if not _led_to(draft, key, inside):
        rule = RuleId.AREA_TURNS
    if all(draft.bones.chords[index].root == key[0] for index in inside):
        rule = RuleId.AREA_STAYS if rule != RuleId.AREA_TOUCHED else rule
    if any(first <= event <= last for event in draft.held):
        rule = RuleId.AREA_HELD
    elif key == draft.bones.home:
        rule = RuleId.AREA_RETURN if first else RuleId.AREA_HOME
    name = draft.key_names.key(key)
    why = Reason(rule=rule, args=Args(key=name, witnesses=_witnesses(draft, key) if rule == RuleId.AREA_HOME else ()))
    if rule == RuleId.AREA_HOME and _ends_otherwise(draft):
        why = why.and_also(RuleId.ENDS_OTHERWISE, Args(key=name))
    if rule == RuleId.AREA_HOME and draft.given is not None and _is_another(draft.given, name):
        why = why.and_also(RuleId.TYPED_OTHERWISE, Args(key=draft.given))
    if rule != RuleId.AREA_HELD and (rival := _nearly(draft, inside, inside_it)) is not None:
        why = why.and_also(RuleId.HEARD_NEARLY, rival)
    return KeyArea(key=name, first=first, last=last, reason=why)


def _led_to(draft: Draft, key: KeyPc, inside: Sequence[int]) -> bool:
    """Whether a dominant leads to the tonic of an area."""
    bones, here = draft.bones, set(inside)
    homes = {index for index in inside if bones.chords[index].root == key[0]}
    homes |= {TOP} if bones.chords[0].root == key[0] else set()
    leading = (
        index for index, move in enumerate(bones.moves) if move in DOMINANT_MOVES and bones.goals[index] in homes
    )
    return any(index in here or bones.goals[index] in here for index in leading)


def _is_another(typed: Key, home: Key) -> bool:
    """Whether the key that is typed is neither home nor its relative, which has the same signature."""
    return (home.tonic.pc, home.mode) not in (
        (typed.tonic.pc, typed.mode),
        (typed.relative.tonic.pc, typed.relative.mode),
    )


def _ends_otherwise(draft: Draft) -> str:
    """The other mode, when the tune comes to rest in it."""
    return ends_otherwise(draft.bones.chords, draft.bones.last_tonic, *draft.bones.home)


def _witnesses(draft: Draft, key: KeyPc) -> tuple[str, ...]:
    """What speaks for a home key, as far as it does: the chords, the beginning, the end, the cadences."""
    chords, goals = draft.bones.chords, draft.bones.goals
    found = ["chords"]
    if chords[0].root == key[0]:
        found.append("beginning")
    if chords[-1].root == key[0] and not _ends_otherwise(draft):
        found.append("end")
    if any((chord.root - key[0]) % 12 == 7 and chord.cls in DOMINANTS and goal is not None
           and chords[max(goal, 0)].root == key[0] for chord, goal in zip(chords, goals, strict=True)):  # fmt: skip
        found.append("cadences")
    return tuple(found)


def _nearly(draft: Draft, inside: Sequence[int], readings: Sequence[Reading]) -> Args | None:
    """Which other key is heard nearly as well, as the second readings say: all through an area, at its ends,
    or in places."""
    own = draft.key_names.key(draft.keys[inside[0]])
    heard: dict[int, set[Key]] = {index: set() for index in inside}
    for reading in readings:
        if reading.alternatives and reading.event in draft.stretch_of:
            close = {one.key for one in reading.alternatives if one.key != own and one.margin <= MARGIN_OPEN}
            heard[draft.stretch_of[reading.event]] |= close
    rivals = [heard[index] for index in inside]
    counts = Counter(key for found in rivals for key in found)
    if not counts:
        return None
    home = draft.bones.home[0]  # of two heard as often the same one, whatever key the tune stands in
    key, count = min(counts.items(), key=lambda item: (-item[1], (item[0].tonic.pc - home) % 12, item[0].mode))
    held = [key in found for found in rivals]
    where = "places"
    if all(held):
        where = "all"
    elif all(held[:count]):
        before = draft.keys[inside[0] - 1]
        pivot = inside[0] > 0 and key == draft.key_names.key(before) and _in_both(draft, inside[:count], before)
        where = "pivot" if pivot else "beginning"
    elif all(held[-count:]):
        where = "end"
    return Args(key=key, where=where)


def _in_both(draft: Draft, inside: Sequence[int], other: KeyPc) -> bool:
    """Whether chords belong to their own key and to another: a pivot between the two."""
    return all(
        ((draft.bones.chords[index].root - key[0]) % 12, draft.bones.chords[index].cls) in DIATONIC[key[1]]
        for index in inside
        for key in (draft.keys[index], other)
    )
