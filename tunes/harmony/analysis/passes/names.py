"""Keys and names: from the skeleton to a label for every event."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from tunes.harmony.analysis.key_areas.areas import segment
from tunes.harmony.analysis.key_areas.cadences import KeyPc
from tunes.harmony.analysis.naming import company
from tunes.harmony.analysis.naming.label import Label, semitones_of
from tunes.harmony.analysis.naming.labels import as_it_is, is_blues, label
from tunes.harmony.analysis.naming.places import climbs_through, place, spot
from tunes.harmony.analysis.passes.draft import Draft
from tunes.harmony.analysis.preparation.skeleton import TOP
from tunes.harmony.analysis.sounds import DOM, MIN, NONE, SUS
from tunes.harmony.pitch.spelling import NoteName
from tunes.harmony.readings.rule_ids import RuleId


def key_areas(draft: Draft) -> Draft:
    """A key for every stretch, and what the others would cost more."""
    fixed = {draft.stretch_of[e]: (k.tonic.pc, k.mode) for e, k in draft.held.items() if e in draft.stretch_of}
    keys, ranked = segment(draft.bones, fixed)
    keys = [_own_of_mode(draft, index, key, fixed) for index, key in enumerate(keys)]
    return replace(draft, keys=tuple(keys), ranked=tuple(ranked), blues=is_blues(draft.bones))


def _own_of_mode(draft: Draft, index: int, key: KeyPc, fixed: Mapping[int, KeyPc]) -> KeyPc:
    """In a church mode that was typed as the home key, the major and minor keys with the same signature are that mode."""
    given = draft.given
    if given is None or not given.church or index in fixed:
        return key
    major = NoteName.from_fifths(given.fifths).pc
    return draft.bones.home if key in ((major, "major"), ((major + 9) % 12, "minor")) else key


def names(draft: Draft) -> Draft:
    """What each stretch is called where it stands, by the first rule that holds."""
    bones = draft.bones
    spots = tuple(spot(bones, index) for index in range(len(bones.chords)))
    found = tuple(
        label(place(at, chord, key, bones.home, draft.blues))
        for at, chord, key in zip(spots, bones.chords, draft.keys, strict=True)
    )
    by_event = tuple(
        None if sound.cls == NONE else found[draft.stretch_of[event]] for event, sound in enumerate(draft.sounds)
    )
    return replace(draft, spots=spots, names_of=found, labels=by_event)


def own_colour(draft: Draft) -> Draft:
    """An event whose class or quality is not that of its stretch is named by its own."""
    return draft.with_labels(_own_colour)


def _own_colour(draft: Draft, event: int, found: Label) -> Label:
    index, chord = draft.stretch_of[event], draft.chord(event)
    if chord is draft.bones.chords[index]:
        return found
    return label(place(draft.spots[index], chord, draft.keys[index], draft.bones.home, draft.blues))


def in_company(draft: Draft) -> Draft:
    """What a label says once the chords after it are named too."""
    return draft.with_labels(lambda d, e, found: company.in_company(d.stretch_of[e], found, d.bones, d.names_of))


def into_the_blues(draft: Draft) -> Draft:
    """A dominant before a seventh or suspended chord that is at home, or is suspended for its colour, does not run on."""
    return draft.with_labels(_into_the_blues)


def _into_the_blues(draft: Draft, event: int, found: Label) -> Label:
    goal = draft.bones.goals[draft.stretch_of[event]]
    if found.rule != RuleId.CHAIN or goal is None:
        return found
    goes_to = draft.names_of[max(goal, 0)]
    ahead, still = goes_to.function, goes_to.rule == RuleId.SUSPENDED_COLOUR
    if ahead.kind != "blues" and (ahead.degree, ahead.role) != ("1", "tonic") and not still:
        return found
    if found.function.target == "1":
        return found._replace(rule=RuleId.DOMINANT)
    return found._replace(rule=RuleId.APPLIED, function=replace(found.function, kind="applied"))


def suspended(draft: Draft) -> Draft:
    """A suspended dominant before its own third settles there first, wherever the dominant goes then."""
    return draft.with_labels(_suspended)


def _suspended(draft: Draft, event: int, found: Label) -> Label:
    if event == draft.bones.chords[draft.stretch_of[event]].last or found.resolution == "none":
        return found
    here, then = draft.sounds[event], draft.sounds[event + 1]
    if here.cls != SUS or then.cls != DOM or here.root != then.root or found.function.of != "5":
        return found
    kind = "diatonic" if found.function.target == "1" else "applied"
    return found._replace(rule=RuleId.SUSPENDED, resolution="delayed", function=replace(found.function, kind=kind))


_FARTHEST = 4.0  # bars between a chord and its goal over which an arrow is still heard (our choice)
_SURE = 0.9  # unless the grammar is as sure as this
_DOMINANT_RULES = frozenset({RuleId.APPLIED, RuleId.CHAIN, RuleId.DOMINANT, RuleId.TRITONE, RuleId.AUGMENTED})
_TWO_RULES = frozenset({RuleId.SUPERTONIC, RuleId.PREDOMINANT, RuleId.PREDOMINANT_BORROWED, RuleId.CHROMATIC_II})


def heard_goals(draft: Draft) -> Draft:
    """A goal that lies too far off to be heard is not promised, unless the grammar is sure of it; nor one past the chord that a
    diminished chord climbs to."""
    return draft.with_labels(_heard_goal)


def _heard_goal(draft: Draft, event: int, found: Label) -> Label:
    index = draft.stretch_of[event]
    if found.resolution != "delayed":
        return found
    near = _bars_ahead(draft, index) <= _FARTHEST and not _across_a_key(draft, index)
    if not climbs_through(draft.bones, index) and (near or draft.bones.sure[index] >= _SURE):
        return found
    if found.rule in _DOMINANT_RULES and found.function.target:
        after = draft.spots[index].after
        if after is not None and (after.root, after.cls) == (draft.bones.chords[index].root, MIN):
            turned = replace(found.function, kind="unresolved")
            return found._replace(rule=RuleId.TURNS_MINOR, resolution="onward", function=turned)
        function = replace(found.function, kind="unresolved")
        return found._replace(
            rule=RuleId.UNRESOLVED, resolution="onward", function=function, aim=semitones_of(found.function.target)
        )
    if found.rule in _TWO_RULES:
        kind = found.function.kind if found.function.kind in ("diatonic", "interchange") else "chromatic"
        at = place(draft.spots[index], draft.chord(event), draft.keys[index], draft.bones.home, draft.blues)
        return as_it_is(at, found._replace(rule=RuleId(kind), resolution="onward"))
    return found


def _across_a_key(draft: Draft, index: int) -> bool:
    """Whether a goal of the same key lies behind a stretch of another key."""
    goal = draft.bones.goals[index]
    end = len(draft.keys) if goal == TOP else goal or index
    here, there = draft.keys[index], draft.keys[0 if goal == TOP else end]
    return here == there and any(key != here for key in draft.keys[index + 1 : end])


def _bars_ahead(draft: Draft, index: int) -> float:
    """Bars between the end of a stretch and its goal."""
    bones, goal = draft.bones, draft.bones.goals[index]
    if goal is None:
        return 0.0
    last = bones.chords[-1]
    start = last.onset + last.duration if goal == TOP else bones.chords[goal].onset
    return (start - bones.chords[index].onset - bones.chords[index].duration) / bones.beats
