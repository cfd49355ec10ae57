"""Marks of a bar: comments, endings, metres, pickups, signs and jumps, read into the bar they belong to."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from tunes.harmony.charts.bars import Bar
from tunes.harmony.charts.tokens import Token, read_endings, read_metre, read_pickup, read_sign
from tunes.harmony.problems import Problem

Found = list[Problem | str]


def problem_at(token: Token, message: str, suggestion: str = "", *, removes: bool = False) -> Problem:
    """A problem of one mark, at its place."""
    return Problem(message, suggestion, token.start, token.end, removes=removes)


def ends_a_bar(token: Token) -> bool:
    """Whether a mark can follow the barline of the bar that it belongs to: a comment, "to coda", "fine", a jump."""
    if token.kind in ("ending", "metre"):
        return False
    inside = token.text.strip("<>").strip()
    if token.kind == "angle" and (read_pickup(inside)[0] or ("/" in inside and read_metre(inside))):
        return False
    sign = read_sign(inside) if token.kind in ("sign", "angle") else None
    return sign is None or sign.name not in ("segno", "coda")


def marked(bar: Bar, token: Token, found: Found, *, first: bool) -> Bar:
    """The bar with one mark read into it; `first` in the first bar of the chart."""
    if token.kind == "comment":
        return _commented(bar, token.text[1:].rstrip('"'), token, found)
    if token.kind == "ending":
        return replace(bar, endings=read_endings(token.text))
    if token.kind == "metre":
        return _with_metre(bar, token, token.text, found)
    if token.kind == "sign":
        return _signed(bar, token, token.text, found)
    inside = token.text.strip("<>").strip()
    pickup, beats = read_pickup(inside)
    if pickup:
        return _picked_up(bar, token, beats, found, first=first)
    if "/" in inside and read_metre(inside):
        return _with_metre(bar, token, inside, found)
    if read_sign(inside):
        return _signed(bar, token, inside, found)
    found.append(problem_at(token, f"“{inside}” is not a sign; it is kept as a comment.", f'"{inside}"'))
    return replace(bar, comment=_joined(bar.comment, token.text))


def _commented(bar: Bar, text: str, token: Token, found: Found) -> Bar:
    if len(token.text) < 2 or not token.text.endswith('"'):
        found.append(problem_at(token, "A comment ends with a second quotation mark.", f'"{text.strip()}"'))
    return replace(bar, comment=_joined(bar.comment, text))


def _joined(old: str, new: str) -> str:
    return " ".join(f"{old} {new}".split())


def _with_metre(bar: Bar, token: Token, text: str, found: Found) -> Bar:
    metre = read_metre(text)
    if metre is None:
        found.append(problem_at(token, f"“{token.text}” is not a metre.", "3/4"))
        return replace(bar, comment=_joined(bar.comment, token.text))
    return replace(bar, metre=metre)


def _signed(bar: Bar, token: Token, text: str, found: Found) -> Bar:
    sign = read_sign(text)
    if sign is None:
        return replace(bar, comment=_joined(bar.comment, token.text))
    if sign.name in ("D.C.", "D.S."):
        if bar.jump:
            found.append(problem_at(token, "A bar can have one jump; the last one counts.", removes=True))
        return replace(bar, jump=sign.name, jump_to=sign.until)
    flag = {"segno": "segno", "coda": "coda", "to coda": "to_coda", "fine": "fine"}[sign.name]
    return replace(bar, **{flag: True})  # type: ignore[arg-type]


def _picked_up(bar: Bar, token: Token, beats: Fraction | None, found: Found, *, first: bool) -> Bar:
    if not first:
        found.append(problem_at(token, "Only the first bar of a chart can be a pickup bar.", removes=True))
        return replace(bar, comment=_joined(bar.comment, token.text))
    if beats is not None and not 0 < beats < bar.metre.beats:
        found.append(
            problem_at(
                token,
                f"A pickup is shorter than a bar of {bar.metre.beats} beats.",
                "<pickup 1>" if token.text.startswith("<") and token.width < 0 else "1",
            )
        )
        beats = None
    return replace(bar, number=0, length=beats)
