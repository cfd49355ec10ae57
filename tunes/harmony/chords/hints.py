"""What a musician probably meant by a chord text that cannot be read: advice only, never a silent change."""

from __future__ import annotations

import difflib
import re

# German note names, and solfège, which a few players grew up with (common practice, no single source).
_GERMAN = {
    "Cis": "C#", "Dis": "D#", "Eis": "E#", "Fis": "F#", "Gis": "G#", "Ais": "A#",
    "Ces": "Cb", "Des": "Db", "Es": "Eb", "Fes": "Fb", "Ges": "Gb", "As": "Ab", "H": "B",
}  # fmt: skip
_SOLFEGE = {"Do": "C", "Re": "D", "Ré": "D", "Mi": "E", "Fa": "F", "Sol": "G", "La": "A", "Si": "B"}
_GERMAN_ROOT = re.compile(r"(Cis|Dis|Eis|Fis|Gis|Ais|Ces|Des|Fes|Ges|Es(?!us)|As(?!us)|H)(?![a-z]*us)(.*)")
_SOLFEGE_ROOT = re.compile(r"(Sol|R[eé]|Mi|Fa(?!ug)|La|Si|Do(?=[#b♯♭]|$))(.*)")
_LOWER_ROOT = re.compile(r"([a-g])(.*)", re.DOTALL)

SUFFIXES = (
    "maj7", "m7", "7", "m7b5", "dim7", "m(maj7)", "6", "m6", "6/9", "m6/9", "9", "m9", "maj9", "13", "m11",
    "maj13", "7b9", "7#9", "7#11", "7b5", "7#5", "7b13", "7alt", "7sus4", "9sus4", "13sus4", "sus4", "sus2",
    "add9", "madd9", "aug", "dim", "m", "maj7#11", "maj7#5", "13#11", "13b9", "7(b9,b13)", "7(#9,#5)", "maj",
    "min7", "dominant7", "minor7", "major7", "augmented", "diminished", "halfdim",
)  # fmt: skip


def suggest_root(text: str) -> tuple[str, str] | None:
    """A chord that begins with a name we do not use as a root: what to type, and why. None if it looks fine.

    >>> suggest_root("Hm7")[0], suggest_root("bb7")[0], suggest_root("Fis7")[0], suggest_root("C7")
    ('Bm7', 'Bb7', 'F#7', None)
    """
    german = _GERMAN_ROOT.fullmatch(text)
    if german:
        name = _GERMAN[german[1]]
        return name + german[2], f"{german[1]} is written {name} here."
    solfege = _SOLFEGE_ROOT.fullmatch(text)
    if solfege:
        name = _SOLFEGE[solfege[1]]
        return name + solfege[2], f"{solfege[1]} is written {name} here."
    lower = _LOWER_ROOT.fullmatch(text)
    if lower:
        return lower[1].upper() + lower[2], "A root is written with a capital letter."
    return None


def suggest_suffix(body: str, read: str) -> list[str]:
    """Endings to try instead of one that is not known, the likeliest first: near spellings, then what was read."""
    squeezed = body.replace(" ", "")
    near = difflib.get_close_matches(squeezed, SUFFIXES, n=3, cutoff=0.6)
    folded = difflib.get_close_matches(squeezed.lower(), SUFFIXES, n=2, cutoff=0.7)
    return [*near, *folded, read.strip(), ""]
