"""Letters: written with their act, sent once, retried, and told in words when they can't be."""

import smtplib
import socket
from datetime import timedelta
from email import message_from_bytes, policy

import pytest
from django.core import mail as outbox
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from decor.studio import background, mail
from decor.studio.mail_server import server_of
from decor.studio.models import BackgroundJob, Mail, Studio
from decor.studio.services import file_store, files_sweep
from jobs.tasks import HANDLERS, daily_sweep
from tests.studio.smtp import mail_server

State = BackgroundJob.State


@pytest.fixture(autouse=True)
def on(settings, monkeypatch):
    settings.MAIL_ON = True
    monkeypatch.setattr(background, "_send", lambda job_id: None)


@pytest.fixture
def through(settings):
    """Letters go to this server from now on, as EMAIL_URL would have them."""

    def use(server) -> None:
        port = server if isinstance(server, int) else server.server_address[1]
        for name, value in server_of(f"smtp://127.0.0.1:{port}").items():
            setattr(settings, name, value)

    return use


def write(**changed) -> Mail:
    told = {"key": "one", "to": "ann@reed.example", "subject": "A hold ends", "text": "It ends today.\n\nConfirm it."}
    return mail.mail_write(**{**told, **changed})


def run(letter: Mail) -> BackgroundJob:
    """The worker comes to it, however long it was to wait."""
    job = BackgroundJob.objects.get(kind=mail.KIND, subject_id=letter.pk)
    BackgroundJob.objects.filter(pk=job.pk, state=State.QUEUED).update(lease_until=None)
    background.job_run(job_id=job.pk, handlers=HANDLERS)
    job.refresh_from_db()
    return job


def parsed(raw: bytes):
    return message_from_bytes(raw, policy=policy.default)


def test_a_letter_as_a_mail_program_reads_it(studio, through):
    papers = [
        ("order B-0001.pdf", "application/pdf", b"%PDF-1.7 \x00\xff"),
        ("order.csv", "text/csv", "sky;ä".encode()),
    ]
    files = [file_store(data=data, mime=mime, original_name=name) for name, mime, data in papers]
    with mail_server() as server:
        through(server)
        letter = write(files=files, text=f"Grüße\nfrom us & <you>\n\nhttp://127.0.0.1:8000/stock/\n\n{'x' * 2000}")
        assert run(letter).state == State.DONE
    (raw,) = server.letters
    got = parsed(raw)
    assert got["From"] == "Saltmarsh Balloon Works <desk@saltmarsh.example>" == got["Reply-To"]
    assert (got["To"], got["Subject"]) == ("ann@reed.example", "A hold ends")
    plain, html = (got.get_body((kind,)).get_content() for kind in ("plain", "html"))
    plain = plain.replace("\r\n", "\n")
    assert "Grüße\nfrom us & <you>" in plain and "x" * 2000 in plain.replace("\n", "")
    assert "from us &amp; &lt;you&gt;" in html
    assert '<a href="http://127.0.0.1:8000/stock/">' in html
    enclosed = [(p.get_filename(), p.get_content_type(), p.get_payload(decode=True)) for p in got.iter_attachments()]
    assert enclosed == papers
    letter.refresh_from_db()
    assert letter.sent and letter.reply == "250 2.0.0 kept as 4711"


def test_no_title_and_no_name_begins_a_header_of_its_own(studio, through):
    Studio.objects.update(name='Marsh\r\nBcc: thief@example.com, "Quote" <x@y>')
    file = file_store(data=b"x", mime="text/csv", original_name='a\r\nX-Bad: 1".csv')
    with mail_server() as server:
        through(server)
        run(write(subject="Hold\r\nBcc: thief@example.com\n\nbody", files=[file]))
    (raw,) = server.letters
    got = parsed(raw)
    assert got["Bcc"] is None and got["X-Bad"] is None
    assert got["Subject"] == "Hold Bcc: thief@example.com body"
    assert [line.lower() for line in server.verbs if line[:4].upper() == "RCPT"] == ["rcpt to:<ann@reed.example>"]
    assert len(got.get_all("From")) == 1 and len(got.get_all("To")) == 1


@pytest.mark.parametrize(
    "to", ["", "ann", "a@b.example, c@d.example", "a@b.example\nBcc: c@d.example", "<a@b.example>"]
)
def test_only_one_plain_address(studio, to):
    with pytest.raises(ValueError, match="to:"):
        write(to=to)
    assert not Mail.objects.exists() and not BackgroundJob.objects.exists()


