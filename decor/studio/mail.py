"""Letters that leave the studio. An act writes them in its own transaction, a background job sends them after it: what
was undone is never told, and what was done is told even when the mail server sleeps.

A letter whose job dies between the server's yes and our own note of it goes out again, under the same Message-ID: mail
programs that look at it show one."""

import hashlib
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from email.utils import formataddr, parseaddr
from smtplib import (
    SMTPAuthenticationError,
    SMTPException,
    SMTPNotSupportedError,
    SMTPRecipientsRefused,
    SMTPResponseException,
    SMTPSenderRefused,
)

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.mail import EmailMultiAlternatives, get_connection
from django.core.validators import validate_email
from django.db import transaction
from django.template.loader import render_to_string
from django.utils import timezone

from decor.studio.background import Progress, TryLater, job_request
from decor.studio.letters import CONTROL
from decor.studio.models import BackgroundJob, Mail, Role, StoredFile, Studio, User
from decor.studio.services import file_read

KIND = "mail"
KEPT_FOR = timedelta(days=90)
WAITS = tuple(timedelta(minutes=m) for m in (1, 5, 15, 60, 120, 240, 480, 480))
"""Servers that put strangers off do so for minutes, some are down for a night; a day later it has failed."""


class MailRefused(ValueError):
    """The mail server said no for good, or there is nobody to send as; in words for the owner."""


def mail_is_on() -> bool:
    return bool(settings.MAIL_ON)


def one_line(words: str) -> str:
    """What may stand in a header: a line end in a title would begin a header of somebody else's choice."""
    return " ".join(CONTROL.sub("", words).split())


@transaction.atomic
def mail_write(
    *, key: str, to: str, subject: str, text: str, files: Iterable[StoredFile] = (), not_after: datetime | None = None
) -> Mail | None:
    """Written now, sent after the transaction. The same `key` again is the same letter. None where mail is off.
    Paragraphs of `text` are parted by empty lines; a line that is an address of ours becomes a link. ValueError for
    an address that is none."""
    if not mail_is_on():
        return None
    try:
        validate_email(to)
    except ValidationError as wrong:
        raise ValueError(f"to: {to!r} is not an e-mail address") from wrong
    told = {"to": to, "subject": one_line(subject)[:200], "text": CONTROL.sub("", text).strip(), "not_after": not_after}
    mail, made = Mail.objects.get_or_create(key=key, defaults=told)
    if made:
        mail.files.set(files)
        job_request(kind=KIND, subject_id=mail.pk, input_key="letter")
    return mail


def sender(studio: Studio) -> str:
    """Name and address that letters come from: MAIL_FROM, else the name one signs in to the mail server with where
    that is an address, else the studio's own. Many servers take no other than one's own."""
    name, address = parseaddr(one_line(settings.MAIL_FROM))
    signed_in = getattr(settings, "EMAIL_HOST_USER", "")
    address = address or (signed_in if "@" in signed_in else "") or studio.email
    if not address:
        raise MailRefused("There is no address to send from. Give the studio an e-mail address, or set MAIL_FROM.")
    return formataddr((name or one_line(studio.name), address))


def message_of(mail: Mail, studio: Studio) -> EmailMultiAlternatives:
    """Plain text, the same as plain HTML, and what is enclosed. Answers go to the studio's address."""
    come_from = sender(studio)
    host = parseaddr(come_from)[1].rpartition("@")[2]
    digest = hashlib.sha256(f"{settings.SECRET_KEY} {mail.key}".encode()).hexdigest()[:32]
    message = EmailMultiAlternatives(
        mail.subject,
        mail.text,
        come_from,
        [mail.to],
        reply_to=[formataddr((one_line(studio.name), studio.email))] if studio.email else None,
        headers={"Message-ID": f"<{digest}@{host}>"},
    )
    paragraphs = [[_line(line) for line in part.splitlines()] for part in mail.text.split("\n\n") if part.strip()]
    message.attach_alternative(render_to_string("studio/letter.html", {"paragraphs": paragraphs}), "text/html")
    for file in mail.files.order_by("pk") if mail.pk else ():
        message.attach(one_line(file.original_name).replace("/", "-") or file.name, file_read(file=file), file.mime)
    return message


def _line(line: str) -> tuple[bool, str]:
    return line.startswith(f"{settings.SITE_URL}/"), line


