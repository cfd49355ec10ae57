"""What was probably meant by a key or a metre that cannot be read."""

from __future__ import annotations

import re

from tunes.harmony.charts.tokens import read_metre
from tunes.harmony.chords.hints import suggest_root
from tunes.harmony.pitch.spelling import Key, SpellingError


def is_key(text: str) -> bool:
    """Whether a line names a key and nothing else.

    >>> is_key("F major"), is_key("Bb minor"), is_key("Dorian Road")
    (True, True, False)
    """
    try:
        Key.parse(text)
    except SpellingError:
        return False
    return True


def nearest_key(text: str) -> str:
    """
    >>> nearest_key("H"), nearest_key("es"), nearest_key("bb minor"), nearest_key("blue")
    ('B major', 'Eb major', 'Bb minor', 'C major')
    """
    word = text.strip()
    tries = [word, word.capitalize(), re.split(r"[\s,;(/]", word)[0]]
    for tried in [*tries, *(hint[0] for each in tries if (hint := suggest_root(each)))]:
        try:
            return Key.parse(tried).text
        except SpellingError:
            continue
    return "C major"


def nearest_metre(text: str) -> str:
    """
    >>> nearest_metre("3/5"), nearest_metre("waltz"), nearest_metre("6-8")
    ('3/4', '4/4', '6/8')
    """
    numbers = re.findall(r"\d{1,2}", text)
    whole = "/".join(numbers[:2])
    if read_metre(whole):
        return whole
    return f"{int(numbers[0])}/4" if numbers and 1 <= int(numbers[0]) <= 24 else "4/4"
