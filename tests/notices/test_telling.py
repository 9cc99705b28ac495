"""Everybody is told what they chose, in the ways they chose, and of one fact once."""

import smtplib
from datetime import timedelta

import pytest
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend
from django.urls import reverse

from fleet.accounts.models import Change
from fleet.accounts.policy import SERVICE
from fleet.errors import Invalid
from fleet.inventory.actions import place_hold
from fleet.inventory.telling import tell_recalled
from fleet.life.assessments import assess
from fleet.notices.actions import choose_telling, tell
from fleet.notices.mailing import MOST_TRIES, WAIT, send_mails
from fleet.notices.models import Notice
from fleet.notices.queries import Ways, notices_for, ways_of
from fleet.notices.tasks import send_mails as job
from tests.racing import at_once

MAIL_TOO = Ways(on_page=True, by_mail=True)
PAGE_ONLY = Ways(on_page=True, by_mail=False)
NOT_AT_ALL = Ways(on_page=False, by_mail=False)


class Refusing(EmailBackend):
    """A mail service that is not there."""

    error = ConnectionRefusedError("nobody listens")

    def send_messages(self, _messages):
        raise self.error


@pytest.fixture
def robin(rider_person):
    return rider_person


@pytest.fixture
def say(robin, now):
    """Tell Robin of a recalled tire unless told otherwise."""

    def do(**changes):
        given = {"topic": "recall", "about": "W-14:1", "sentence": "Do not ride on it.", "at": now}
        tell([robin], **(given | changes))

    return do


def test_who_never_chose_is_told_on_the_page_and_of_danger_by_mail_too(robin, say, now):
    for topic in ("recall", "stand down", "flag", "bulletin", "reservation"):
        say(topic=topic, about=topic)

    assert send_mails(at=now) == 2
    assert {one.subject for one in mail.outbox} == {"Do not ride on this tire"}
    assert notices_for(robin).count() == 5


def test_a_choice_counts_for_what_is_told_from_then_on(robin, say, now):
    say(topic="bulletin", about="1")
    choose_telling(by=robin, ways={"bulletin": MAIL_TOO, "life": NOT_AT_ALL})
    say(topic="bulletin", about="2")
    say(topic="flag", about="3")

    assert send_mails(at=now) == 1
    assert [one.about for one in notices_for(robin).order_by("about")] == ["1", "2"]


def test_what_can_hurt_is_always_said_on_the_page(robin):
    with pytest.raises(Invalid, match="always said on the page"):
        choose_telling(by=robin, ways={"stop": NOT_AT_ALL})

    assert ways_of(robin)["stop"].on_page


def test_a_kind_nobody_knows_is_refused(robin):
    with pytest.raises(Invalid, match="stop, life, bulletin, reserved"):
        choose_telling(by=robin, ways={"weather": MAIL_TOO})


def test_a_choice_stands_in_the_trail_once(robin):
    for _ in range(2):
        choose_telling(by=robin, ways={"bulletin": MAIL_TOO})
    choose_telling(by=robin, ways={"bulletin": PAGE_ONLY})

    lines = Change.objects.filter(person=robin, noun="telling_choice").order_by("at")
    assert [line.what for line in lines] == ["made", "corrected"]


def test_one_fact_is_told_and_mailed_once_however_often_it_is_told_and_the_job_runs(say, now):
    for _ in range(3):
        say()
        job()
        job()

    assert (len(mail.outbox), Notice.objects.get().mail) == (1, "sent")


def test_the_mail_says_what_where_to_choose_otherwise_and_is_known_by_its_notice(robin, say, now, settings):
    settings.PUBLIC_ADDRESS = "https://tires.example.org"
    say()

    send_mails(at=now)

    [sent] = mail.outbox
    page = "https://tires.example.org/account/telling/"
    assert sent.to == [robin.email]
    assert "Do not ride on it." in sent.body
    assert page in sent.body
    assert sent.extra_headers["List-Unsubscribe"] == f"<{page}>"
    assert str(Notice.objects.get().pk) in sent.extra_headers["Message-ID"]
    assert reverse("telling") == settings.TELLING_PAGE


