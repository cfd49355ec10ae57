"""Why a file is refused, in words for the person who chose it."""

from __future__ import annotations

from dataclasses import dataclass


class Refused(ValueError):
    """The file cannot be read. `str(error)` says where and what to do; `code` is stable for tests and logs."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code


@dataclass(frozen=True)
class Loss:
    """One thing the file said that the chart cannot keep.

    `what` is one of the keys of `LOSSES`; `bar` is the bar number of the chart (0 a pickup, None the
    whole file); `detail` says what was there and what stands in its place.
    """

    what: str
    bar: int | None
    detail: str


# What may be lost on the way in, each with the sentence a reader sees.
LOSSES: dict[str, str] = {
    "functional-kind": "A chord named by its function was read as the sound it makes.",
    "unknown-kind": "A chord kind outside MusicXML 4.0 was left out.",
    "degree": "Some notes of a chord have no place in our chord symbols.",
    "no-root": "A chord without a root was left out.",
    "stacked": "A second chord stacked on the first was left out.",
    "simultaneous": "Of two chords at one moment the later one was kept.",
    "key-change": "A change of key signature is not written on the chart; the analysis finds key areas itself.",
    "odd-key": "A key signature that is not on the circle of fifths was ignored.",
    "metre": "A metre that is no plain count of beats was read as its sum.",
    "no-metre": "Music without a metre was read as 4/4.",
    "short-bar": "A bar shorter or longer than its metre was kept as a bar of the metre.",
    "repeat": "A repeat sign without a partner was left out.",
    "ending": "An ending without its repeat was written out plainly.",
    "jump": "A jump in the form could not be kept.",
    "offbeat": "A chord between the places the chart can show was moved to the nearest one.",
    "crowded": "More chords in a bar than the chart can show.",
    "microtone": "A note between the keys of the piano was moved to the nearest one.",
    "part": "Chords of another part were left out.",
    "frame": "Fingering pictures are not kept.",
    "figured-bass": "Figured bass is not kept.",
    "empty-bar": "Bars before the first chord were read as N.C.",
    "lyrics": "Words under the notes are not kept, because lyrics are under copyright.",
}
