"""The harmonic analysis of a chart.

The result types live in `tunes.harmony.reading` and are exported here: import them from this module.
"""

from __future__ import annotations

from tunes.harmony.functions import Function
from tunes.harmony.reading import Alternative, Analysis, KeyArea, Reading

__all__ = ["Alternative", "Analysis", "Function", "KeyArea", "Reading"]
