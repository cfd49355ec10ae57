"""Notices and the one daily letter."""

from __future__ import annotations

import datetime as dt
from importlib import import_module

import pytest
from django.apps import apps
from django.test import Client
from django.utils import timezone

from studio.models import Notice
from studio.notices import notify, notify_many, send_digests
from tests import factories

pytestmark = pytest.mark.django_db


def test_one_letter_holds_everything_new_and_goes_once(mailoutbox) -> None:  # type: ignore[no-untyped-def]
    user = factories.make_user("Ada")
    notify(user, "returned", "“Slow Ferry”: your bridge came back", "/me/")
    notify(user, "assigned", "A new tune: “Glass Hour”")
    assert send_digests() == 1
    assert send_digests() == 0
    (letter,) = mailoutbox
    assert letter.to == [user.email]
    assert "your bridge came back\n  http://localhost:8000/me/" in letter.body
    assert letter.body.index("bridge") < letter.body.index("Glass Hour")


def test_the_next_letter_comes_the_next_day_with_what_is_new_since(mailoutbox) -> None:  # type: ignore[no-untyped-def]
    user = factories.make_user()
    notify(user, "a", "First")
    send_digests()
    notify(user, "b", "Second")
    assert send_digests() == 0
    assert send_digests(timezone.now() + dt.timedelta(days=1)) == 1
    assert "Second" in mailoutbox[1].body
    assert "First" not in mailoutbox[1].body


@pytest.mark.parametrize("change", [{"wants_digest": False}, {"is_active": False}])
def test_who_gets_no_letter(change: dict[str, bool], mailoutbox) -> None:  # type: ignore[no-untyped-def]
    user = factories.make_user(**change)
    notify(user, "a", "News")
    assert send_digests() == 0
    assert mailoutbox == []


def test_what_was_seen_in_the_app_is_not_mailed(client: Client, mailoutbox) -> None:  # type: ignore[no-untyped-def]
    user = factories.make_user()
    notice = notify(user, "a", "News", "/me/")
    client.force_login(user)
    assert client.get(f"/notices/{notice.pk}/").headers["Location"] == "/me/"
    assert send_digests() == 0
    assert mailoutbox == []


def test_a_letter_that_cannot_be_sent_stays_and_stops_nobody_else(mailoutbox, monkeypatch: pytest.MonkeyPatch) -> None:  # type: ignore[no-untyped-def]
    from django.core.mail import EmailMessage

    first, second = factories.make_user(), factories.make_user()
    notify_many([first, second], "a", "News")
    real = EmailMessage.send

    def send(self: EmailMessage, **options: object) -> int:
        if self.to == [first.email]:
            raise OSError("refused")
        return real(self)

    monkeypatch.setattr(EmailMessage, "send", send)
    assert send_digests() == 1
    assert Notice.objects.filter(mailed=None).get().user == first
    monkeypatch.undo()
    assert send_digests() == 1


def test_a_notice_never_leads_off_the_site(client: Client) -> None:
    user = factories.make_user()
    notice = notify(user, "a", "News", "https://elsewhere.example/")
    client.force_login(user)
    assert client.get(f"/notices/{notice.pk}/").headers["Location"] == "/notices/"


def test_all_are_marked_as_seen(client: Client) -> None:
    user, other = factories.make_user(), factories.make_user()
    notify_many([user, user, other], "a", "News")
    client.force_login(user)
    assert '<span class="tool-link__count">2' in client.get("/notices/").content.decode()
    client.post("/notices/seen")
    assert list(Notice.objects.filter(seen=None).values_list("user", flat=True)) == [other.pk]


@pytest.mark.parametrize(
    ("clock", "made", "goes"),
    [
        ((16, 59), (9, 0), False),  # not yet the hour of the letter
        ((17, 0), (9, 0), True),
        ((20, 0), (16, 59), True),  # a worker that was away at five catches up
        ((20, 0), (18, 0), False),  # an evening's first notice does not go alone: it waits for tomorrow's letter
    ],
)
def test_the_daily_round_takes_what_was_there_at_its_hour(
    clock: tuple[int, int],
    made: tuple[int, int],
    goes: bool,
    mailoutbox,
    monkeypatch,  # type: ignore[no-untyped-def]
) -> None:
    from studio import rounds

    day = timezone.now().replace(hour=0, minute=0, second=0, microsecond=0)
    notice = notify(factories.make_user(), "a", "New")
    Notice.objects.filter(pk=notice.pk).update(created=day + dt.timedelta(hours=made[0], minutes=made[1]))
    now = day + dt.timedelta(hours=clock[0], minutes=clock[1])
    monkeypatch.setattr(rounds.timezone, "localtime", lambda: now)
    monkeypatch.setattr(rounds, "PARTS", tuple(part for part in rounds.PARTS if part.name == "letters"))
    rounds.make_round("here:1")
    assert len(mailoutbox) == goes


def test_old_notices_of_a_settled_bar_lose_their_chords() -> None:
    settled = notify(
        factories.make_user(), "settled", "Slow Ferry, bar 3, which you disputed, is settled: the bar is Dm7 Db7 now."
    )
    stands = notify(
        factories.make_user(), "settled", "Slow Ferry, bar 3, which you disputed, is settled: the chart stands."
    )
    import_module("studio.migrations.0003_settled_notices").without_chords(apps, None)
    settled.refresh_from_db()
    assert settled.text == "Slow Ferry, bar 3, which you disputed, is settled: the bar was changed."
    assert Notice.objects.get(pk=stands.pk).text == stands.text
