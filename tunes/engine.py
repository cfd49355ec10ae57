"""The one door through which the site calls the harmony engine."""
from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tunes.harmony import analysis as _analysis
from tunes.harmony.analysis import Analysis
from tunes.harmony.chart import Chart
from tunes.harmony.spelling import Key

try:
    from tunes.harmony.rules import RULES
except ImportError:
    RULES: Mapping[str, Any] = {}  # type: ignore[no-redef]
try:
    from tunes.harmony.form import name_form
except ImportError:
    def name_form(chart: Chart) -> Any:  # type: ignore[misc]
        return None

__all__ = ["RULES", "analyse", "name_form"]


def analyse(chart: Chart, held: Mapping[int, Key] | None = None) -> Analysis:
    """The engine's reading of a chart; `held` says which events a person has fixed in which key."""
    if not hasattr(_analysis, "analyse"):
        from tunes.provisional import read

        return read(chart, held or {})
    return _analysis.analyse(chart, held) if held else _analysis.analyse(chart)
