"""Packs: one booklet for each transposition of an ensemble, made in the background, kept once.

A finished part is a file named by a digest of everything in it, so two tenor chairs share one, a pack that is made
again costs nothing, and a job that was killed goes on where it stopped. One part is in memory at a time.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import tempfile
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.text import slugify

from drills import kept_lines, selectors, sheets
from drills.lines.passage import EmptyPassage
from drills.models import KeptLine, Pack, PackPart
from drills.selectors import chair_instruments
from drills.sheets import Material
from drills.wishes import Wish
from studio.instruments import CONCERT, INSTRUMENTS
from studio.jobs import JobError, Progress, start_job
from studio.models import Ensemble, Job, Membership, User
from studio.notices import notify_many
from tunes.models import ChartRevision

KIND = "drills-pack"
FORMAT = 4
"""Raised whenever a finished part would come out differently."""


def make_pack(
    *,
    ensemble: Ensemble,
    revision: ChartRevision,
    wishes: Sequence[Wish],
    with_chart: bool,
    by: User,
    line: KeptLine | None = None,
    chart_only: Sequence[str] = ("drums",),
    key: str = "",
) -> Pack:
    """A new pack with a part for every instrument of the ensemble, and the job that makes it. `line`: in twelve keys as well.
    `chart_only`: instruments whose part is the chart alone, the form and the rhythm of its changes; none beside a line.
    `key`: the concert key of the day, "" as on the chart."""
    with transaction.atomic():
        pack = Pack.objects.create(
            ensemble=ensemble,
            revision=revision,
            wishes=[plain(wish) for wish in wishes],
            key=key,
            with_chart=with_chart,
            line=line,
            chart_only=[] if line else list(chart_only),
            made_by=by,
        )
        PackPart.objects.bulk_create(
            PackPart(pack=pack, instrument=key if key in INSTRUMENTS else CONCERT.key)
            for key in dict.fromkeys(chair_instruments(pack))
        )
        start(pack, by)
    return pack


def start(pack: Pack, by: User) -> Job:
    """Make (again) whatever part of a pack is not there."""
    pack.job = start_job(by, KIND, {"pack": pack.pk}, total=pack.parts.count())
    pack.save(update_fields=["job"])
    return pack.job


def plain(wish: Wish) -> dict[str, Any]:
    """What of a wish belongs to the pack: not whose instrument it was chosen for."""
    return wish.recipe.to_json() | {"order": wish.order, "functions": wish.functions}


def chosen_for(pack: Pack, instrument: str) -> tuple[list[dict[str, Any]], bool]:
    """What the part of one instrument holds: its drills, and whether the chart stands before them."""
    if instrument in pack.chart_only:
        return [], True
    return pack.wishes, pack.with_chart


def wish_for(data: dict[str, Any], instrument: str) -> Wish:
    """The wish of a pack for one instrument."""
    query = dict(data)
    if query.get("events"):
        query["events"] = "-".join(str(part) for part in query["events"])
    return Wish.from_query(query, instrument=instrument)


def make_parts(progress: Progress) -> dict[str, Any]:
    """The job: every part that has no file yet, one after the other."""
    from django.urls import reverse

    pack = Pack.objects.get(pk=progress.payload["pack"])
    material = selectors.material(pack.revision_id, pack.key)
    if material is None:
        raise JobError("The chart of this pack is gone: make a new pack.")
    parts = list(pack.parts.all())
    for done, part in enumerate(parts):
        name = INSTRUMENTS[part.instrument].name
        progress.step(done, len(parts), f"{name}, part {done + 1} of {len(parts)}")
        _make_part(pack, part, material)
    progress.step(len(parts), len(parts))
    return {"parts": len(parts), "next": reverse("drills:pack", args=[pack.pk])}


def _make_part(pack: Pack, part: PackPart, material: Material) -> None:
    try:
        digest = _kept(pack, part.instrument, material)
        path = part_path(digest)
        part.digest, part.pages, part.problem = digest, _pages(path), ""
    except EmptyPassage as error:
        part.digest, part.pages, part.problem = "", 0, str(error)[:200]
    part.save(update_fields=["digest", "pages", "problem"])


def _kept(pack: Pack, instrument: str, material: Material, *, open_analysis: bool = True) -> str:
    """The digest of a part whose file is there, made now if it was not."""
    digest = part_digest(pack, instrument, material, open_analysis=open_analysis)
    if not part_path(digest).exists():
        wishes, with_chart = chosen_for(pack, instrument)
        content = build_part(
            wishes, instrument, material, with_chart=with_chart, open_analysis=open_analysis, line=pack.line
        )
        keep(part_path(digest), content)
    return digest


def without_analysis(pack: Pack, instrument: str) -> Path | None:
    """The part as a player gets it who still has to answer what an analysis tells: no function, no key area. Made when
    it is asked for, kept once. None where the chart holds nothing to print."""
    material = selectors.material(pack.revision_id, pack.key)
    try:
        return part_path(_kept(pack, instrument, material, open_analysis=False)) if material else None
    except EmptyPassage:
        return None


def part_digest(pack: Pack, instrument: str, material: Material, *, open_analysis: bool = True) -> str:
    """Names the content of a part: chart, overrules and melody, drills, transposition, whether the analysis is told."""
    version = material.revision.version
    wishes, with_chart = chosen_for(pack, instrument)
    content: list[Any] = [
        FORMAT if open_analysis else f"{FORMAT} without analysis", material.mark, wishes, with_chart, instrument, version.tune.title, version.tune.composer,
        version.name,
    ]  # fmt: skip
    if pack.line is not None:
        content.append(["line", pack.line_id, pack.line.name])
    return hashlib.sha256(json.dumps(content, sort_keys=True, default=str).encode()).hexdigest()


def build_part(
    wishes: Sequence[dict[str, Any]],
    instrument: str,
    material: Material,
    *,
    with_chart: bool,
    open_analysis: bool = True,
    line: KeptLine | None = None,
) -> bytes:
    """The PDF of one transposition, a line in its twelve keys last. Without `open_analysis` no key area or function is told. Raises `EmptyPassage` when a drill asks for bars that hold no chord."""
    from drills.printing import Booklet, PrintedSheet, sheet_of_line, to_pdf

    player, revision = INSTRUMENTS[instrument], material.revision
    tune = revision.version.tune
    written = material.study.for_instrument(player)
    pages: list[PrintedSheet] = []
    if with_chart:
        about = f"{tune.composer} · " if tune.composer else ""
        subtitle = f"{about}{revision.version.name} · {written.key.display} · {player.pitch_label}"
        pages.append(PrintedSheet(tune.title, subtitle, chart=written.chart))
    for data in wishes:
        wish = wish_for(data, instrument)
        pages += [
            sheet_of_line(
                line,
                tune=tune.title,
                credit=tune.composer,
                pitch=wish.pitch_label,
                functions=wish.functions and open_analysis,
            )
            for line in sheets.lines(material.study, wish, open_analysis=open_analysis, melody=material.melody)
        ]
    if line is not None:
        pages += [
            sheet_of_line(one, tune=tune.title, credit=line.solo.player, pitch=wish_for({}, instrument).pitch_label)
            for one in kept_lines.on_paper(kept_lines.line_of(line), player)
        ]
    footer = f"{tune.title} · {player.name} · {revision.version.name}, revision {revision.number}"
    return to_pdf(Booklet(title=f"{tune.title}: {player.name}", sheets=tuple(pages), footer=footer))


def part_path(digest: str) -> Path:
    """Where a part is kept: below the media folder, sent only by a view that checks who asks."""
    return Path(settings.MEDIA_ROOT) / "packs" / f"{digest}.pdf"


def in_one_file(pack: Pack, *, open_analysis: bool = True) -> bytes:
    """Every part that is made, as one ZIP archive; the files inside are named by tune and instrument. Without
    `open_analysis` no key area or function is told in them."""
    tune, out = pack.revision.version.tune.title, io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for part in pack.parts.exclude(digest=""):
            path = part_path(part.digest) if open_analysis else without_analysis(pack, part.instrument)
            if path is not None and path.exists():
                archive.write(path, f"{slugify(f'{tune} {part.instrument}') or part.instrument}.pdf")
    return out.getvalue()


def keep(path: Path, content: bytes) -> None:
    """Written aside and renamed: a part is there whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent)
    with os.fdopen(handle, "wb") as file:
        file.write(content)
    os.replace(name, path)


def _pages(path: Path) -> int:
    """Pages of a PDF made by us: typst writes one uncompressed /Type /Page object a page."""
    import re

    return len(re.findall(rb"/Type\s*/Page[^s]", path.read_bytes()))


def share(pack: Pack) -> int:
    """Tell the players of the ensemble that their part is there; returns how many were told. Only the first time."""
    if not Pack.objects.filter(pk=pack.pk, shared=None).update(shared=timezone.now()):
        return 0
    players = User.objects.filter(
        memberships__ensemble=pack.ensemble_id, memberships__role=Membership.Role.PLAYER, is_active=True
    ).distinct()
    tune = pack.revision.version.tune
    return len(
        notify_many(players, "pack", f"A practice pack of {tune.title} is ready for you.", f"/drills/packs/{pack.pk}/")
    )