def mail_send(mail: Mail) -> str:
    """Talks to the mail server now; its own words. MailRefused when it says no, TryLater when it is not there."""
    studio = Studio.objects.order_by("pk").first()
    if studio is None:
        raise MailRefused("The studio must be opened first.")
    message = message_of(mail, studio)
    connection = get_connection()
    try:
        connection.open()
        connection.send_messages([message])
        return one_line(getattr(connection, "last_reply", ""))[:300]
    except (SMTPException, OSError) as error:
        raise _told(error, mail) from error
    finally:
        connection.close()


def _told(error: Exception, mail: Mail) -> Exception:
    where = f"The mail server {getattr(settings, 'EMAIL_HOST', '')}".strip()
    code, words = _reply_in(error)
    said = one_line(f"{code or ''} {words}")[:300]
    if isinstance(error, SMTPNotSupportedError):
        return MailRefused(f"{where} can't do what EMAIL_URL asks for: {said}")
    if isinstance(error, SMTPAuthenticationError):
        reason = f"{where} did not let us in: {said}. Look at the name and password in EMAIL_URL."
    elif isinstance(error, SMTPRecipientsRefused):
        reason = f"{where} does not take letters to {mail.to}: {said}"
    elif isinstance(error, SMTPSenderRefused):
        reason = f"{where} takes no letters from {parseaddr(str(error.sender))[1]}: {said}"
    elif code:
        reason = f"{where} said no: {said}"
    else:
        reason = f"{where} can't be reached: {said}"
    return MailRefused(reason) if code >= 500 else TryLater(reason, WAITS)


def _reply_in(error: Exception) -> tuple[int, str]:
    """(code, words) of a refusal; code 0 where it was no answer at all."""
    code = 0
    said: bytes | str = str(error) or type(error).__name__
    if isinstance(error, SMTPRecipientsRefused):
        code, said = next(iter(error.recipients.values()))
    elif isinstance(error, SMTPResponseException):
        code, said = error.smtp_code, error.smtp_error
    return max(code, 0), said.decode(errors="replace") if isinstance(said, bytes) else said


def planners_addresses() -> list[str]:
    """Where owners and planners are told what can't wait; the studio's own address where none of them has one."""
    rows = User.objects.filter(is_active=True, role__in=[Role.OWNER, Role.PLANNER]).exclude(email="")
    studio = Studio.objects.order_by("pk").values_list("email", flat=True).first()
    found = {address.lower(): address for address in rows.order_by("pk").values_list("email", flat=True)}
    return list(found.values()) or ([studio] if studio else [])


def mail_compute(mail_id: int, progress: Progress) -> Callable[[], None]:
    """Sends one letter, once: a second call finds it sent."""
    mail = Mail.objects.filter(pk=mail_id).first()
    if mail is None or mail.sent is not None:
        return lambda: None
    if mail.not_after and mail.not_after < timezone.now():
        reason = BackgroundJob.objects.filter(kind=KIND, subject_id=mail_id).values_list("reason", flat=True).first()
        raise MailRefused(f"“{mail.subject}” to {mail.to} came too late to be sent. {reason or ''}".strip())
    progress(0.1, f"to {mail.to}")
    try:
        reply = mail_send(mail)
    except MailRefused as refusal:
        raise MailRefused(f"“{mail.subject}” to {mail.to}: {refusal}") from refusal

    def write() -> None:
        Mail.objects.filter(pk=mail_id).update(sent=timezone.now(), reply=reply)

    return write


def mail_test(*, to: str) -> str:
    """One letter now, without the worker; the server's own words. MailRefused or TryLater say why not."""
    studio = Studio.objects.order_by("pk").first()
    name = studio.name if studio else "the studio"
    text = f"This is a test from {name}.\n\nIf you can read it, letters reach you.\n\n{settings.SITE_URL}/"
    return mail_send(Mail(key=f"test {timezone.now().isoformat()} {to}", to=to, subject="A test letter", text=text))


def mails_sweep(*, now: datetime) -> int:
    """Letters are kept for a while, to be looked at, and then forgotten with the addresses in them."""
    old = list(Mail.objects.filter(created__lt=now - KEPT_FOR).values_list("pk", flat=True))
    BackgroundJob.objects.filter(kind=KIND, subject_id__in=old).delete()
    return Mail.objects.filter(pk__in=old).delete()[1].get("studio.Mail", 0)