def test_written_once_sent_once_whatever_is_doubled(studio):
    first, second = write(), write(text="other words")
    assert first == second
    for _ in range(3):
        run(first)
    mail.mail_compute(first.pk, lambda part, words: None)()
    assert len(outbox.outbox) == 1 and Mail.objects.get().text == "It ends today.\n\nConfirm it."


def test_what_was_undone_is_not_told(studio):
    with pytest.raises(RuntimeError), transaction.atomic():
        write()
        raise RuntimeError
    assert not Mail.objects.exists() and not BackgroundJob.objects.exists()


def test_nothing_is_kept_for_later_while_mail_is_off(studio, settings):
    settings.MAIL_ON = False
    assert write() is None and not Mail.objects.exists()


def test_a_sleeping_server_is_tried_again_for_a_day(studio, through):
    with socket.socket() as nobody:
        nobody.bind(("127.0.0.1", 0))
        through(nobody.getsockname()[1])
        letter = write()
        job = run(letter)
        assert job.state == State.QUEUED and "127.0.0.1 can't be reached" in job.reason
        assert timedelta(seconds=55) < job.lease_until - timezone.now() <= timedelta(minutes=1)
        for _ in mail.WAITS:
            job = run(letter)
        assert (job.state, job.attempts) == (State.FAILED, len(mail.WAITS) + 1)
    assert timedelta(hours=20) < sum(mail.WAITS, timedelta()) < timedelta(days=2)
    with mail_server() as server:
        through(server)
        background.job_retry(job=job)
        assert run(letter).state == State.DONE
    assert len(server.letters) == 1


def test_a_second_try_goes_out_under_the_same_name(studio, through):
    with mail_server(END="451 4.3.0 try again later") as busy:
        through(busy)
        letter = write()
        job = run(letter)
        assert job.state == State.QUEUED and "451 4.3.0 try again later" in job.reason
    with mail_server() as server:
        through(server)
        run(letter)
    first, second = (parsed(raw)["Message-ID"] for raw in (busy.letters[0], server.letters[0]))
    assert first == second and first.endswith("@saltmarsh.example>")


@pytest.mark.parametrize(
    "answers, says",
    [
        ({"RCPT": "550 5.1.1 no such person"}, "does not take letters to ann@reed.example: 550 5.1.1 no such person"),
        ({"MAIL": "553 5.7.1 not yours"}, "takes no letters from desk@saltmarsh.example: 553 5.7.1 not yours"),
        ({"END": "554 5.7.1 looks like spam"}, "said no: 554 5.7.1 looks like spam"),
    ],
)
def test_a_no_for_good_is_told_in_the_servers_words_and_not_tried_again(studio, through, as_owner, answers, says):
    with mail_server(**answers) as server:
        through(server)
        job = run(write())
    assert job.state == State.FAILED and job.attempts == 1 and says in job.reason
    assert "“A hold ends” to ann@reed.example" in job.reason
    page = as_owner.get(reverse("studio:failed-jobs")).content.decode()
    assert says in page
    assert "Not sent" in as_owner.get(reverse("studio:mail")).content.decode()


def test_not_sent_when_it_would_tell_nothing_new(studio):
    letter = write(not_after=timezone.now() - timedelta(seconds=1))
    job = run(letter)
    assert job.state == State.FAILED and "came too late" in job.reason and not outbox.outbox


def test_nobody_to_send_as(studio, settings):
    Studio.objects.update(email="")
    job = run(write())
    assert job.state == State.FAILED and "no address to send from" in job.reason
    settings.MAIL_FROM = "The Desk <desk@works.example>"
    letter = write(key="two")
    run(letter)
    assert outbox.outbox[0].from_email == "The Desk <desk@works.example>" and not outbox.outbox[0].reply_to


@pytest.mark.parametrize(
    "named, signed_in, come_from",
    [
        ("", "", "desk@saltmarsh.example"),
        ("", "knotbook", "desk@saltmarsh.example"),
        ("", "out@works.example", "out@works.example"),
        ("no-reply@works.example", "out@works.example", "no-reply@works.example"),
    ],
)
def test_letters_come_from_whom_the_server_knows(studio, settings, named, signed_in, come_from):
    settings.MAIL_FROM, settings.EMAIL_HOST_USER = named, signed_in
    run(write())
    assert outbox.outbox[0].from_email == f"Saltmarsh Balloon Works <{come_from}>"
    assert outbox.outbox[0].reply_to == ["Saltmarsh Balloon Works <desk@saltmarsh.example>"]


