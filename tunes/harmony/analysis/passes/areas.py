"""The key areas of a draft in words: what speaks for a key, and which other is heard nearly as well."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from tunes.harmony.analysis.home_key.mode import ends_otherwise
from tunes.harmony.analysis.key_areas.areas import KeyPc
from tunes.harmony.analysis.key_areas.tables import DIATONIC, MARGIN_OPEN
from tunes.harmony.analysis.passes.draft import Draft
from tunes.harmony.analysis.sounds import DOMINANTS
from tunes.harmony.explain.sentences import Words, reason
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.reading import KeyArea, Reading

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
               draft.names_of[index].function.role == "tonic") / draft.bones.beats  # fmt: skip
    rule = "area-cadence" if bars >= _TOUCHED else "area-touched"
    if all(draft.bones.chords[index].root == key[0] for index in inside):
        rule = "area-stays" if rule == "area-cadence" else rule
    if any(first <= event <= last for event in draft.held):
        rule = "area-held"
    elif key == draft.bones.home:
        rule = "area-return" if first else "area-home"
    name = draft.key_names.key(key)
    text = reason(rule, "", name.text, Words(witnesses=_witnesses(draft, key)))
    if rule == "area-home" and _ends_otherwise(draft):
        text += f" It ends in {_ends_otherwise(draft)}."
    if rule == "area-home" and draft.given is not None and _is_another(draft.given, name):
        text += " " + reason("typed-otherwise", "", draft.given.text)
    return KeyArea(name, first, last, text if rule == "area-held" else text + _nearly(draft, inside, inside_it))


def _is_another(typed: Key, home: Key) -> bool:
    """Whether the key that is typed is neither home nor its relative, which has the same signature."""
    return (home.tonic.pc, home.mode) not in (
        (typed.tonic.pc, typed.mode),
        (typed.relative.tonic.pc, typed.relative.mode),
    )


def _ends_otherwise(draft: Draft) -> str:
    """The other mode, when the tune comes to rest in it."""
    return ends_otherwise(draft.bones.chords, draft.bones.last_tonic, *draft.bones.home)


def _witnesses(draft: Draft, key: KeyPc) -> str:
    """What speaks for a home key, as far as it does: the chords, the beginning, the end, the cadences."""
    chords, goals = draft.bones.chords, draft.bones.goals
    found = ["the chords"]
    if chords[0].root == key[0]:
        found.append("the beginning")
    if chords[-1].root == key[0] and not _ends_otherwise(draft):
        found.append("the end")
    if any((chord.root - key[0]) % 12 == 7 and chord.cls in DOMINANTS and goal is not None
           and chords[max(goal, 0)].root == key[0] for chord, goal in zip(chords, goals, strict=True)):  # fmt: skip
        found.append("the cadences")
    said = found[0] if len(found) == 1 else f"{', '.join(found[:-1])} and {found[-1]}"
    return f"{said[0].upper()}{said[1:]} speak"


def _nearly(draft: Draft, inside: Sequence[int], readings: Sequence[Reading]) -> str:
    """Says once which other key is heard nearly as well, as the second readings say: all through an area, at its ends,
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
        return ""
    key, count = min(counts.items(), key=lambda item: (-item[1], item[0].text))
    held = [key in found for found in rivals]
    where = "In places it"
    if all(held):
        where = "It"
    elif all(held[:count]):
        before = draft.keys[inside[0] - 1]
        pivot = inside[0] > 0 and key == draft.key_names.key(before) and _in_both(draft, inside[:count], before)
        where = "It comes in by a pivot that" if pivot else "Its beginning"
    elif all(held[-count:]):
        where = "Its end"
    return f" {where} can be heard in {key.text} nearly as well."


def _in_both(draft: Draft, inside: Sequence[int], other: KeyPc) -> bool:
    """Whether chords belong to their own key and to another: a pivot between the two."""
    return all(
        ((draft.bones.chords[index].root - key[0]) % 12, draft.bones.chords[index].cls) in DIATONIC[key[1]]
        for index in inside
        for key in (draft.keys[index], other)
    )
