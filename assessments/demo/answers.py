"""What demo players write: mostly right, in the many ways musicians write it, sometimes wrong the usual ways."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from tunes.harmony.chords import parse_symbol
from tunes.harmony.pitch.spelling import Interval, Key
from tunes.harmony.readings.function import Function


def answers_for(
    questions: Sequence[Mapping[str, Any]],
    skill: float,
    rng: random.Random,
    *,
    name_keys: bool = False,
    written: str = "P1",
) -> dict[str, str]:
    """An answer for every question that this player answers; `skill` is the share that is right.

    Keys are typed as the player reads them: `written` is the interval from concert pitch.
    """
    writers = {
        "function": _function,
        "form": _form,
        "key-areas": _key_areas,
        "changes": _changes,
        "by-heart": _by_heart,
    }
    found = {}
    for question in questions:
        text = writers.get(question["kind"], _nothing)(question["key"], rng.random() < skill, rng, name_keys, written)
        if text:
            found[question["id"]] = text
    return found


def _function(key: Mapping[str, Any], right: bool, rng: random.Random, name_keys: bool, written: str) -> str:
    function = Function.from_json(key["expected"])
    text = rng.choice((function.numeral, function.numeral, function.spoken)) if right else _wrong(key, rng)
    if name_keys and key.get("new_area") and text:
        text = f"{_short(key['key'], written)}: {text}"
    return text


def _wrong(key: Mapping[str, Any], rng: random.Random) -> str:
    """The number without its quality, the chord beside it, the dominant for the substitute, or nothing."""
    function = Function.from_json(key["expected"])
    beside = [Function.from_json(n["function"]).numeral for n in key.get("neighbours") or ()]
    return rng.choice((function.degree, *beside, "V7" if function.role == "dominant" else "ii7", ""))


def _form(key: Mapping[str, Any], right: bool, rng: random.Random, _name_keys: bool, _written: str) -> str:
    letters, lengths = "".join(key["letters"]), [str(n) for n in key["lengths"]]
    said = {
        "letters": letters,
        "lengths": " ".join(lengths),
        "bars": str(key["bars"]),
        "bridge": str(key["bridge"]),
        "name": str(key.get("name", "")),
    }
    slips = {"letters": "AABA", "lengths": "8 8 8 8", "bars": "32", "bridge": "16", "name": "AABA"}
    return (said if right else slips).get(key["part"], "")


def _key_areas(key: Mapping[str, Any], right: bool, rng: random.Random, _name_keys: bool, written: str) -> str:
    areas = key["areas"] if right or len(key["areas"]) < 2 else key["areas"][:-1]
    return ", ".join(f"{area['bar']} {_short(area['key'], written)}" for area in areas)


def _changes(key: Mapping[str, Any], right: bool, rng: random.Random, _name_keys: bool, written: str) -> str:
    """The bar as heard; or the last chord missed, the 7th not heard, the bass alone, nothing."""
    move = Interval.parse(written)
    heard = [parse_symbol(chord["chord"]).symbol for chord in key["chords"]]
    texts = [symbol.transposed(move).text if symbol else "N.C." for symbol in heard]
    if right:
        return _spread(texts, [Fraction(chord["beats"]) for chord in key["chords"]])
    first = heard[0].transposed(move) if heard[0] else None
    minor = first.root.text + ("m7" if first.third and first.family == "major" else "7") if first else "N.C."
    return rng.choice((texts[0] if len(texts) > 1 else minor, minor, first.root.text if first else "", ""))


def _by_heart(key: Mapping[str, Any], right: bool, rng: random.Random, name_keys: bool, written: str) -> str:
    """The bar from memory, or its numbers; wrong the ways that changes by ear are."""
    if key["part"] != "numbers":
        return _changes(key, right, rng, name_keys, written)
    numerals = [Function.from_json(chord["expected"]).numeral for chord in key["chords"]]
    return " ".join(numerals) if right else rng.choice((numerals[0], ""))


def _spread(texts: Sequence[str], beats: Sequence[Fraction]) -> str:
    """Chords of one bar: side by side when each lasts as long, else a slash for each further beat."""
    if len(set(beats)) == 1 or any(beat.denominator != 1 for beat in beats):
        return " ".join(texts)
    return " ".join(text + " /" * (int(beat) - 1) for text, beat in zip(texts, beats, strict=True))


def _short(key: str, written: str) -> str:
    read = Key.parse(key).transposed(Interval.parse(written))
    return read.tonic.text if read.mode == "major" else f"{read.tonic.text} minor"


def _nothing(key: Mapping[str, Any], right: bool, rng: random.Random, name_keys: bool, written: str) -> str:
    return ""
