"""Reasons in words: the sentence of the rule, filled in with what the chord, its goal and its key are called.

The one place where a reason becomes prose, when it is shown: a page in another key or pitch renders the moved reason.
"""

from __future__ import annotations

from typing import Final

from tunes.harmony.explain.rules import RULES
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.function import say_degree
from tunes.harmony.readings.reason import Args, Named, Reason
from tunes.harmony.readings.rule_ids import RuleId

TELLS_NEXT: Final = frozenset(rule for rule, row in RULES.items() if "{next}" in row.sentence)
"""Rules whose sentence names the chord that follows."""
WITNESSES: Final = {
    "chords": "the chords", "beginning": "the beginning", "end": "the end", "cadences": "the cadences",
}  # fmt: skip
WHERE: Final = {
    "all": "It", "pivot": "It comes in by a pivot that", "beginning": "Its beginning", "end": "Its end",
    "places": "In places it",
}  # fmt: skip
"""In which part of a key area another key is heard."""


def told(reason: Reason, signs: bool = False) -> str:
    """A reason as plain sentences; `signs` writes keys with real accidentals, as a page does.

    >>> from tunes.harmony.readings.function import Function
    >>> five = Function("5", "7", "dominant", "diatonic", "1", False, "5")
    >>> told(Reason(rule=RuleId.DOMINANT, args=Args(chord=five, target=Named(degree="1"))))
    '5 falls a fifth to 1.'
    >>> told(Reason(rule=RuleId.AREA_RETURN, args=Args(key=Key.parse("Eb"))), signs=True)
    'Back in E♭ major.'
    """
    text = _sentence(reason, signs)
    for clause in reason.more:
        said = _sentence(clause, signs)
        text = text.removesuffix(".") + said if said[0] in ",;" else f"{text} {said}"
    return text


def _sentence(reason: Reason, signs: bool) -> str:
    text = RULES[reason.rule].sentence.format_map(_words(reason, signs))
    if reason.args.by:
        return text  # a person's own words stay as they are
    text = text.replace(",.", ".")
    return text[0].upper() + text[1:]


def _words(reason: Reason, signs: bool) -> dict[str, str]:
    """All that a sentence may name, in words."""
    args = reason.args
    target, aim = named(args.target), named(args.aim)
    itself = named(args.itself) or ("a dominant" if reason.rule == RuleId.CHAIN and args.target else "")
    between = _between(args)
    return {
        "chord": _chord(args), "key": _key(args.key, signs), "target": target or "the next chord",
        "aim": aim or target or "its goal", "next": _following(args, signs) or target or "the next chord",
        "parallel": _borrowed(args), "ahead": f"ahead{between}" if between else "that follows",
        "witnesses": _witnesses(args), "between": between,
        "itself": f", itself {itself}" if itself else "", "again": f" as {itself}" if itself else "",
        "pedal": say_degree(args.degrees[0]) if args.degrees else "", "line": _line(args),
        "member": f"its {args.member}" if args.member else aim, "passages": _passages(args, signs),
        "passage": _passage_told(args, signs), "shows": args.shows, "where": WHERE.get(args.where, ""),
        "by": args.by, "why": f": {args.words}" if args.words else ".",
    }  # fmt: skip


def named(chord: Named | None) -> str:
    """A chord as players name it; "" for none.

    >>> named(Named(degree="b7")), named(Named(degree="4", quality="minor"))
    ('flat 7', '4 minor')
    """
    if chord is None:
        return ""
    if chord.function is not None:
        return chord.function.spoken
    degree = say_degree(chord.degree)
    return f"{degree} {chord.quality}" if chord.quality else degree


def _chord(args: Args) -> str:
    if args.chord is None:
        return ""
    return f"{args.chord.spoken}, suspended," if args.suspended else args.chord.spoken


def _key(key: Key | None, signs: bool) -> str:
    if key is None:
        return ""
    return key.display if signs else key.text


def _following(args: Args, signs: bool) -> str:
    after, turn = named(args.following), named(args.following_as)
    if args.following_key is not None:
        return f"{after} in {_key(args.following_key, signs)}"
    return f"{after}, here {turn}," if turn else after


def _between(args: Args) -> str:
    if args.between is None:
        return ""
    return f", with {named(args.between)} {'and more ' if args.more_between else ''}between"


def _borrowed(args: Args) -> str:
    """Where a borrowed chord is from: a church mode, or the other of major and minor."""
    if args.borrowed:
        return f"the {args.borrowed.capitalize()} mode"
    return "minor" if args.key is not None and args.key.mode == "major" else "major"


def _witnesses(args: Args) -> str:
    said = joined([WITNESSES[name] for name in args.witnesses])
    return f"{said[:1].upper()}{said[1:]} speak"


def _line(args: Args) -> str:
    return f"{'falls' if args.falls else 'rises'} by step: {', '.join(map(say_degree, args.degrees))}"


def _passage(key: Key, signs: bool) -> str:
    return f"{key.tonic.display if signs else key.tonic.text} {key.word.capitalize()}"


def _passages(args: Args, signs: bool) -> str:
    return joined([_passage(key, signs) for key in args.passages])


def _passage_told(args: Args, signs: bool) -> str:
    by = f"by its {args.shows}" if args.shows else "as its centre"
    return f"{_passages(args, signs)}, {by}"


def joined(said: list[str]) -> str:
    """ "a, b and c"; "" for nothing."""
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}" if said else ""
