"""What a player reads beside a marked chord: what was good, what it is, why, where it is heading, how it sounds.

Everything comes from the stored key; notes and chords are shown in the pitch the player reads.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drills.comparers.types import Context, StoredKey
from drills.comparers.wording import (
    capital,
    chord_text,
    key_text,
    note_text,
    place_name,
    reading_interval,
    reason_text,
)
from tunes.harmony.answers.closeness import as_counted
from tunes.harmony.answers.reader import Answer, display_numeral, echo_text
from tunes.harmony.pitch.spelling import Interval, Key

OPENERS: dict[str, str] = {
    "exact": "",
    "equivalent": "That is it, under another name.",
    "home-name": "Right, counted from home. In this passage the ear sits in {key}.",
    "passing-name": "Right, counted from the key of the chord that it serves. The passage as a whole sits in {key}.",
    "alternative": "It can be heard that way too.",
    "other-bass": "The chord is right; another note lies in the bass.",
    "enharmonic": "The right sound; only the spelling of the degree differs.",
    "rootless": "Yes: it stands for that dominant, upper notes without the root.",
    "degree-only": "The number is right; alone it says another kind of chord than this, and the quality was asked.",
    "degree-wrong-quality": "The number is right; the chord on it is of another kind.",
    "relative-key": "The right chord, counted from the relative key. The passage sits in {key}.",
    "parallel-key": "The right function; the key is {key}.",
    "key-not-named": "Right in the new key. Write {key}: in front where a key area starts.",
    "dominant-substitute": "You heard where it is heading. It gets there by another dominant.",
    "other-key-area": "The right chord, counted from another key. Here the ear sits in {key}.",
    "same-chord-other-role": "The right chord; in this place it does another job.",
    "root-only": "The root is right. What it is aiming at is missing.",
    "function-relative-key": "The right function, in the relative key. Here it is {key}.",
    "function-other-key": "The right function, but the key here is {key}.",
    "target-missing": "You heard what kind of chord it is; say of which chord.",
    "chain-position": "The run does head there; this chord is another step of it.",
    "diminished-other-root": "The same four notes; the bass gives it its name.",
    "root-other-chord": "The root is right; listen again to the chord on it.",
    "related-ii-other-target": "It is a 2, as you heard; it prepares another chord.",
    "other-target": "It is a dominant, as you heard; it aims elsewhere.",
    "family": "The right family of chord, another member of it.",
    "adjacent": "That is the chord next door: the run is right, one place off.",
    "other": "Another function is at work here.",
    "blank": "",
    "unreadable": "",
}

_RIGHT = ("exact", "equivalent", "degree-only", "home-name", "passing-name")

_HEADING = {
    "direct": "It goes straight to {goal}.",
    "delayed": "It is heading for {goal}, with other chords in between.",
    "deceptive": "What comes instead is {goal}.",
    "onward": "It asks for no resolution; from there the music goes on to {goal}.",
    "held": "It comes again before it moves on: {goal}.",
}


def feedback(
    rule: str,
    key: StoredKey,
    given: Answer | None,
    given_key: Key | None,
    context: Context,
    alternative: int | None = None,
) -> str:
    """The whole feedback of one answer as plain sentences. Bar and chord are said by whatever shows it beside them; an
    answer that is the name itself is not told the name again."""
    move = reading_interval(key, context)
    parts = [
        OPENERS[rule].format(key=key_text(key["key"], move)),
        "" if rule == "exact" else what_it_is(key, move),
        sentence(reason_text(key.get("reason"), move)),
        heading(key, move),
        sound(key, move),
    ]
    if alternative is not None:
        parts.insert(1, sentence(reason_text(key["alternatives"][alternative].get("reason"), move)))
    elif given is not None and given_key is not None and rule not in _RIGHT:
        counted = as_counted(given, given_key)
        parts.append(f"What you wrote says {echo_text(counted, given_key.transposed(move))}.")
    if rule not in ("alternative",):
        parts.append(also_heard(key, move))
    return " ".join(part for part in parts if part) or "That is it."


def what_it_is(key: StoredKey, move: Interval) -> str:
    """ "It is V7/ii in C, in numbers “5 of 2”.\""""
    expected = key["expected"]
    if expected["kind"] == "no-chord":
        return "No chord sounds here."
    said = expected["spoken"]
    numeral = display_numeral(expected["numeral"])
    also = f", in numbers “{said}”" if said != numeral else ""
    return f"It is {numeral} in {key_text(key['key'], move)}{also}."


def heading(key: StoredKey, move: Interval) -> str:
    """Where the chord goes, "" when it asks for no resolution."""
    goal = key.get("goal")
    if not goal:
        return ""
    text = _HEADING.get(key.get("resolution", ""), "")
    name = f"{chord_text(goal['chord'], move)} in {place_name(goal)}"
    return text.format(goal=name)


def sound(key: StoredKey, move: Interval) -> str:
    """What to listen for, with its notes in the player's pitch."""
    hint: Mapping[str, Any] | None = key.get("sound")
    if not hint:
        return ""
    names = {name: note_text(value, move) for name, value in hint.get("notes", {}).items()}
    names |= {name: chord_text(value, move) for name, value in hint.get("chords", {}).items()}
    return str(hint["text"]).format(**names)


def also_heard(key: StoredKey, move: Interval) -> str:
    """The nearest other reading the analysis considered, when it is near."""
    for other in key.get("alternatives") or ():
        if float(other.get("margin", 99)) <= NEAR:
            name = display_numeral(other["function"]["numeral"])
            place = "" if other["key"] == key["key"] else f" in {key_text(other['key'], move)}"
            return f"It could also be heard as {name}{place}."
    return ""


NEAR = 2.0
"""Margin up to which another reading is worth mentioning to a player."""


def sentence(text: str) -> str:
    """A reason as a sentence of its own."""
    text = text.strip()
    return capital(text) if not text or text.endswith((".", "?")) else capital(text) + "."
