"""What the repertoire keeps about a person: charts, names and readings are the programme's, what somebody heard is theirs."""

from typing import Any

from studio.privacy.declared import Declared, Fate, declare, names_in
from tunes.access import held_back
from tunes.models import Tune


def not_held(path: str) -> Any:
    """Rows about tunes whose chords or analysis the person may see now; `path` leads to the tune."""

    def shown(rows: Any, person: Any) -> Any:
        return rows.exclude(**{f"{path}__in": list(held_back(person, Tune.objects.values_list("pk", flat=True)))})

    return shown


_MADE = (
    "Tune.created_by", "Recording.created_by", "ChartVersion.created_by", "ChartRevision.created_by", "ChartRevision.checked_by",
    "LabelOverride.by", "LabelOverride.withdrawn_by", "AreaOverride.by", "AreaOverride.withdrawn_by", "Idiom.made_by",
    "RecordingFile.uploaded_by", "FormMark.by", "Melody.by", "SoloRevision.by", "SoloWord.by", "SoloAsk.by", "BarCheck.settled_by",
)  # fmt: skip
declare(*(Declared(f"tunes.{row.partition('.')[0]}", row.partition(".")[2], Fate.KEEP) for row in _MADE))
declare(
    Declared("tunes.ChartDraft", "user", Fate.DELETE, export="chart-drafts", shows=not_held("tune")),
    Declared("tunes.ByEarBar", "sheet__user", Fate.DELETE, export="by-ear-bars", leaves_out=("serial",)),
    Declared("tunes.ByEarSheet", "user", Fate.DELETE, export="by-ear-sheets"),
    Declared(
        "tunes.BarCheck", "by", Fate.BLANK, ("note",), export="bar-checks", shows=not_held("revision__version__tune")
    ),
    Declared("tunes.Listening", "player", Fate.BLANK, ("noticed",), export="listening-log"),
    Declared("tunes.CautionSeen", "user", Fate.DELETE, export="cautions-seen"),
    Declared("tunes.EarResult", "player", Fate.KEEP, export="ear-exercises", leaves_out=("detail",)),
    Declared("tunes.Solo", "written_by", Fate.KEEP, export="solos", shows=not_held("revision__version__tune")),
    Declared("tunes.SoloRevision", "solo__written_by", Fate.KEEP, export="solo-notes"),
    Declared("tunes.OwnNote", "user", Fate.DELETE, export="notes-on-tunes"),
    Declared("tunes.PhraseByEar", "user", Fate.DELETE, export="phrases-by-ear", leaves_out=("notes",)),
    Declared("tunes.SoloTaken", "user", Fate.DELETE, export="solo-habits"),
    Declared("tunes.SoloAnswer", "player", Fate.KEEP, export="solo-answers"),
)
names_in(("tunes.SoloRevision", "why"))
