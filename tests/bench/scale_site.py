"""A programme of any size and age, written in bulk: what twenty years of a conservatory leave in the database.

Players stay four years; each term has ensembles of sixteen, three tunes for each, and for each tune a listening log, three
quizzes of four questions (every fourth player goes twice) and a sign-off. Only the last term is running, with a third of
its last sheets still to be reviewed. Charts and quizzes are made by the site's own services and then repeated.
"""

from __future__ import annotations

import datetime as dt
import json
import random
import uuid
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import count
from typing import Any

from django.db import connection, transaction
from django.db.models import JSONField, Model
from django.utils import timezone

DAY = dt.timedelta(days=1)
SEAT, STAY, TUNES, QUESTIONS, HEARD = 16, 8, 3, 4, 3  # players an ensemble, terms that one stays
KINDS = ("listening", "form", "function", "key-areas", "sign-off")
QUIZZES = ("form", "function", "key-areas")
BATCH = 5000
CHARTS = (
    "| Fmaj7 | Em7b5 A7 | Dm7 G7 | Cm7 F7 |\n| Bbmaj7 | Bbm7 Eb7 | Gm7 C7 | F6 |",
    "| Cm7 | F7 | Bbmaj7 | Ebmaj7 |\n| Am7b5 | D7 | Gm6 | Gm6 |",
    "| Ebmaj7 | C7 | Fm7 | Bb7 |\n| Gm7 C7 | Fm7 Bb7 | Ebmaj7 | Fm7 Bb7 |",
    "| F7 | Bb7 | F7 | Cm7 F7 |\n| Bb7 | Bdim7 | F7 | Am7b5 D7 |\n| Gm7 | C7 | Am7 D7 | Gm7 C7 |",
)


@dataclass(frozen=True)
class Size:
    """How many play at once, for how many years, over how many charts."""

    people: int
    years: int
    charts: int

    @property
    def terms(self) -> int:
        return 2 * self.years


SIZES = {
    "S": Size(24, 1, 60),
    "M": Size(240, 5, 300),
    "2M": Size(320, 8, 500),
    "M20": Size(240, 20, 1000),
    "L": Size(480, 20, 1000),
}


class Table:
    """Rows of one table as the database takes them, from a pattern that the model gives."""

    def __init__(self, model: type[Model], **fixed: Any) -> None:
        self.fields = list(model._meta.local_concrete_fields)
        self.place = {field.attname: at for at, field in enumerate(self.fields)}
        self.name = model._meta.db_table
        pattern = model(**fixed)
        self.base = [self._plain(field, getattr(pattern, field.attname)) for field in self.fields]
        self.keys, self.rows = count(1), 0

    @staticmethod
    def _plain(field: Any, value: Any) -> Any:
        if isinstance(field, JSONField):
            return json.dumps(value) if value is not None or not field.null else None
        if isinstance(value, dt.datetime):
            return value.astimezone(dt.UTC).replace(tzinfo=None).isoformat(" ", "microseconds")
        if isinstance(value, dt.date):
            return value.isoformat()
        return value.hex if isinstance(value, uuid.UUID) else value

    def row(self, **changes: Any) -> list[Any]:
        """One row; its key is `row[0]`."""
        made = self.base.copy()
        for name, value in changes.items():
            made[self.place[name]] = value
        made[0] = next(self.keys)
        return made

    def write(self, rows: Iterable[Sequence[Any]]) -> None:
        """By COPY into PostgreSQL, by one statement for thousands of rows into SQLite."""
        names = ", ".join(f'"{field.column}"' for field in self.fields)
        with transaction.atomic(), connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                with cursor.cursor.copy(f'COPY "{self.name}" ({names}) FROM STDIN') as copy:
                    for row in rows:
                        copy.write_row(row)
            else:
                sql = f'INSERT INTO "{self.name}" ({names}) VALUES ({", ".join("?" * len(self.fields))})'
                cursor.cursor.connection.executemany(sql, rows)


def text(when: dt.datetime) -> str:
    return when.astimezone(dt.UTC).replace(tzinfo=None).isoformat(" ", "microseconds")


