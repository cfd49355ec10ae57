"""What the page that records needs to know: what is played, along which bars, with what in the headphones."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from drills.band.feel import swing_ratio
from drills.forms import TEMPO_HIGH, TEMPO_LOW
from drills.models import Take
from drills.sheets import Material
from drills.takes.plans import NothingToRecord, Plan, form_plan
from drills.takes.services import MOST_BYTES, MOST_SECONDS
from tunes.pitch import Sight

MOST_CHORUSES = 12
LIMITS = (
    f"At most {MOST_SECONDS // 60} minutes and {MOST_BYTES >> 20} MB, so that an instructor can hear a whole ensemble's takes "
    "and they fit on the programme's disk."
)
NAMES = {
    "band": "the band",
    "changes": "bass, chords and a click",
    "click": "a click",
    "nothing": "nothing after the count-in",
}


def recorder(
    user: Any,
    plan: Plan,
    *,
    tune: str = "",
    is_open: bool = False,
    playing: Mapping[str, Any] | None = None,
    **more: Any,
) -> dict[str, Any]:
    """Context of `drills/takes/_record.html`. `playing` is the band over what is played, as `drills.line_sound.over_band` gives
    it; `more` goes to the page's script."""
    if playing:
        parts = {name: playing.get(name, []) for name in ("bars", "bass", "piano", "drums")}
        more |= {"playing": parts | {"swing": bool(playing.get("swing"))}}
        if playing.get("swing"):
            more["swings"] = _swings()
    heard_with = ("band", *plan.heard_with) if playing else plan.heard_with
    setting = {
        "user": user.pk, "url": reverse("drills:take-new"), "kind": plan.kind, "revision": plan.revision, "line": plan.line,
        "query": plan.query, "title": plan.title, "tune": tune, "tempo": plan.tempo, "low": TEMPO_LOW, "high": TEMPO_HIGH,
        "most": MOST_CHORUSES, "bars": plan.sound["bars"], "chords": plan.sound["chords"],
        "subject": f"{plan.kind}/{plan.revision}/{plan.line}/{plan.query}", **more,
    }  # fmt: skip
    return {
        "setting": setting, "heard_with": [(name, NAMES[name]) for name in heard_with], "kinds": [], "limits": LIMITS,
        "is_open": is_open,
    }  # fmt: skip


def form_recorder(
    user: Any, material: Material, sight: Sight, *, tempo: int, style: str, swings: bool, is_open: bool = False
) -> dict[str, Any]:
    """For a chorus over the form with the band: a solo, or the melody where one is kept. Raises `EmptyPassage`."""
    plan = form_plan(material, Take.Kind.CHORUS, sight, tempo=tempo)
    band = reverse("drills:band_chorus", args=[material.revision.pk])
    asked = {"style": style} | ({"key": plan.band_key} if plan.band_key else {})
    more: dict[str, Any] = {"band": f"{band}?{urlencode(asked)}"}
    if swings:
        more["swings"] = _swings()
    made = recorder(user, plan, tune=material.revision.version.tune.title, is_open=is_open, **more)
    made["kinds"] = (
        [(Take.Kind.CHORUS, "A solo"), (Take.Kind.MELODY, "The melody")] if _has_melody(material, sight) else []
    )
    return made


def _swings() -> dict[str, float]:
    """The usual swing at every tempo."""
    return {str(pace): round(swing_ratio(pace), 2) for pace in range(TEMPO_LOW, TEMPO_HIGH + 1)}


def _has_melody(material: Material, sight: Sight) -> bool:
    try:
        form_plan(material, Take.Kind.MELODY, sight, tempo=120)
    except NothingToRecord:
        return False
    return True
