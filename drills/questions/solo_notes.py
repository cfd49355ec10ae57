"""Kind "solo-notes": what each note of a passage is over its chord, and what it does there.

The notes come with the options, already read against the changes when the quiz was issued (`NoteFacts`), because a question
carries its whole key: a later correction of the solo regrades nobody. `part` "degree" asks for the degree alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from drills.questions.base import KeyJson, Options, Question

KIND = "solo-notes"
MOST = 64  # notes of one quiz
DEGREE_ALONE = "degree"


@dataclass(frozen=True, slots=True)
class NoteFacts:
    """One note of a passage. `place` in words ("chorus 1, bar 3, beat 2"), `bar` of the form as played; `note` and `chord` in
    concert pitch; `degree` "b9", `semitones` above the chord's root, `role` as in `tunes.melody`, `also` roles that are as
    right, `why` the sentence, in concert pitch."""

    place: str
    bar: int
    note: str
    chord: str
    degree: str
    semitones: int
    role: str
    also: tuple[str, ...] = ()
    leads: tuple[int, str, str, str] | None = None

    def to_json(self) -> dict[str, Any]:
        """Plain data for the options of a step."""
        return asdict(self) | {"also": list(self.also), "leads": list(self.leads) if self.leads else None}


def build_solo_notes(study: Any, options: Options, seed: int) -> tuple[Question, ...]:
    """One question for every note, in order. `study` gives the home key alone."""
    home = study.analysis.home.text
    alone = options.part == DEGREE_ALONE
    asked = "its degree" if alone else "its degree, and what it does"
    return tuple(
        Question(
            f"{KIND}:{number}", KIND, f"{capital(str(facts['place']))}, {{from}} over {{chord}}: {asked}.", None, int(facts["bar"]),
            _key(facts, home, alone), {"chord": facts["chord"], "from": facts["note"], "home": home},
        )
        for number, facts in enumerate(options.notes[:MOST], 1)
    )  # fmt: skip


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _key(facts: Mapping[str, Any], home: str, alone: bool) -> KeyJson:
    return {"kind": KIND, "home": home, "alone": alone, "version": 1, **facts}