def test_letters_and_what_they_enclose_are_kept_a_while(studio, settings):
    file = file_store(data=b"x", mime="text/csv", original_name="a.csv")
    letter, now = write(files=[file]), timezone.now()
    assert files_sweep(now=now + timedelta(days=3)) == 0
    Mail.objects.filter(pk=letter.pk).update(created=now - timedelta(days=91))
    fresh = write(key="two")
    daily_sweep()
    assert [row.pk for row in Mail.objects.all()] == [fresh.pk]
    assert [job.subject_id for job in BackgroundJob.objects.filter(kind=mail.KIND)] == [fresh.pk]
    assert files_sweep(now=now + timedelta(days=3)) == 1


@pytest.mark.parametrize(
    "url, told",
    [
        ("smtp://mail.example", ("mail.example", 25, False, False)),
        ("smtp+tls://mail.example", ("mail.example", 587, True, False)),
        ("smtps://mail.example:465", ("mail.example", 465, False, True)),
        ("smtp+ssl://mail.example", ("mail.example", 465, False, True)),
        ("smtps://mail.example:2525", ("mail.example", 2525, True, False)),
    ],
)
def test_the_address_of_the_server(url, told):
    named = server_of(url)
    assert tuple(named[f"EMAIL_{x}"] for x in ("HOST", "PORT", "USE_TLS", "USE_SSL")) == told and named["MAIL_ON"]


@pytest.mark.parametrize("url", ["nonsense", "http://mail.example", "smtp://", "smtp+tls://name:pass@"])
def test_no_address_of_a_server(url):
    with pytest.raises(ValueError, match="EMAIL_URL"):
        server_of(url)


def test_the_test_letter_shows_what_the_server_said(as_owner, owner, through):
    page = reverse("studio:mail-test")
    with mail_server(END="250 2.0.0 Ok: queued as A1B2") as server:
        through(server)
        assert as_owner.post(page, {"to": "ann@reed.example"})["Location"] == reverse("studio:mail")
        assert "The server said: 250 2.0.0 Ok: queued as A1B2" in as_owner.get(reverse("studio:mail")).content.decode()
        assert len(server.letters) == 1
    with mail_server(RCPT="550 5.7.1 relaying denied") as server:
        through(server)
        answer = as_owner.post(page, {"to": "ann@reed.example"})
    text = answer.content.decode()
    assert answer.status_code == 422 and "550 5.7.1 relaying denied" in text and 'value="ann@reed.example"' in text
    answer = as_owner.post(page, {"to": "ann@reed.example"})
    assert answer.status_code == 422 and "can&#x27;t be reached" in answer.content.decode()
    assert as_owner.post(page, {"to": "ann"}).status_code == 422


def test_off_is_said_and_the_test_is_refused(as_owner, settings):
    settings.MAIL_ON = False
    text = as_owner.get(reverse("studio:mail")).content.decode()
    assert "Mail is off." in text and "EMAIL_URL" in text and "Send the test" not in text
    answer = as_owner.post(reverse("studio:mail-test"), {"to": "ann@reed.example"})
    assert answer.status_code == 422 and "Mail is off" in answer.content.decode() and not outbox.outbox
    assert "<small>letters that the program sends" in as_owner.get(reverse("studio:more")).content.decode()


def test_only_the_owner_sees_letters(as_planner, as_crew):
    for client in (as_planner, as_crew):
        assert client.get(reverse("studio:mail")).status_code == 403
        assert client.post(reverse("studio:mail-test"), {"to": "a@b.example"}).status_code == 403


def test_whom_it_tells(owner, planner, crew_user):
    crew_user.email = "cory@crew.example"
    crew_user.save()
    assert mail.planners_addresses() == ["desk@saltmarsh.example"]
    for user, address in ((owner, "Olive@marsh.example"), (planner, "olive@marsh.example")):
        user.email = address
        user.save()
    assert [a.lower() for a in mail.planners_addresses()] == ["olive@marsh.example"]


def test_a_person_has_an_address(as_owner, planner):
    page = reverse("studio:person", args=[planner.pk])
    form = {"name": "Pat Reed", "username": "pat", "role": "planner", "is_active": "on"}
    assert as_owner.post(page, {**form, "email": "pat@reed.example"}).status_code == 302
    planner.refresh_from_db()
    assert planner.email == "pat@reed.example"
    assert as_owner.post(page, {**form, "email": "pat@"}).status_code == 422


def test_the_peer_reads_our_server_as_one(studio):
    """The test's own server against the standard library's client, so that it can't hide what it misreads."""
    with mail_server() as server:
        client = smtplib.SMTP("127.0.0.1", server.server_address[1])
        client.sendmail("a@b.example", ["c@d.example"], "Subject: x\r\n\r\n.dot\r\n")
        client.quit()
    assert server.letters == [b"Subject: x\r\n\r\n.dot\r\n"]
