"""The corrections of goals, as passes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from tunes.harmony.analysis.passes.draft import Draft, Pass
from tunes.harmony.analysis.preparation import corrections
from tunes.harmony.analysis.preparation.skeleton import Skeleton


def _on_bones(change: Callable[[Skeleton], Skeleton]) -> Callable[[Draft], Draft]:
    def work(draft: Draft) -> Draft:
        bones = change(draft.bones)
        return draft if bones is draft.bones else replace(draft, bones=bones)

    return work


GOALS = tuple(
    Pass(name, says, _on_bones(change))
    for name, says, change in (
        (
            "back-door",
            "flat 7 before the home tonic as a seventh is home by the back door",
            corrections.back_door_to_a_seventh,
        ),
        ("slips-at-once", "a dominant a semitone above a chord at rest goes there", corrections.slips_at_once),
        ("past-a-neighbour", "a dominant comes back from the one a semitone below it", corrections.past_a_neighbour),
        ("past-a-slide", "nothing aims at the middle of a slide", corrections.past_a_slide),
        (
            "tonics-turned-dominant",
            "1 as a seventh with its own 2, before minor 4, or after 1 itself, is 5 of 4",
            corrections.tonics_turned_dominant,
        ),
        (
            "suspensions-for-colour",
            "a suspended chord that is held or moves in parallel asks for nothing",
            corrections.suspensions_for_colour,
        ),
    )
)
"""One after the other, before any key is weighed."""
