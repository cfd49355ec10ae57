"""What a token may be used for, as one table. A scope never gives more than its owner may do on the pages."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Scope:
    """One row: `id` as sent and stored, and the sentence the owner reads when making a token."""

    id: str
    sentence: str


TUNES_READ, TUNES_WRITE = "tunes:read", "tunes:write"
WORK_READ, WORK_WRITE = "work:read", "work:write"
TEACH, LEDGER_READ = "teach", "ledger:read"
PEOPLE_READ, PEOPLE_WRITE = "people:read", "people:write"
CHANGES_READ = "changes:read"

SCOPES: tuple[Scope, ...] = (
    Scope(TUNES_READ, "Read tunes, recordings, charts and their analysis"),
    Scope(TUNES_WRITE, "Add and change tunes, recordings and charts; overrule labels"),
    Scope(WORK_READ, "Read assignments, attempts and what came back"),
    Scope(WORK_WRITE, "Answer, hand in and log listening as a player"),
    Scope(TEACH, "Assign, review and sign off as an instructor"),
    Scope(LEDGER_READ, "Read the ledger"),
    Scope(PEOPLE_READ, "Read names and addresses of the people you lead, of everybody as the director"),
    Scope(PEOPLE_WRITE, "Give and take chairs as the director"),
    Scope(CHANGES_READ, "Read what has changed, of what is ticked besides, as the director"),
)
# What a service may be given. It reads whatever stands behind them, and changes chairs and nothing else: what somebody
# answers for with their name (assigning, reviewing, signing off, a chart) is a person's.
SERVICE_SCOPES: tuple[Scope, ...] = (
    Scope(TUNES_READ, "Read tunes, recordings, charts and their analysis"),
    Scope(WORK_READ, "Read terms, ensembles, assignments"),
    Scope(TEACH, "Read what instructors read: attempts with answers and marks"),
    Scope(LEDGER_READ, "Read the ledger"),
    Scope(PEOPLE_READ, "Read names and addresses of everybody"),
    Scope(PEOPLE_WRITE, "Give and take chairs"),
    Scope(CHANGES_READ, "Read what has changed, of what is ticked besides"),
)
SCOPE_IDS = frozenset(scope.id for scope in SCOPES)
