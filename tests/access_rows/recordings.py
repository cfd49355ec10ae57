"""Who gets what of recordings, by-ear sheets, bar checks, lead sheets and the exercise on the form.

Built after `tunes` (by name), whose tune, revision, version and recording it uses under names of its own.
"""

from __future__ import annotations

import io
import wave
from typing import Any

from django.core.files.base import ContentFile
from django.utils import timezone

from tests import factories
from tests.access import EDITORS, INSTRUCTORS, MEMBERS, SIGN_IN, Access, World, roles
from tunes.by_ear import services as by_ear
from tunes.checks import services as checks
from tunes.models import EarResult, Melody, Phrase, RecordingFile

GO_ON = roles(SIGN_IN, others=302)
EDITORS_GO_ON = roles(SIGN_IN, players=403, former=403, instructors=302)
EDITORS_TRY_AGAIN = roles(SIGN_IN, players=403, former=403, instructors=422)
OWNER = roles(SIGN_IN, others=404, player=200)
OWNER_GOES_ON = roles(SIGN_IN, others=404, player=302)


def tiny_wav(seconds: float = 1.0, rate: int = 8000) -> bytes:
    """Silence that a browser plays."""
    out = io.BytesIO()
    with wave.open(out, "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(rate)
        sound.writeframes(b"\x00\x00" * int(seconds * rate))
    return out.getvalue()


def build(world: World) -> None:
    tune = world["heard_tune"] = factories.make_tune()
    revision = world["heard_revision"] = factories.make_version(tune, name="heard version")
    factories.make_version(tune, "key: G major\n\nA:\n| Am7 Ab7 | Gmaj7 | Am7 D7 | Bm7 E7 |", name="another version")
    factories.make_version(
        tune, "key: Bb major\n\nA:\n| F7 | Bbmaj7 | Cm7 F7 | Bbmaj7 | Bbmaj7 |", name="a third version"
    )
    recording = world["heard_recording"] = factories.make_recording(tune)
    player = world.people["player"]
    data = tiny_wav()
    sound = RecordingFile(
        recording=recording, rights="our own", media_type="audio/wav", size=len(data), duration=1.0, digest="ab" * 32
    )
    sound.file.save("x", ContentFile(data), save=False)
    sound.save()
    world["sheet"] = by_ear.start_sheet(user=player, revision=revision, recording=recording, way="bass")
    by_ear.record_comparison(sheet=world["sheet"], score=0.5, detail={})
    world["sheet"].refresh_from_db()
    world["dispute"] = checks.say(
        revision=revision, bar=1, by=player, state="disputed", recording=recording, heard="Gm7"
    )
    world["phrase"] = Phrase.objects.create(tune=tune, label="a", first=1, last=2)
    world["melody"] = Melody.objects.create(version=revision.version, notes=[], rights="our own")
    world["ear_result"] = EarResult.objects.create(player=player, tune=tune, kind="variants", score=1)


def tune(world: World) -> dict[str, Any]:
    return {"tune": world["heard_tune"].pk}


def recording(world: World) -> dict[str, Any]:
    return {"pk": world["heard_recording"].pk}


def revision(world: World) -> dict[str, Any]:
    return {"revision": world["heard_revision"].pk}


def sheet(world: World) -> dict[str, Any]:
    return {"pk": world["sheet"].pk}


def dispute(world: World) -> dict[str, Any]:
    return {"pk": world["dispute"].pk}


def now(world: World) -> dict[str, Any]:
    return {"heard_on": timezone.localtime().strftime("%Y-%m-%dT%H:%M"), "noticed": "the bass"}


MISSING = {"pk": 987654}
ROWS = [
    Access("tunes:recordings", tune, get=MEMBERS),
    Access("tunes:recordings", lambda w: {"tune": 987654}, get=roles(SIGN_IN, others=404)),
    Access("tunes:heard-by", tune, get=INSTRUCTORS),
    Access("tunes:recording", recording, get=MEMBERS),
    Access("tunes:recording", lambda w: MISSING, get=roles(SIGN_IN, others=404)),
    Access("tunes:recording-sound", recording, get=MEMBERS),
    Access("tunes:recording-sound", recording, get=roles(SIGN_IN, others=206), headers={"Range": "bytes=0-9"}),
    Access("tunes:recording-sound", lambda w: MISSING, get=roles(SIGN_IN, others=404)),
    Access("tunes:recording-upload", recording, get=EDITORS, post=EDITORS_TRY_AGAIN),
    Access("tunes:recording-remove-sound", recording, post=EDITORS_GO_ON),
    Access(
        "tunes:recording-marks",
        recording,
        post=roles(SIGN_IN, players=403, former=403, instructors=200),
        data=lambda w: {"moments": "[]"},
    ),
    Access("tunes:recording-marks", recording, post=EDITORS_TRY_AGAIN, data=lambda w: {"moments": "{"}),
    Access("tunes:recording-heard", recording, post=GO_ON, data=now),
    Access("tunes:recording-heard", recording, post=roles(SIGN_IN, others=422)),
    Access("tunes:listening-log", get=MEMBERS),
    Access("tunes:caution-seen", lambda w: {"name": "hearing"}, post=GO_ON),
    Access("tunes:melody-map", tune, get=MEMBERS),
    Access("tunes:phrase-add", tune, post=EDITORS_TRY_AGAIN),
    Access("tunes:phrase-remove", lambda w: {"pk": w["phrase"].pk}, post=EDITORS_GO_ON),
    Access("tunes:words", tune, post=EDITORS_GO_ON),
    Access("tunes:by-ear-start", tune, get=MEMBERS, post=GO_ON, data=lambda w: {"way": "bass"}),
    Access("tunes:by-ear", sheet, get=OWNER),
    Access("tunes:by-ear-save", sheet, post=OWNER, data=lambda w: {"bar": 0, "field": "chords", "text": "Cm7 F7"}),
    Access("tunes:by-ear-save", sheet, post=roles(SIGN_IN, others=404, player=422)),
    Access("tunes:by-ear-undo", sheet, post=OWNER),
    Access("tunes:by-ear-share", sheet, post=OWNER_GOES_ON),
    Access("tunes:by-ear-compare", sheet, get=OWNER, post=OWNER_GOES_ON),
    Access("tunes:check", revision, get=MEMBERS),
    Access("tunes:check-bar", lambda w: revision(w) | {"bar": 0}, post=GO_ON, data=lambda w: {"state": "agreed"}),
    Access("tunes:check-bar", lambda w: revision(w) | {"bar": 0}, post=roles(SIGN_IN, others=422)),
    Access("tunes:check-bar", lambda w: revision(w) | {"bar": 999}, post=roles(SIGN_IN, others=404)),
    Access("tunes:check-rest", revision, post=GO_ON),
    Access("tunes:check-withdraw", dispute, post=OWNER_GOES_ON),
    Access("tunes:disputes", get=EDITORS),
    Access("tunes:check-settle", dispute, post=EDITORS_GO_ON, data=lambda w: {"decision": "keep"}),
    Access("tunes:check-settle", dispute, post=EDITORS_TRY_AGAIN, data=lambda w: {"decision": "change"}),
    Access("tunes:lead-sheet-import", get=EDITORS, post=EDITORS_TRY_AGAIN),
    Access("tunes:lead-sheet-keep", post=EDITORS_TRY_AGAIN),
    Access("tunes:export-musicxml", revision, get=MEMBERS),
    Access("tunes:export-text", revision, get=MEMBERS, query="?analysis=yes"),
    Access("tunes:melody-import", tune, get=MEMBERS, post=EDITORS_TRY_AGAIN),
    Access("tunes:melody-remove", lambda w: tune(w) | {"pk": w["melody"].pk}, post=EDITORS_GO_ON),
    Access("tunes:top-of-form", tune, get=MEMBERS),
    Access("tunes:top-of-form-finish", tune, post=MEMBERS, data=lambda w: {"taps": "[0, 16.2]", "choruses": 1}),
    Access("tunes:top-of-form-finish", tune, post=roles(SIGN_IN, others=422)),
    Access("tunes:compare", tune, get=MEMBERS),
    Access("tunes:compare", lambda w: {"tune": 987654}, get=roles(SIGN_IN, others=404)),
    Access("tunes:by-ear-chord", get=MEMBERS, query="?notes=50,53,60&key=C"),
    Access("tunes:variants-quiz", tune, get=MEMBERS, post=roles(SIGN_IN, others=422)),
    Access("tunes:jam-card", tune, get=MEMBERS),
    Access("tunes:memory-sheet", tune, get=MEMBERS),
]