def test_a_mail_service_that_refuses_is_asked_again_later_and_given_up_in_the_end(say, now, settings):
    settings.EMAIL_BACKEND = f"{__name__}.Refusing"
    say()

    assert send_mails(at=now) == 0
    assert send_mails(at=now) == 0  # not again at once
    assert Notice.objects.get().mail_tries == 1
    for more in range(1, MOST_TRIES + 2):
        send_mails(at=now + more * WAIT)

    said = Notice.objects.get()
    assert (said.mail, said.mail_tries) == ("failed", MOST_TRIES)


def test_what_was_refused_once_is_sent_once_when_the_service_is_back(say, now, settings):
    before, settings.EMAIL_BACKEND = settings.EMAIL_BACKEND, f"{__name__}.Refusing"
    say()
    send_mails(at=now)
    settings.EMAIL_BACKEND = before

    sent = [send_mails(at=now + more * WAIT) for more in (1, 2)]

    assert (sent, len(mail.outbox)) == ([1, 0], 1)


@pytest.mark.parametrize("error", [TimeoutError("silence"), smtplib.SMTPServerDisconnected("gone")])
def test_what_was_cut_off_in_the_middle_may_have_arrived_and_is_not_sent_again(
    error, say, now, settings, monkeypatch
):
    monkeypatch.setattr(Refusing, "error", error)
    before, settings.EMAIL_BACKEND = settings.EMAIL_BACKEND, f"{__name__}.Refusing"
    say()
    with pytest.raises(type(error)):
        send_mails(at=now)
    settings.EMAIL_BACKEND = before

    assert send_mails(at=now + timedelta(days=1)) == 0
    assert (mail.outbox, Notice.objects.get().mail) == ([], "sending")


def test_who_changed_their_mind_or_left_before_it_was_sent_gets_none(robin, say, now):
    say()
    choose_telling(by=robin, ways={"stop": PAGE_ONLY})
    assert send_mails(at=now) == 0

    choose_telling(by=robin, ways={"stop": MAIL_TOO})
    say(about="W-14:2")
    robin.is_active = False
    robin.save()
    assert send_mails(at=now) == 0
    assert mail.outbox == []


def test_a_held_tire_is_told_as_danger_and_a_recalled_one_is_told_once(robin, fitted, recall, tarn, now):
    recall()
    tell_recalled(at=now)
    place_hold(by=SERVICE, at=now, tire=fitted["rear"].tire, placed_for=tarn, reason="damage", placed_at=now)
    assess(None, at=now)

    told = Notice.objects.filter(person=robin, mail="waiting")
    assert sorted(told.values_list("topic", flat=True)) == ["recall", "stand down"]
    assert "hold" in told.get(topic="stand down").sentence


def test_the_page_keeps_a_choice_and_marks_all_read(as_page, robin, say):
    say()
    answer = as_page.post(reverse("telling"), {"mail-bulletin": "on", "page-bulletin": "on"}, follow=True)

    assert "Your choice is kept." in answer.content.decode()
    assert ways_of(robin) == {
        "stop": PAGE_ONLY, "life": NOT_AT_ALL, "bulletin": MAIL_TOO, "reserved": NOT_AT_ALL,
    }  # fmt: skip
    assert "1 not read yet" in answer.content.decode()
    assert "not read yet" not in as_page.post(reverse("all-read"), follow=True).content.decode()


@pytest.fixture
def as_page(client, robin):
    client.force_login(robin)
    return client


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_ten_workers_at_once_send_each_mail_once(say, now):
    for number in range(12):
        say(about=str(number))

    sent = at_once(*(lambda: send_mails(at=now) for _ in range(10)))

    assert sum(sent) == 12
    assert len({one.extra_headers["Message-ID"] for one in mail.outbox}) == len(mail.outbox) == 12
