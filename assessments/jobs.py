"""Background work of the assessments."""

from __future__ import annotations

from typing import Any

from assessments.services import reanalysis
from studio.jobs import Progress, handler, on_start


@handler(reanalysis.KIND)
def read_charts_again(progress: Progress) -> dict[str, Any]:
    """Every chart that another engine has read."""
    return reanalysis.result_of(reanalysis.reanalyse(step=progress.step))


on_start(reanalysis.start_if_stale)