class Filling:
    """Writes one programme into the empty database of this site."""

    def __init__(self, size: Size, say: Callable[[str], object] = print) -> None:
        self.size, self.say, self.random = size, say, random.Random(size.people * size.years)
        self.now = timezone.now()
        self.signed: set[tuple[int, int]] = set()

    def fill(self) -> None:
        from studio import statistics
        from studio.moving import engines

        self._patterns()
        self._people()
        self._charts()
        self._terms()
        self._work()
        with transaction.atomic():
            engines.set_counters(connection, {})
        statistics.refresh()

    def _patterns(self) -> None:
        """One of everything, by the services: their rows are what is repeated. They stay, as a small ensemble of their own."""
        from studio.models import Programme
        from tests import factories

        Programme.objects.create(name="Conservatory", time_zone="UTC")
        self.director = factories.make_director("Director")
        ensemble = factories.make_ensemble("Pattern")
        self.leader = factories.make_instructor(ensemble, "Pattern leader")
        self.texts = [f"key: F major\nmetre: 4/4\n[A]\n{music}\n" for music in CHARTS]
        self.revisions = [
            factories.make_chart_revision(f"Pattern {n}", text=words) for n, words in enumerate(self.texts)
        ]
        recording = [factories.make_recording(row.version.tune) for row in self.revisions]
        made = factories.make_assignment(
            ensemble, by=self.leader, revision=self.revisions[0], kinds=KINDS, release="last"
        )
        self.quizzes = {step.kind: step.quiz for step in made.steps.select_related("quiz") if step.kind in QUIZZES}
        player = factories.make_player(ensemble, "Pattern player")
        self.attempt = factories.make_attempt(made.steps.get(kind="function"), player, hand_in=True)
        self.mark = self.attempt.marks.first()
        self.recording = recording[0]

    def _table(self, model: type[Model], **fixed: Any) -> Table:
        table = Table(model, **fixed)
        last = model._base_manager.order_by("-pk").values_list("pk", flat=True).first()
        table.keys = count((last or 0) + 1)
        return table

    def _people(self) -> None:
        from studio.models import User

        table = self._table(User, name="x", email="x@x.example", instrument="tenor-sax", password="!", created=self.now)
        accounts = self.size.people * (1 + max(0, self.size.terms - 1) // STAY)
        rows = [
            table.row(name=f"Player {n:05}", email=f"player{n}@school.example", instrument="tenor-sax")
            for n in range(accounts)
        ]
        leaders = [
            table.row(name=f"Leader {n:03}", email=f"leader{n}@school.example", instrument="piano")
            for n in range(max(2, self.size.people // SEAT // 2))
        ]
        table.write([*rows, *leaders])
        self.players, self.leaders = [row[0] for row in rows], [row[0] for row in leaders]

    def _charts(self) -> None:
        from tunes.models import ChartRevision, ChartVersion, Recording, Tune

        tune = self._table(Tune, title="x", key="F major", created=self.now, changed=self.now, created_by=self.director)
        version = self._table(ChartVersion, tune_id=1, name="as played", is_agreed=True, created=self.now)
        revision = self._table(ChartRevision, version_id=1, number=1, created=self.now, engine=self.revisions[0].engine)
        recording = self._table(Recording, tune_id=1, leader="A leader", created=self.now)
        tunes = [tune.row(title=f"Tune {n:04}") for n in range(self.size.charts)]
        versions = [version.row(tune_id=row[0]) for row in tunes]
        revisions = []
        analyses = [json.dumps(row.analysis) for row in self.revisions]
        for n, row in enumerate(versions):
            words = f"title: Tune {n:04}\n{self.texts[n % len(self.texts)]}"
            revisions.append(revision.row(version_id=row[0], text=words, analysis=analyses[n % len(analyses)]))
        recordings = [recording.row(tune_id=row[0]) for row in tunes]
        for table, rows in ((tune, tunes), (version, versions), (revision, revisions), (recording, recordings)):
            table.write(rows)
        self.tunes = [(a[0], b[0], c[0]) for a, b, c in zip(tunes, revisions, recordings, strict=True)]

    def _terms(self) -> None:
        """Terms of half a year, ensembles, chairs, assignments with their steps and quizzes."""
        from assessments.models import Assignment, Quiz, Step
        from studio.models import Ensemble, Membership, Term

        term, ensemble = (
            self._table(Term, name="x", starts=self.now.date(), ends=self.now.date()),
            self._table(Ensemble, name="x"),
        )
        chair = self._table(Membership)
        work = self._table(Assignment, title="x", created=self.now, created_by=self.leader)
        step, quiz = (
            self._table(Step, position=1),
            {kind: self._table(Quiz, **_of(row)) for kind, row in self.quizzes.items()},
        )
        keys = quiz["form"].keys
        for table in quiz.values():
            table.keys = keys
        rows: dict[str, list[Any]] = {name: [] for name in ("term", "ensemble", "chair", "work", "step", "quiz")}
        self.asked: list[tuple[list[int], int, list[tuple[Any, dict[str, int]]]]] = []
        for number in range(self.size.terms):
            starts = self.now - 60 * DAY - (self.size.terms - 1 - number) * 182 * DAY
            rows["term"].append(
                term.row(
                    name=f"Term {number:02}",
                    starts=starts.date().isoformat(),
                    ends=(starts + 181 * DAY).date().isoformat(),
                )
            )
            first = (number // STAY) * self.size.people
            people = self.players[first : first + self.size.people]
            self.random.shuffle(people)
            for at in range(0, len(people), SEAT):
                band = people[at : at + SEAT]
                own = ensemble.row(name=f"Ensemble {at // SEAT:02}", term_id=rows["term"][-1][0])
                leader = self.leaders[(at // SEAT) % len(self.leaders)]
                rows["ensemble"].append(own)
                rows["chair"] += [
                    chair.row(user_id=one, ensemble_id=own[0], role="player", instrument="tenor-sax") for one in band
                ]
                rows["chair"].append(chair.row(user_id=leader, ensemble_id=own[0], role="instructor"))
                asked = []
                for tune, revision, recording in self.random.sample(self.tunes, TUNES):
                    due = starts + (30 + 20 * len(asked)) * DAY
                    one = work.row(
                        ensemble_id=own[0],
                        tune_id=tune,
                        revision_id=revision,
                        title=f"Tune {tune}",
                        created_by_id=leader,
                        created=text(starts),
                    )
                    steps = {}
                    for place, kind in enumerate(KINDS):
                        made = step.row(
                            assignment_id=one[0],
                            position=place,
                            kind=kind,
                            due=text(due),
                            times=HEARD if kind == "listening" else 1,
                        )
                        steps[kind] = made[0]
                        rows["step"].append(made)
                        if kind in QUIZZES:
                            rows["quiz"].append(quiz[kind].row(step_id=made[0], issued=text(starts)))
                    rows["work"].append(one)
                    asked.append(((tune, recording, due, leader), steps))
                self.asked.append((band, own[0], asked))
        for table, name in (
            (term, "term"),
            (ensemble, "ensemble"),
            (chair, "chair"),
            (work, "work"),
            (step, "step"),
            (quiz["form"], "quiz"),
        ):
            table.write(rows[name])

    def _work(self) -> None:
        """Attempts with answers and marks, evidence, sign-offs, logs, notices: written as they are made."""
        from assessments.models import Answer, Attempt, Evidence, Mark, SignOff
        from studio.models import AuditEntry, Notice
        from tunes.models import Listening

        now, client = self.now, uuid.uuid4()
        self.t = {
            "attempt": self._table(Attempt, step_id=1, player_id=1, started=now, instrument="tenor-sax", written="M9", out_of=QUESTIONS),
            "answer": self._table(Answer, attempt_id=1, question="q", client=client, saved=now, text="ii7"),
            "mark": self._table(Mark, **_of(self.mark)),
            "sign": self._table(SignOff, player_id=1, tune_id=1, ensemble_id=1, evidence="Heard", by_id=1, created=now),
            "evidence": self._table(Evidence, player_id=1, tune_id=1, ensemble_id=1, kind="form", what="Quiz", on=now),
            "heard": self._table(Listening, player_id=1, recording_id=1, heard_on=now, created=now),
            "notice": self._table(Notice, user_id=1, kind="t", text="Something came back.", created=now),
            "audit": self._table(AuditEntry, kind="sign-off", text="Signed off", at=now),
        }  # fmt: skip
        rows: dict[str, list[Any]] = {name: [] for name in self.t}
        for number, (band, ensemble, asked) in enumerate(self.asked):
            for player in band:
                for about, steps in asked:
                    for name, row in self._of_player(player, ensemble, about, steps):
                        rows[name].append(row)
            if sum(map(len, rows.values())) > BATCH or number == len(self.asked) - 1:
                for name, made in rows.items():
                    self.t[name].write(made)
                    self.t[name].rows += len(made)
                    made.clear()
            if number % 200 == 0:
                self.say(f"  ensembles {number} of {len(self.asked)}")
        self.say("  " + ", ".join(f"{table.rows} {name}" for name, table in self.t.items()))

    def _of_player(
        self, player: int, ensemble: int, about: Any, steps: dict[str, int]
    ) -> Iterator[tuple[str, list[Any]]]:
        (tune, recording, due, leader), t, rng = about, self.t, self.random
        lazy = rng.random() < 0.1 and due < self.now  # what stays missing
        running = due > self.now - 40 * DAY
        for heard in range(0 if lazy else HEARD):
            yield (
                "heard",
                t["heard"].row(player_id=player, recording_id=recording, heard_on=text(due - (heard + 3) * DAY)),
            )
        for place, kind in enumerate(QUIZZES):
            if due > self.now + 10 * DAY or (lazy and place):
                continue
            goes = 2 if (player + place) % 4 == 0 else 1
            for go in range(1, goes + 1):
                waits = running and go == goes and rng.random() < 0.33
                when = text(due - rng.random() * 5 * DAY)
                points = float(rng.randint(1, QUESTIONS))
                attempt = t["attempt"].row(
                    step_id=steps[kind], player_id=player, number=go, status="handed-in" if waits else "reviewed", handed_in=when,
                    started=when, points=points, superseded=go < goes, late=rng.random() < 0.1, version=1 if waits else 2,
                    reviewed_by_id=None if waits else leader, reviewed_at=None if waits else text(due + rng.random() * 9 * DAY),
                )  # fmt: skip
                yield "attempt", attempt
                for question in self.quizzes[kind].ids[:QUESTIONS]:
                    yield "answer", t["answer"].row(attempt_id=attempt[0], question=question)
                for position, question in enumerate(self.quizzes[kind].ids[:QUESTIONS]):
                    right = float(position < points)
                    yield (
                        "mark",
                        t["mark"].row(attempt_id=attempt[0], question=question, position=position, points=right),
                    )
                if go == goes and not waits:
                    yield "evidence", t["evidence"].row(
                        player_id=player, tune_id=tune, ensemble_id=ensemble, kind=kind, percent=int(25 * points), on=text(due),
                        step_id=steps[kind], attempt_id=attempt[0],
                    )  # fmt: skip
        if due < self.now and rng.random() < 0.6 and (player, tune) not in self.signed:
            self.signed.add((player, tune))
            sign = t["sign"].row(
                player_id=player,
                tune_id=tune,
                ensemble_id=ensemble,
                step_id=steps["sign-off"],
                by_id=leader,
                created=text(due),
            )
            yield "sign", sign
            yield "evidence", t["evidence"].row(
                player_id=player, tune_id=tune, ensemble_id=ensemble, kind="sign-off", on=text(due), sign_off_id=sign[0], by_id=leader,
            )  # fmt: skip
            yield "audit", t["audit"].row(by_id=leader, about_id=player, at=text(due))
        seen = None if running else text(due)
        yield "notice", t["notice"].row(user_id=player, created=text(due), seen=seen, mailed=seen)
        yield (
            "notice",
            t["notice"].row(user_id=player, created=text(due), seen=seen, mailed=seen, text="Another thing."),
        )


def _of(row: Model) -> dict[str, Any]:
    return {field.attname: getattr(row, field.attname) for field in row._meta.local_concrete_fields}
