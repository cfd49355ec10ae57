"""What an answer names by letter: the key it counts in, the chord it aims at or replaces, the bass it stands on."""

from __future__ import annotations

import re
from dataclasses import dataclass

from tunes.harmony.answers.words import NUMBER_WORDS, Plain
from tunes.harmony.pitch.spelling import CHURCH_MODES, Key, NoteName, SpellingError


@dataclass(frozen=True, slots=True)
class Named:
    """The rest of an answer (``body``) and what was named: ``key``; ``local``, whether that key is the chord aimed at;
    ``bass`` as said ("E", "5", "63"); ``stroke``, whether the bass stood after a stroke and may be the goal."""

    body: Plain
    key: Key | None = None
    local: bool = False
    bass: str = ""
    stroke: bool = False


_NOTE = r"(?P<note>[A-Ga-g])(?P<sign>bb|##|b|#|[\s-]?(?i:flat|sharp)\b)?"
_MODE = rf"\s*(?P<mode>(?i:major|minor|maj|min|mi|ma|{'|'.join(CHURCH_MODES)})\b|m\b|M\b|-)?"
_KEY_FRONT = re.compile(
    rf"\s*[(\[]?\s*(?P<word>(?i:now\s+in|in|key\s+of|key|now)\s+)?{_NOTE}{_MODE}\s*(?P<close>[)\]])?\s*(?P<colon>[:;])?,?\s*"
)
_KEY_BACK = re.compile(
    rf"\s*[(\[,]?\s*\b(?P<word>(?i:in|of))\s+(?P<whole>(?i:the\s+key\s+of)\s+)?{_NOTE}{_MODE}\s*[)\]]?\s*$"
)
_KIND = r"(?P<kind>(?:m(?!a)(?i:in|i)?|-)(?:7(?:b5)?|6|9)?|(?:maj|M|Δ)(?:7|9)?|ø7?|(?:°|dim)7?|(?:7|9|13)(?:alt|\(?b9\)?)?|6)"
_GOAL_BACK = re.compile(rf"(?:\s*/\s*|\s*>\s*|\s+(?i:of|for|to)\s+)(?P<note>[A-G])(?P<sign>bb|##|b|#)?\s*{_KIND}\s*$")
_SUBSTITUTE = re.compile(r"\s*(?i:(?:tri-?tone\s+)?sub(?:stitut(?:e|ion))?|tri-?tone)\s*$")
_NUMBER = "|".join(sorted((word for word, number in NUMBER_WORDS.items() if number <= "7"), key=len, reverse=True))
_BASS_NOTE = re.compile(
    r"\s*(?P<stroke>/|\b(?i:over|on|with)\b)\s*(?i:an?\s+)?(?P<note>[A-G](?:bb|##|b|#)?)(?P<low>\s+(?i:in\s+the\s+bass))?\s*$"
)
_BASS_NUMBER = re.compile(
    rf"\s*,?\s*(?i:with|over|on|/)?\s*(?i:the|its)?\s*(?P<sign>b|#|(?i:flat|sharp)\s)?\s*(?:(?P<digit>[1-7])(?i:st|nd|rd|th)?|(?P<word>(?i:{_NUMBER})))\s+(?i:in\s+the\s+bass)\s*$"
)
_INVERSION = re.compile(
    r"\s*,?\s*(?i:in\s+)?(?:the\s+)?(?P<which>(?i:first|1st|second|2nd|third|3rd))\s+(?i:inversion|inv\.?)\s*$"
)
_FIGURES = {"first": "63", "1st": "63", "second": "64", "2nd": "64", "third": "42", "3rd": "42"}


def take_names(source: Plain) -> Named:
    """The key named before (``Ab: 2``, ``in Ab 2``) or after (``2 in Ab``) the number, the chord aimed at by its name
    (``V7 of Fm``), the chord that a substitute replaces (``sub of F7``), and the bass (``I/E``, ``I, 5 in the bass``).

    >>> from tunes.harmony.answers.words import plain
    >>> [(n.key.text, n.local, n.body.text) for n in map(take_names, map(plain, ("Ab: 2", "V7 of Fm", "sub of F7")))]
    [('Ab major', False, '2'), ('F minor', True, 'V7'), ('Bb major', True, 'sub')]
    """
    bass, stroke, source = _take_bass(source)
    key, local, body = _take_key(source)
    return Named(body, key, local, bass, stroke)


def _take_key(source: Plain) -> tuple[Key | None, bool, Plain]:
    match = _KEY_FRONT.match(source.text)
    if match and (match["colon"] or match["word"] or match["close"]):
        key = _key(match["note"], match["sign"], _word(match["mode"]))
        if key is not None:
            return key, False, source.cut(match.end(), len(source.text))
    goal = _GOAL_BACK.search(source.text)
    if goal and goal.start() > 0:
        key = _goal(goal, bool(_SUBSTITUTE.match(source.text[: goal.start()])))
        if key is not None:
            return key, True, source.cut(0, goal.start())
    back = _KEY_BACK.search(source.text)
    if back and back.start() > 0:
        key = _key(back["note"], back["sign"], _word(back["mode"]))
        if key is not None:
            return key, back["word"].lower() == "of" and not back["whole"], source.cut(0, back.start())
    return None, False, source


def _word(mode: str | None) -> str:
    """The mode as `Key.parse` reads it."""
    if (mode or "").lower() in CHURCH_MODES:
        return (mode or "").lower()
    return "minor" if (mode or "").lower() in ("minor", "min", "mi") or mode in ("m", "-") else "major"


def _goal(match: re.Match[str], replaced: bool) -> Key | None:
    """The key of a chord aimed at. A substitute of a seventh chord stands for that chord: it aims where that one does,
    a fifth below (a mode cannot be told from it)."""
    kind = match["kind"]
    key = _key(match["note"], match["sign"], "minor" if kind[0] in "m-ø°d" and not kind.startswith("maj") else "major")
    if key is None or not (replaced and kind[0] in "791"):
        return key
    return Key(NoteName.from_fifths(key.tonic.fifths - 1), "major")


def _key(note: str, sign: str | None, word: str) -> Key | None:
    plain_sign = (sign or "").strip(" -").lower().replace("flat", "b").replace("sharp", "#")
    try:
        return Key.parse(f"{note.upper()}{plain_sign} {word}")
    except SpellingError:
        return None


def _take_bass(source: Plain) -> tuple[str, bool, Plain]:
    match = _INVERSION.search(source.text)
    if match and match.start() > 0:
        return _FIGURES[match["which"].lower()], False, source.cut(0, match.start())
    match = _BASS_NUMBER.search(source.text)
    if match and match.start() > 0:
        sign = (match["sign"] or "").strip().lower().replace("flat", "b").replace("sharp", "#")
        number = match["digit"] or NUMBER_WORDS[match["word"].lower()]
        return sign + number, False, source.cut(0, match.start())
    match = _BASS_NOTE.search(source.text)
    if match and match.start() > 0:
        return match["note"], match["stroke"] == "/" and not match["low"], source.cut(0, match.start())
    return "", False, source
