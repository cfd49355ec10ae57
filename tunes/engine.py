"""The one door through which the site calls the harmony engine."""
from __future__ import annotations

from tunes.harmony.analysis import ENGINE, RULES, analyse
from tunes.harmony.form import name_form
from tunes.harmony.landing import landing

__all__ = ["ENGINE", "RULES", "analyse", "landing", "name_form"]
