"""What a student may write for the function of a chord, and what it means.

Any form a musician writes is read: ``2``, ``ii``, ``IIm7``, ``5 of 2``, ``V7/ii``, ``b7``, ``sub 5 of 2``,
``bII7``, ``#iv°7``, ``backdoor``, ``related 2 of 4``, ``five of two``, with ``Ab:`` in front where a new key
area starts.  An `Answer` records what was said and what was left open ("2" alone gives a degree and no quality).
Degrees count from the major scale of the tonic in both modes, as jazz numerals do.
Reading never raises; what cannot be read comes back as a located problem that says what to type.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from tunes.harmony.answers.echo import chord_name, diatonic_quality, display_numeral, echo_text
from tunes.harmony.answers.form import IMPLIED_QUALITY, SUBSTITUTE, Answer, degree_at, degree_fifths
from tunes.harmony.answers.parser import read_body
from tunes.harmony.answers.words import LONGEST, Plain, plain
from tunes.harmony.pitch.spelling import Key, NoteName, SpellingError
from tunes.harmony.problems import Problem

__all__ = [
    "IMPLIED_QUALITY", "SUBSTITUTE", "Answer", "AnswerReading", "chord_name", "degree_at", "degree_fifths",
    "diatonic_quality", "display_numeral", "echo_text", "read_answer",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class AnswerReading:
    """An answer, or the problem with it; the key typed in front; and the sentence a field shows.

    ``key`` is None when no key was typed.  ``echo`` never says whether the answer is right.
    """

    answer: Answer | None
    key: Key | None
    problem: Problem | None
    echo: str


def read_answer(text: str, key: Key | None = None) -> AnswerReading:
    """Read what a student typed; ``key`` is the key in force, used for the echo only.

    >>> read_answer("5 of 2", Key.parse("F")).echo
    'V7 of ii in F: D7 → Gm7'
    >>> read_answer("Ab: 2").key.text
    'Ab major'
    """
    if not text.strip():
        return AnswerReading(None, None, None, "")
    if len(text) > LONGEST:
        problem = Problem("This is too long for the name of one chord.", "5 of 2", LONGEST, len(text))
        return AnswerReading(None, None, problem, problem.text)
    typed, body = _take_key(plain(text))
    found = read_body(body, typed is not None)
    if isinstance(found, Problem):
        return AnswerReading(None, typed, found, found.text)
    return AnswerReading(found, typed, None, echo_text(found, typed or key))


_NOTE = r"(?P<note>[A-Ga-g])(?P<sign>bb|##|b|#|[\s-]?(?i:flat|sharp)\b)?"
_MODE = r"\s*(?P<mode>(?i:major|minor|maj|min|mi|ma)\b|m\b|M\b|-)?"
_KEY_FRONT = re.compile(rf"\s*[(\[]?\s*(?P<word>(?i:now\s+in|in|key\s+of|key|now)\s+)?{_NOTE}{_MODE}\s*(?P<close>[)\]])?\s*(?P<colon>[:;])?,?\s*")
_KEY_BACK = re.compile(rf"\s*[(\[,]?\s*\b(?i:in|of)\s+(?i:the\s+key\s+of\s+)?{_NOTE}{_MODE}\s*[)\]]?\s*$")


def _take_key(source: Plain) -> tuple[Key | None, Plain]:
    """The key named before (``Ab: 2``, ``in Ab 2``) or after (``2 in Ab``) the number, and the rest."""
    match = _KEY_FRONT.match(source.text)
    if match and (match["colon"] or match["word"] or match["close"]):
        key = _key(match)
        if key is not None:
            return key, source.cut(match.end(), len(source.text))
    back = _KEY_BACK.search(source.text)
    if back and back.start() > 0:
        key = _key(back)
        if key is not None:
            return key, source.cut(0, back.start())
    return None, source


def _key(match: re.Match[str]) -> Key | None:
    sign = (match["sign"] or "").strip(" -").lower().replace("flat", "b").replace("sharp", "#")
    mode = match["mode"] or ""
    minor = mode.lower() in ("minor", "min", "mi") or mode in ("m", "-")
    try:
        return Key(NoteName.parse(match["note"].upper() + sign), "minor" if minor else "major")
    except SpellingError:
        return None
