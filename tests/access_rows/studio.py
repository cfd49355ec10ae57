"""Who gets which page of the programme."""

from __future__ import annotations

import datetime as dt
import uuid

from django.core.files.base import ContentFile
from django.utils import timezone

from studio.audit import record_each
from studio.jobs import Job
from studio.models import ClaimRule, Invitation, Membership, PersonalArchive, PlannedErasure, SignIn
from studio.notices import notify
from studio.services.messages import send_message
from tests import factories
from tests.access import DIRECTOR, EVERYONE, INSTRUCTORS, MEMBERS, SIGN_IN, Access, World, roles

SENT = roles(SIGN_IN, others=403, director=302)
OWN = roles(SIGN_IN, others=404, player=200)


def build(world: World) -> None:
    newcomer = factories.make_user("Nils Newcomer")
    world["invitation"] = Invitation.objects.create(user=newcomer, expires=timezone.now() + dt.timedelta(days=1))
    world["notice"] = notify(world.people["player"], "test", "Something came back", "/me/")
    world["job"] = Job.objects.create(owner=world.people["player"], kind="test", state=Job.State.DONE)
    world["message"] = send_message(
        ensemble=world.ensemble,
        by=world.people["instructor"],
        text="Bring the changes, not the paper.",
        players=[world.people["player"]],
        everyone=False,
        token=uuid.uuid4(),
    )
    record_each("role", [(world.people["classmate"], f"Chair given {number}") for number in range(60)])
    player = world.people["player"]
    world["claim"] = ClaimRule.objects.create(claim="groups", value="band", role="player", ensemble=world.ensemble)
    world["sign_in"] = SignIn.objects.create(user=player, key="elsewhere")
    world["archive"] = PersonalArchive(about=player, by=player, size=4, expires=timezone.now() + dt.timedelta(days=1))
    world["archive"].file.save("x", ContentFile(b"zip!"))
    world["plan"] = PlannedErasure.objects.create(user=world.people["stranger"], on=dt.date(2030, 1, 1))
    world["chair"] = Membership.objects.get(user=world.people["classmate"], ensemble=world.ensemble)


def own_ensemble(world: World) -> dict[str, object]:
    return {"pk": world.ensemble.pk}


