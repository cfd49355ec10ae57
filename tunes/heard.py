"""What an instructor types when overruling a label, turned into the function of that chord.

The text is read as any answer is (`tunes.harmony.answers.reader`); the chord on the page supplies the quality, and
contradicts the text when its root is another one.
"""

from __future__ import annotations

from tunes.harmony.analysis.pipeline import Function, Reading
from tunes.harmony.answers.reader import Answer, read_answer
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import Key, SpellingError

MINOR_DEGREES = frozenset({"2", "3", "6", "7"})  # diatonic chords of a major key that are minor or diminished
_FRAMES = {
    "5": ("dominant", "applied"),
    "sub5": ("dominant", "tritone-substitute"),
    "2": ("predominant", "related-ii"),
    "7": ("dominant", "leading-diminished"),
    "b7": ("dominant", "backdoor"),
}
_ROLES = {
    "1": "tonic",
    "3": "tonic",
    "6": "tonic",
    "2": "predominant",
    "4": "predominant",
    "5": "dominant",
    "7": "dominant",
}


class NotThisChord(ValueError):
    """The text cannot be read, or names another chord; the message says what to type instead."""


def read_function(text: str, key: Key, symbol: ChordSymbol | None, computed: Reading) -> tuple[Key, Function]:
    """The key (typed in front, else `key`) and the function that `text` names for `symbol`. Raises `NotThisChord`."""
    found = read_answer(text, key)
    if found.answer is None:
        instead = (
            f" Write for example {found.problem.suggestion}." if found.problem and found.problem.suggestion else ""
        )
        reason = found.problem.message if found.problem else "Write what the chord does, such as 5 of 2 or bVII7."
        raise NotThisChord(f"{reason}{instead}")
    key = found.key or key
    _same_root(found.answer, key, symbol)
    return key, function_of(found.answer, computed)


def _same_root(answer: Answer, key: Key, symbol: ChordSymbol | None) -> None:
    if answer.no_chord != (symbol is None):
        raise NotThisChord("There is no chord here: write N.C." if symbol is None else "A chord sounds here.")
    if symbol is None:
        return
    try:
        named = key.note_at(answer.degree)
    except SpellingError as problem:
        raise NotThisChord(str(problem)) from problem
    if named.pc != symbol.root.pc:
        degree = key.degree_of(symbol.root)
        raise NotThisChord(
            f"{answer.spoken} in {key.display} stands on {named.display}, but this chord stands on "
            f"{symbol.root.display}, which is {degree} there."
        )


def function_of(answer: Answer, computed: Reading) -> Function:
    """The function an answer names. One that the engine considered too keeps everything it knew about it."""
    known = (computed.function, *(other.function for other in computed.alternatives))
    quality = computed.function.quality  # the chord is not in dispute, only what it does
    if answer.no_chord:
        return Function("1", "", "none", "no-chord")
    frame = answer.frame
    for function in known:
        named = function.of if function.of and (function.target or "1") != "1" else None
        if function.degree == answer.degree and named == frame and function.quality == quality:
            return function
    role, kind = _FRAMES.get(frame or "", (_ROLES.get(answer.degree, "colour"), ""))
    target = answer.target if frame else None
    return Function(
        degree=answer.degree,
        quality=quality,
        role=role,
        kind=kind or ("diatonic" if answer.degree.isdigit() else "chromatic"),
        target=target,
        target_minor=target in MINOR_DEGREES,
        of=frame,
    )
