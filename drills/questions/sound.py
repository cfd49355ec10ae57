"""What to listen for in a chord: the notes that move, named.  Stored with a key, rendered in the player's pitch.

The guide-tone facts are logical (a dominant's 3rd is a semitone under the root of its goal; a substitute shares
the 3rd and 7th of the dominant it stands for); that these are the notes to listen for is common practice.
"""

from __future__ import annotations

from typing import Any

from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import Interval, NoteName
from tunes.harmony.readings.function import Function

Hint = dict[str, Any]


def sound_hint(function: Function, symbol: ChordSymbol | None, following: ChordSymbol | None) -> Hint | None:
    """The hint for one chord, None when there is nothing particular to hear."""
    if symbol is None:
        return None
    root = symbol.root
    if function.of in ("5", None) and function.role == "dominant" and symbol.third is not None and _is_dominant(symbol):
        up = root + Interval.parse("P4")
        return _hint(
            "Listen for its 3rd, {third}: it leans a half step up towards {goal}.", third=symbol.tone("3"), goal=up
        )
    if function.of == "sub5":
        return _substitute(root)
    if function.of == "b7" or function.kind == "backdoor":
        return _backdoor(symbol, following)
    if function.of == "2" or (function.degree == "2" and function.role == "predominant"):
        return _two(symbol, following)
    if symbol.family == "diminished":
        return _diminished(function, symbol)
    return _other(function, symbol, following)


def _substitute(root: NoteName) -> Hint:
    """The dominant that a substitute stands for shares its 3rd and 7th with it, the other way about."""
    replaced = root + Interval.parse("d5")
    hint = _hint(
        "Listen to the bass: {root} leans a half step down to {goal}, while its 7th and 3rd are {third} and {seventh}, "
        "the 3rd and 7th of {replaced}, which it replaces.",
        root=root, goal=root + Interval.parse("-m2"),
        third=replaced + Interval.parse("M3"), seventh=replaced + Interval.parse("m7"),
    )  # fmt: skip
    return hint | {"chords": {"replaced": f"{replaced.text}7"}}


def _two(symbol: ChordSymbol, following: ChordSymbol | None) -> Hint:
    """A half step below the 7th of a 2 lies the 3rd of the dominant a fifth below, and the 7th of the one a semitone below."""
    seventh = symbol.tone("b7")
    if (
        following is not None
        and following.root.pc == (symbol.root + Interval.parse("-m2")).pc
        and _is_dominant(following)
    ):
        hint = _hint(
            "Listen for its 7th, {seventh}: it falls to {lands}, the 7th of {next}.",
            seventh=seventh, lands=following.tone("b7"),
        )  # fmt: skip
        return hint | {"chords": {"next": following.text}}
    return _hint("Listen for its 7th, {seventh}: it falls to {third}, the 3rd of the dominant it prepares.",
                 seventh=seventh, third=symbol.root + Interval.parse("M6"))  # fmt: skip


def _backdoor(symbol: ChordSymbol, following: ChordSymbol | None) -> Hint:
    """What moves depends on what comes: home, where the bass rises a step, or a chord that stands for it (the minor 3)."""
    seventh = symbol.tone("b7")
    lands = seventh + Interval.parse("-m2")
    if following is None or lands.pc not in following.pcs:
        return _hint("Listen for its 7th, {seventh}: it wants to slide a half step down.", seventh=seventh)
    if (following.bass or following.root).pc == (symbol.root + Interval.parse("M2")).pc:
        return _hint(
            "Listen for its 7th, {seventh}: it slides a half step down, and the bass rises a whole step.",
            seventh=seventh,
        )
    hint = _hint(
        "Listen for its 7th, {seventh}: it slides a half step down to {lands}, a note of {next}.",
        seventh=seventh,
        lands=lands,
    )
    return hint | {"chords": {"next": following.text}}


def _is_dominant(symbol: ChordSymbol) -> bool:
    return symbol.has("3") and symbol.family in ("dominant", "augmented")


def _diminished(function: Function, symbol: ChordSymbol) -> Hint:
    if function.kind in ("auxiliary-diminished", "common-tone-diminished"):
        return _hint("Listen to the bass: {root} stays while the notes around it shift.", root=symbol.root)
    return _hint(
        "Listen to the bass: {root} is a step on the way, and the chord has no home of its own.", root=symbol.root
    )


def _other(function: Function, symbol: ChordSymbol, following: ChordSymbol | None) -> Hint | None:
    if function.role == "tonic" and function.degree == "1":
        if symbol.bass is not None and symbol.bass.pc != symbol.root.pc:
            return _hint(
                "Listen for rest: {root} is home, with {bass} in the bass instead of it.",
                root=symbol.root,
                bass=symbol.bass,
            )
        return _hint("Listen for rest: {root} in the bass is home.", root=symbol.root)
    if function.kind == "interchange" and function.degree == "4" and symbol.has("b3"):
        return _hint(
            "Listen for {third}: the 3rd of the four, lowered; it wants to fall a half step.", third=symbol.tone("b3")
        )
    if function.kind == "interchange":
        return _hint("Listen for the colour of the parallel key over {root}.", root=symbol.root)
    if following is not None and following.root != symbol.root:
        return _hint("Listen to the bass: {root} to {next}.", root=symbol.root, next=following.root)
    return None


def _hint(text: str, **notes: Any) -> Hint:
    return {"text": text, "notes": {name: note.text for name, note in notes.items()}}