ROWS = [
    Access("studio:handbook", get=MEMBERS),
    Access("studio:handbook", get=MEMBERS, query="?q=ledger"),
    Access("studio:handbook_page", lambda w: {"slug": "ledger"}, get=MEMBERS),
    Access("studio:handbook_page", lambda w: {"slug": "no-such-task"}, get=roles(SIGN_IN, others=404)),
    Access("livez", get=EVERYONE),
    Access("readyz", get=EVERYONE),
    Access("metrics", get=roles(404, others=404)),  # off; with a token for its bearer alone: test_metrics.py
    Access("offline_worker", get=EVERYONE),
    Access("studio:state", get=DIRECTOR),
    Access("studio:home", get=roles(SIGN_IN, others=302)),
    Access("studio:welcome", get=MEMBERS),
    Access("studio:theme", post=roles(302, others=302), data=lambda w: {"theme": "dark"}),
    # A director exists, so the set-up link is dead for everyone.
    Access("studio:setup", lambda w: {"token": "x"}, get=roles(404, others=404), post=roles(404, others=404)),
    Access(
        "studio:accept",
        lambda w: {"token": w["invitation"].token},
        get=EVERYONE,
        post=roles(302, others=302),
        data=lambda w: {"password": "three plain words"},
    ),
    Access("studio:accept", lambda w: {"token": "made-up"}, get=roles(410, others=410), post=roles(410, others=410)),
    Access("studio:account", get=MEMBERS, post=roles(SIGN_IN, others=302), data=lambda w: {"name": "New Name"}),
    Access("studio:sign_ins", get=MEMBERS),
    Access("studio:sign_ins_end", post=roles(SIGN_IN, others=302)),
    Access("studio:sign_in_end", lambda w: {"pk": w["sign_in"].pk}, post=roles(SIGN_IN, others=404, player=302)),
    Access("studio:entry_rules", get=DIRECTOR, post=SENT, data=lambda w: {"player-grace": "7"}),
    Access("studio:school", get=DIRECTOR, post=SENT, data=lambda w: {"passwords": "on"}),
    Access("studio:claim_remove", lambda w: {"pk": w["claim"].pk}, post=SENT),
    Access("studio:untie", lambda w: {"pk": w.people["player"].pk}, post=SENT),
    Access("studio:factor_reset", lambda w: {"pk": w.people["player"].pk}, get=DIRECTOR, post=SENT),
    Access("studio:notices", get=MEMBERS),
    Access("studio:notices_seen", post=roles(SIGN_IN, others=302)),
    Access("studio:notice", lambda w: {"pk": w["notice"].pk}, get=roles(SIGN_IN, others=404, player=302)),
    Access("studio:messages", get=MEMBERS),
    Access(
        "studio:message",
        lambda w: {"pk": w["message"].pk},
        get=roles(SIGN_IN, others=404, player=200, instructor=200, director=200),
    ),
    Access(
        "studio:message_new",
        own_ensemble,
        get=roles(SIGN_IN, players=403, instructors=200, other_instructor=404),
        post=roles(SIGN_IN, players=403, instructors=302, other_instructor=404),
        data=lambda w: {"text": "Sing it", "players": [w.people["player"].pk], "token": str(uuid.uuid4())},
    ),
    Access(
        "studio:substitute",
        own_ensemble,
        post=roles(SIGN_IN, players=403, instructors=302, other_instructor=404),
        data=lambda w: {
            "sub-person": w.people["other_instructor"].email,
            "sub-begins": w.ensemble.term.starts.isoformat(),
            "sub-ends": w.ensemble.term.ends.isoformat(),
        },
    ),
    Access("studio:job", lambda w: {"pk": w["job"].pk}, get=OWN),
    Access("studio:people", get=DIRECTOR),
    Access(
        "studio:person_new",
        get=DIRECTOR,
        post=SENT,
        data=lambda w: {"name": "New", "email": "new@example.org"},
    ),
    Access("studio:roster", get=DIRECTOR, post=roles(SIGN_IN, others=403, director=422), data=lambda w: {"text": ""}),
    Access("studio:open_links", get=DIRECTOR),
    Access("studio:own_data", get=MEMBERS, post=roles(SIGN_IN, others=302)),
    Access("studio:archive", lambda w: {"pk": w["archive"].pk}, get=OWN),
    Access("studio:person_data", lambda w: {"pk": w.people["player"].pk}, get=DIRECTOR, post=SENT),
    Access(
        "studio:erase",
        lambda w: {"pk": w.people["player"].pk},
        get=DIRECTOR,
        post=SENT,
        data=lambda w: {"name": w.people["player"].name},
    ),
    Access("studio:keeping", get=DIRECTOR, post=SENT, data=lambda w: {"years": "7"}),
    Access("studio:keep_one", lambda w: {"pk": w["plan"].pk}, post=SENT),
    Access("studio:audit", get=DIRECTOR),
    Access("studio:audit", query="?kind=role&person=pia&q=chair&from=2020-01-01&to=x", get=DIRECTOR),
    Access("studio:audit_csv", get=DIRECTOR),
    Access("studio:invite_waiting", post=SENT),
    Access(
        "studio:person",
        lambda w: {"pk": w.people["player"].pk},
        get=DIRECTOR,
        post=SENT,
        data=lambda w: {"name": "Pia", "email": "pia@example.org", "is_active": "on"},
    ),
    Access("studio:invite", lambda w: {"pk": w["invitation"].user_id}, post=SENT),
    Access(
        "studio:terms",
        get=DIRECTOR,
        post=SENT,
        data=lambda w: {"name": "Next", "starts": "2030-01-01", "ends": "2030-05-01"},
    ),
    Access(
        "studio:term",
        lambda w: {"pk": w.ensemble.term_id},
        get=DIRECTOR,
        post=SENT,
        data=lambda w: {"name": "Same", "starts": "2030-01-01", "ends": "2030-05-01"},
    ),
    Access("studio:ensembles", get=INSTRUCTORS),
    Access("studio:ensemble_new", get=DIRECTOR, post=SENT, data=lambda w: {"name": "New", "term": w.ensemble.term_id}),
    Access("studio:ensemble", own_ensemble, get=roles(SIGN_IN, players=403, instructors=200, other_instructor=404)),
    Access(
        "studio:ensemble_edit",
        own_ensemble,
        get=DIRECTOR,
        post=SENT,
        data=lambda w: {"name": "New", "term": w.ensemble.term_id},
    ),
    Access("studio:ensemble_remove", own_ensemble, post=SENT),
    Access(
        "studio:chair_add",
        own_ensemble,
        post=SENT,
        data=lambda w: {"person": w.people["stranger"].email, "role": "player", "instrument": ""},
    ),
    Access(
        "studio:chair_change",
        lambda w: {"pk": w.ensemble.pk, "chair": w["chair"].pk},
        get=DIRECTOR,
        post=SENT,
        data=lambda w: {"role": "player", "instrument": "flute"},
    ),
    Access("studio:chair_remove", lambda w: {"pk": w.ensemble.pk, "chair": w["chair"].pk}, post=SENT),
    # The chair of one ensemble is not found under another.
    Access(
        "studio:chair_remove",
        lambda w: {"pk": w.other_ensemble.pk, "chair": w["chair"].pk},
        query="?other",
        post=roles(SIGN_IN, others=403, director=404),
    ),
]
