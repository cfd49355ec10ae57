"""What `<degree>` does to a kind, both ways. Source: W3C, MusicXML 4.0 XSD (2021), type `degree`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from tunes.notation.kinds import KINDS, Degrees

How = Literal["add", "alter", "subtract"]
HOWS: tuple[How, ...] = get_args(How)


@dataclass(frozen=True)
class Change:
    """One `<degree>`: `alter` in semitones as the file gives it."""

    number: int
    alter: int
    how: How


def apply_changes(base: Degrees, changes: tuple[Change, ...]) -> Degrees:
    """`base` after every `<degree>`, by the rules of the XSD.

    An added degree counts from a dominant chord (so an added 7 with alter 0 is the minor seventh), and
    may stand beside another form of itself, as both ninths of an altered dominant do. An altered one
    counts from the degree already there, and is added when the kind has none.
    """
    degrees = set(base)
    for change in changes:
        there = {degree for degree in degrees if degree[0] == change.number}
        if change.how == "subtract":
            degrees -= there
        elif change.how == "alter" and there:
            degrees = (degrees - there) | {(number, alter + change.alter) for number, alter in there}
        else:
            degrees.add((change.number, change.alter - _seventh(change.number)))
    return frozenset(degrees)


def _seventh(number: int) -> int:
    return 1 if number == 7 else 0


def changes_for(kind: str, wanted: Degrees) -> tuple[Change, ...]:
    """The `<degree>` elements that turn `kind` into `wanted`, so that `apply_changes` gives it back.

    >>> changes_for("dominant", KINDS["dominant"] | {(9, -1), (9, 1)})
    (Change(number=9, alter=-1, how='add'), Change(number=9, alter=1, how='add'))
    """
    base = dict(KINDS[kind])
    forms: dict[int, list[int]] = {}
    for number, alter in sorted(wanted):
        forms.setdefault(number, []).append(alter)
    found: list[Change] = []
    for number in sorted(set(base) | set(forms)):
        alters = forms.get(number, [])
        if not alters:
            found.append(Change(number, 0, "subtract"))
            continue
        rest = alters
        if number in base:
            keep = base[number] if base[number] in alters else alters[0]
            rest = [alter for alter in alters if alter != keep]
            if keep != base[number]:
                found.append(Change(number, keep - base[number], "alter"))
        found += [Change(number, alter + _seventh(number), "add") for alter in rest]
    return tuple(found)


_STEPS = (0, 2, 4, 5, 7, 9, 11)


def pitch_classes(degrees: Degrees) -> frozenset[int]:
    """Semitones above the root, 0 to 11."""
    return frozenset((_STEPS[(number - 1) % 7] + alter) % 12 for number, alter in degrees)
