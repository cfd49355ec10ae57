"""Who may see or change what in the repertoire.

Everybody signed in sees tunes and charts; the director and the instructors of terms that have not ended change them.
What a tune's open work asks for is held back from the person who still has to answer it, whatever they lead elsewhere:
its analysis (functions, key areas), the name of its form, or, while its changes are to be taken down by ear, the chords
of every chart of it. Which tunes those are is known by the apps above this one; they register a test here, so that
nothing points upwards.

This is the one place that decides. A page or call that shows chords calls `refuse_held_chords` before anything
else, which also says whether the analysis is held back; one that lists tunes asks `held_back` or
`closed` and leads to none of those.
`tests/test_held_chords.py` opens every address of the site and finds those that forgot.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied

from studio.access import can_edit_repertoire, may_be_asked, require
from tunes.models import Solo, Tune


@dataclass(frozen=True)
class Hold:
    """Why something of a tune is held back, in plain words. `chords`: the chords too, not only what they do.

    `form` is why its form is not named, "" when it may be; `analysis` is False where nothing but that is held.
    `url` leads to the work that opens it.
    """

    reason: str
    chords: bool = False
    url: str = ""
    form: str = ""
    analysis: bool = True

    def __or__(self, other: Hold) -> Hold:
        """Both at once: the reason of the one that holds more, and all that either holds."""
        more, less = (other, self) if (other.chords, other.analysis) > (self.chords, self.analysis) else (self, other)
        return replace(more, form=more.form or less.form)


HoldTest = Callable[[Any, set[int]], dict[int, Hold]]
OpenTest = Callable[[int, Iterable[int]], list[str]]
_HOLDS: list[HoldTest] = []
_OPEN: list[OpenTest] = []
MelodyTest = Callable[[Any, int], bool]
_MELODY: list[MelodyTest] = []
SoloTest = Callable[[Any, "Solo"], "Hold | None"]
_SOLOS: list[SoloTest] = []
_FORM_LINE = re.compile(r"^[ \t]*form[ \t]*:.*(?:\n|\Z)", re.IGNORECASE | re.MULTILINE)

signed_in_required = login_required
editor_required = require(can_edit_repertoire)


class ChordsHeld(PermissionDenied):
    """The chords of a tune are held back from this person; the error page says why and where to go on."""

    def __init__(self, hold: Hold) -> None:
        super().__init__(hold.reason)
        self.heading = "The chart is closed for now"
        self.advice, self.url, self.link = hold.reason, hold.url, "Go to the changes by ear"


def hold_from_players(test: HoldTest) -> HoldTest:
    """Register `test(user, tune ids) -> {tune id: hold}`: what that player may not see yet."""
    if test not in _HOLDS:
        _HOLDS.append(test)
    return test


def asked_of_players(test: OpenTest) -> OpenTest:
    """Register `test(tune id, ensemble ids) -> sentences`: work on a tune that those ensembles have still to answer."""
    if test not in _OPEN:
        _OPEN.append(test)
    return test


def still_asked(tune: int, ensembles: Iterable[int]) -> list[str]:
    """What of a tune is asked of these ensembles and not answered yet, a sentence each: what is handed out would tell it."""
    wanted = list(ensembles)
    return [sentence for test in _OPEN for sentence in test(tune, wanted)]


class SoloHeld(PermissionDenied):
    """The notes of a solo are what this person is asked to write out; the error page says so and leads to the step."""

    def __init__(self, hold: Hold) -> None:
        super().__init__(hold.reason)
        self.heading = "These notes are asked of you"
        self.advice, self.url, self.link = hold.reason, hold.url, "Go to the step"


def solo_asked_of(test: SoloTest) -> SoloTest:
    """Register `test(user, solo)`: the hold where that player is asked to write out what the solo holds, else None."""
    if test not in _SOLOS:
        _SOLOS.append(test)
    return test


def refuse_asked_solo(user: Any, solo: Solo) -> None:
    """Raises `SoloHeld` where the notes of a solo by somebody else are what `user` has still to write out."""
    for test in _SOLOS:
        hold = test(user, solo) if solo.written_by_id != user.pk else None
        if hold is not None:
            raise SoloHeld(hold)


def melody_asked_of(test: MelodyTest) -> MelodyTest:
    """Register `test(user, tune id)`: whether that player is asked for the melody of a tune, by ear or from memory."""
    if test not in _MELODY:
        _MELODY.append(test)
    return test


def melody_asked(user: Any, tune: int) -> bool:
    """Whether `user` takes the melody of a tune down by ear, or is asked for it from memory: a page that draws its notes asks first."""
    return any(test(user, tune) for test in _MELODY)


def holds(user: Any, tunes: Iterable[Tune | int]) -> dict[int, Hold]:
    """Of these tunes, those of which something is held back from `user`. Where chords are held, that says it."""
    if not may_be_asked(user):
        return {}
    wanted = {tune if isinstance(tune, int) else tune.pk for tune in tunes}
    found: dict[int, Hold] = {}
    for test in _HOLDS:
        for tune, hold in test(user, wanted).items():
            found[tune] = found[tune] | hold if tune in found else hold
    return found


def held_back(user: Any, tunes: Iterable[Tune | int]) -> dict[int, str]:
    """Of these tunes, those whose analysis `user` may not see yet, each with the reason in plain words."""
    return {tune: hold.reason for tune, hold in holds(user, tunes).items() if hold.analysis}


def unnamed_forms(user: Any, tunes: Iterable[Tune | int]) -> dict[int, str]:
    """Of these tunes, those whose form `user` has still to say: it is named nowhere. Each with the reason."""
    return {tune: hold.form for tune, hold in holds(user, tunes).items() if hold.form}


def text_without_form(text: str) -> str:
    """The text of a chart without the line in which it names its form.

    >>> text_without_form("key: F\\nform: AABA\\n| F |")
    'key: F\\n| F |'
    """
    return _FORM_LINE.sub("", text)


def closed(user: Any, tunes: Iterable[Tune | int]) -> dict[int, Hold]:
    """Of these tunes, those whose very chords are held back from `user`: lists lead nowhere there."""
    return {tune: hold for tune, hold in holds(user, tunes).items() if hold.chords}


def refuse_held_chords(user: Any, tune: Tune | int, *, form: bool = False) -> str:
    """Raise `ChordsHeld` (403) when `user` may not see the chords of this tune yet.

    Otherwise why its analysis is held back, "" when it is not: pages that show both need ask only once. `form`: the
    page names the form as well, so that this too is a reason.
    """
    return _refused(holds(user, [tune]).values(), form)


def refuse_among(user: Any, tune: Tune | int, others: Iterable[int]) -> tuple[str, set[int]]:
    """`refuse_held_chords` for one tune, and which of the others (ids) have their analysis held back: asked at once."""
    pk = tune if isinstance(tune, int) else tune.pk
    beside = set(others)
    found = holds(user, {pk, *beside})
    reason = _refused([found[pk]] if pk in found else [], False)
    return reason, {other for other in beside & set(found) if found[other].analysis}


def _refused(found: Iterable[Hold], form: bool) -> str:
    for hold in found:
        if hold.chords:
            raise ChordsHeld(hold)
        return hold.reason if hold.analysis else hold.form if form else ""
    return ""
