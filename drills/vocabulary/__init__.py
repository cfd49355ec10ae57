"""Lines cut from solos and carried to every place where the same functions stand."""

from .carry import Carried, carry, in_twelve_keys, over_form, over_place
from .cut import CutChord, CutLine, CutNote, NothingToCut, cut
from .places import Place, Places, VocabularyIndex
from .variants import approached_from_the_other_side, from_another_beat, in_other_time, inverted

__all__ = [
    "Carried", "CutChord", "CutLine", "CutNote", "NothingToCut", "Place", "Places", "VocabularyIndex",
    "approached_from_the_other_side", "carry", "cut", "from_another_beat", "in_other_time", "in_twelve_keys", "inverted", "over_form", "over_place",
]  # fmt: skip
