"""Other names under which a function is just as right, for showing beside a key.

``II7`` is ``V7/V``, ``bII7`` is ``subV7``, ``vm7`` is ``ii7/IV``, ``#i°7`` is ``vii°7/ii`` (common practice; the
diminished ones follow from X°7 being the upper notes of the 7b9 chord a semitone below).
"""

from __future__ import annotations

from tunes.harmony.answers.reader import degree_at, degree_fifths
from tunes.harmony.readings.function import Function, roman

_PLAIN_BODY = {
    "m": "m",
    "m7": "m7",
    "m6": "m6",
    "mmaj7": "m(maj7)",
    "m7b5": "m7b5",
    "dim": "°",
    "dim7": "°7",
    "aug": "+",
}
_FRAME_SAID = {"5": "5", "sub5": "sub 5", "2": "2"}


def equivalent_names(function: Function) -> tuple[str, ...]:
    """Names that say the same chord and the same job, the function's own name left out.

    >>> equivalent_names(Function("2", "7", "dominant", "applied", "5", False, "5"))
    ('5 of 5', 'II7')
    >>> equivalent_names(Function("b2", "7", "dominant", "tritone-substitute", "1", False, "sub5"))
    ('sub 5', 'bII7')
    >>> equivalent_names(Function("#1", "dim7", "passing", "passing-diminished", "2", True))
    ('sharp 1 diminished', 'vii°7/ii')
    """
    if function.kind == "no-chord":
        return ("no chord",)
    names = [function.spoken]
    if function.of is not None and function.target not in (None,):
        names.append(plain_numeral(function))
    if function.kind == "backdoor":
        names.append("backdoor")
    if function.quality in ("dim", "dim7") and function.of is None:
        names.extend(_leading_name(function))
    return tuple(name for name in dict.fromkeys(names) if name != function.numeral)


def plain_numeral(function: Function) -> str:
    """The chord by its own degree, quality spelled out: "II7", "Vm7".

    >>> plain_numeral(Function("5", "m7", "predominant", "related-ii", "4", False, "2"))
    'Vm7'
    """
    return roman(function.degree, False) + _PLAIN_BODY.get(function.quality, function.quality)


def _leading_name(function: Function) -> tuple[str, ...]:
    """The goal a semitone above a diminished chord, where the key has one there."""
    if function.kind in ("auxiliary-diminished", "common-tone-diminished"):
        return ()
    goal = degree_at(degree_fifths(function.degree) - 5)
    if goal.startswith(("b", "#")) or goal == "1":
        return ()
    return (f"vii{_PLAIN_BODY[function.quality]}/{roman(goal, goal in ('2', '3', '6'))}",)
