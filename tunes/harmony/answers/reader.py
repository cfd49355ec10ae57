"""What a student may write for the function of a chord, and what it means.

Any form a musician writes is read: ``2``, ``ii``, ``IIm7``, ``5 of 2``, ``V7/ii``, ``b7``, ``sub 5 of 2``,
``bII7``, ``#iv°7``, ``backdoor``, ``related 2 of 4``, ``five of two``, with ``Ab:`` in front where a new key
area starts.  An `Answer` records what was said and what was left open ("2" alone gives a degree and no quality).
Degrees count from the major scale of the tonic in both modes, as jazz numerals do.
Reading never raises; what cannot be read comes back as a located problem that says what to type.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from tunes.harmony.answers.echo import chord_name, diatonic_quality, display_numeral, echo_text
from tunes.harmony.answers.form import IMPLIED_QUALITY, SUBSTITUTE, Answer, degree_at, degree_fifths
from tunes.harmony.answers.names import take_names
from tunes.harmony.answers.parser import read_body
from tunes.harmony.answers.words import LONGEST, plain
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.problems import Problem

__all__ = [
    "IMPLIED_QUALITY", "SUBSTITUTE", "Answer", "AnswerReading", "chord_name", "degree_at", "degree_fifths",
    "diatonic_quality", "display_numeral", "echo_text", "read_answer",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class AnswerReading:
    """An answer, or the problem with it; the key typed in front; and the sentence a field shows.

    ``key`` is None when no key was typed; ``local`` tells that it is the chord aimed at ("V7 of Fm"), which holds for
    this answer alone.  ``echo`` never says whether the answer is right.
    """

    answer: Answer | None
    key: Key | None
    problem: Problem | None
    echo: str
    local: bool = False


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
    named = take_names(plain(text))
    found = read_body(named.body, named.key is not None)
    if isinstance(found, Problem):
        return AnswerReading(None, named.key, found, found.text)
    if named.bass:
        found = replace(found, bass=named.bass, stroke=named.stroke)
    return AnswerReading(found, named.key, None, echo_text(found, named.key or key), named.local)
