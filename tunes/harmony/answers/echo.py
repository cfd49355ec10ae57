"""How an answer was understood, in one sentence: "V7 of ii in F: D7 → Gm7"."""

from __future__ import annotations

import re

from tunes.harmony.answers.form import IMPLIED_QUALITY, SUBSTITUTE, Answer, degree_at, degree_fifths
from tunes.harmony.pitch.spelling import Key, NoteName

_SYMBOL_BODY: dict[str, str] = {
    "": "",
    "6": "6",
    "maj7": "maj7",
    "7": "7",
    "7sus": "7sus",
    "sus": "sus",
    "m": "m",
    "m6": "m6",
    "m7": "m7",
    "mmaj7": "m(maj7)",
    "m7b5": "m7♭5",
    "dim": "°",
    "dim7": "°7",
    "aug": "+",
    "5": "5",
}
_DIATONIC: dict[str, dict[str, str]] = {
    "major": {"1": "", "2": "m7", "3": "m7", "4": "maj7", "5": "7", "6": "m7", "7": "m7b5"},
    "minor": {"1": "m", "2": "m7b5", "b3": "maj7", "4": "m7", "5": "7", "b6": "maj7", "b7": "7", "7": "dim7"},
}
_SIGN_TABLE = str.maketrans({"b": "♭", "#": "♯"})


def chord_name(key: Key, degree: str, quality: str | None) -> str:
    """A chord's display name from its degree in a key; bare root when the quality is open.

    >>> chord_name(Key.parse("F"), "b3", "7"), chord_name(Key.parse("C minor"), "2", "m7b5")
    ('A♭7', 'Dm7♭5')
    """
    root = NoteName.from_fifths(key.tonic.fifths + degree_fifths(degree))
    return root.display + _SYMBOL_BODY.get(quality or "", quality or "")


def diatonic_quality(key: Key, degree: str) -> str | None:
    """The seventh chord (triad on the tonic) that a key has on a degree, None for a degree outside it.
    Major: its own sevenths; minor: harmonic minor on 5 and 7, natural elsewhere (logical)."""
    return _DIATONIC[key.mode].get(degree)


def display_numeral(text: str) -> str:
    """A numeral with real signs: "bVII7" → "♭VII7", leaving everything else."""
    return re.sub(r"(?<![a-z])[b#]+(?=[IViv1-7])", lambda m: m[0].translate(_SIGN_TABLE), text)


BARE_QUALITY: dict[str, str] = {"2": "m", "3": "m", "6": "m", "5": "7", "b7": "7", "7": "m7b5"}
"""What a number says alone: the chord that it has in major, flat 7 as players say it; every other one is major."""
_SORTS = {
    "applied": "a secondary dominant; of which chord is still open, such as V7/ii",
    "passing": "a passing diminished chord; its number is still open, such as #4 dim",
}


def echo_text(answer: Answer, key: Key | None, *, quality: bool = True) -> str:
    """One sentence that says how an answer was understood, and what is still open; `quality`: whether it is asked.

    >>> echo_text(Answer("2"), Key.parse("F"))
    '2 in F: Gm, as the number alone says; any other kind of chord is still open'
    >>> echo_text(Answer("2"), Key.parse("F"), quality=False)
    '2 in F: root G'
    >>> echo_text(Answer("5", of=("5",), substitute=True), Key.parse("C"))
    'subV7 of V in C: A♭7 → G7'
    """
    if answer.no_chord:
        return "N.C.: no chord"
    if answer.sort in _SORTS:
        return _SORTS[answer.sort]
    name = " of ".join(display_numeral(part) for part in _named(answer))
    if answer.frame == "2" and answer.of:
        name = f"related {name}"
    if answer.backdoor:
        name = f"backdoor {name}"
    if answer.sort == "common-tone":
        name = f"common-tone {name}"
    if answer.bass:
        name += f" ({answer.bass} in the bass)" if answer.bass not in _INVERSIONS else f" ({_INVERSIONS[answer.bass]})"
    if key is None:
        return name
    place = key.tonic.display + ("" if key.word == "major" else f" {key.word}")
    full = answer.full_quality
    if full is None:
        return f"{name} in {place}: {_left_open(answer, key, quality)}"
    shown = chord_name(key, answer.degree, full)
    target = answer.target
    if target is None:
        return f"{name} in {place}: {shown}"
    if answer.frame == "2":
        dominant = degree_at(degree_fifths(target) + 1)
        if answer.of[0] != SUBSTITUTE:
            shown += f" → {chord_name(key, dominant, '7')}"
    goal = chord_name(key, target, _goal_quality(answer, key, target))
    return f"{name} in {place}: {shown} → {goal}"


_INVERSIONS = {
    "63": "first inversion",
    "64": "second inversion",
    "65": "first inversion",
    "43": "second inversion",
    "42": "third inversion",
}


def _left_open(answer: Answer, key: Key, asked: bool) -> str:
    """The chord of a number without a quality: what the number alone says, or what a small numeral says."""
    if answer.lower:
        return f"{chord_name(key, answer.degree, 'm')}, a minor chord"
    if not asked:
        return f"root {chord_name(key, answer.degree, None)}"
    if answer.of:
        return f"root {chord_name(key, answer.degree, None)}; its quality is still open"
    said = "numeral" if answer.lower is not None else "number"
    chord = chord_name(key, answer.degree, BARE_QUALITY.get(answer.degree, ""))
    return f"{chord}, as the {said} alone says; any other kind of chord is still open"


def _goal_quality(answer: Answer, key: Key, target: str) -> str | None:
    """What the goal is: as said where that is another kind of chord than the usual one, else the usual one."""
    if answer.of and (len(answer.of) > 1 or answer.of[0] == SUBSTITUTE):
        usual = IMPLIED_QUALITY.get(answer.of[0])
    else:
        usual = diatonic_quality(key, target)
    said = answer.goal
    return usual if said is None or (usual is not None and _family(said) == _family(usual)) else said


def _family(quality: str) -> str:
    """ "minor", "major" (with the plain triad) or the quality itself: what is told apart by ear at once."""
    if quality.startswith("m") and quality != "maj7":
        return "minor"
    return "major" if quality in ("", "6", "maj7") else quality


def _named(answer: Answer) -> list[str]:
    """The numeral's parts, the nearest goal in capitals or small letters as it was said: "V7", "v"."""
    parts = answer.numeral.split("/")
    target, said = answer.target, answer.goal
    if (
        said is None
        or target is None
        or len(parts) < 2
        or parts[1] == "subV"
        or _family(said) not in ("minor", "major")
    ):
        return parts
    return [
        parts[0],
        parts[1].lower() if _family(said) == "minor" else re.sub("[iv]+$", lambda m: m[0].upper(), parts[1]),
        *parts[2:],
    ]
