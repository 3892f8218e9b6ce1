"""An order that the program sends to its supplier."""

import re
from datetime import timedelta

import pypdfium2
import pytest
from django.core import mail as outbox
from django.urls import reverse
from django.utils import timezone

from decor.studio import background, documents, mail
from decor.studio.models import BackgroundJob, Mail
from inventory.matters import matters, pressing, pressing_words
from inventory.models import Item, Lot, Order, Supplier
from inventory.ordering import orders_draft, stamp
from jobs.tasks import HANDLERS

pytestmark = pytest.mark.usefixtures("studio", "on")
TO = "orders@estuary.example"


@pytest.fixture
def on(settings, monkeypatch):
    settings.MAIL_ON = True
    monkeypatch.setattr(background, "_send", lambda job_id: None)


@pytest.fixture
def order(sky) -> Order:
    Supplier.objects.update_or_create(name="Estuary Latex", defaults={"email": TO, "our_number": "K-118"})
    return orders_draft(packs={sky.pk: 3})[0]


def due() -> str:
    return (timezone.localdate() + timedelta(days=6)).isoformat()


def send(client, order: Order, **more: str):
    return client.post(
        reverse("inventory:order-send", args=[order.pk]),
        {"due_on": due(), "seen": stamp(order), "by_mail": "on", **more},
    )


def page(client, order: Order) -> str:
    return re.sub(r"\s+", " ", client.get(reverse("inventory:order", args=[order.pk])).content.decode())


def run_all() -> None:
    for job in BackgroundJob.objects.filter(kind=mail.KIND, state=BackgroundJob.State.QUEUED):
        background.job_run(job_id=job.pk, handlers=HANDLERS)


def test_one_tap_sends_it_with_the_order_as_pdf_and_as_table(as_planner, order):
    form = as_planner.get(reverse("inventory:order-send", args=[order.pk])).content.decode()
    assert f"Send it to {TO} now" in form and re.search(r'name="by_mail"[^>]* checked', form)
    assert send(as_planner, order).status_code == 302
    order.refresh_from_db()
    assert order.state == Order.State.SENT and Lot.objects.get().received is False
    assert "Waiting" in page(as_planner, order)
    run_all()
    (letter,) = outbox.outbox
    assert letter.to == [TO] and letter.reply_to == ["Saltmarsh Balloon Works <desk@saltmarsh.example>"]
    assert letter.subject == f"Order {order.number} from Saltmarsh Balloon Works"
    assert "3 × pack of 100 5 in sky, €18.60" in letter.body and "K-118" in letter.body
    (pdf_name, pdf, pdf_kind), (csv_name, csv, csv_kind) = letter.attachments
    assert (pdf_name, pdf_kind) == (f"order {order.number}.pdf", "application/pdf")
    assert (csv_name, csv_kind) == (f"order {order.number}.csv", "text/csv")
    words = pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_range()
    day = timezone.localdate() + timedelta(days=6)
    assert order.number in words and "K-118" in words and f"{day.day} {day:%B %Y}" in words
    shown = as_planner.get(reverse("inventory:order-csv", args=[order.pk])).content.decode("utf-8-sig")
    assert csv.encode().decode("utf-8-sig") == shown
    assert "Sent" in page(as_planner, order)


def test_without_the_tick_it_only_counts_as_sent(as_planner, order):
    assert send(as_planner, order, by_mail="").status_code == 302
    order.refresh_from_db()
    assert order.state == Order.State.SENT and not Mail.objects.exists()


@pytest.mark.parametrize("mail_on, email", [(False, TO), (True, "")])
def test_where_the_program_can_not_it_does_not_offer_to(as_planner, order, settings, mail_on, email):
    settings.MAIL_ON = mail_on
    Supplier.objects.update(email=email)
    form = as_planner.get(reverse("inventory:order-send", args=[order.pk])).content.decode()
    assert "by_mail" not in form and "It is sent" in form
    assert send(as_planner, order).status_code == 302
    again = as_planner.post(reverse("inventory:order-mail", args=[order.pk]))
    assert again.status_code == 422 and "no address to send it to" in again.content.decode()
    assert not Mail.objects.exists()


def test_an_order_that_somebody_changed_meanwhile_is_not_sent(as_planner, order):
    answer = send(as_planner, order, seen="0" * 16)
    assert answer.status_code == 422 and "Somebody changed" in answer.content.decode()
    order.refresh_from_db()
    assert order.state == Order.State.DRAFT and not Mail.objects.exists()


def test_without_a_pdf_it_is_not_sent_and_the_cause_is_told(as_planner, order, monkeypatch):
    def missing(*given: object, **more: object) -> bytes:
        raise ValueError(documents.MISSING)

    monkeypatch.setattr("inventory.orders.paper.pdf_of", missing)
    answer = send(as_planner, order)
    assert answer.status_code == 422 and "apt-get install" in answer.content.decode()
    order.refresh_from_db()
    assert order.state == Order.State.DRAFT and not Mail.objects.exists()


def test_sent_twice_by_a_double_tap_is_one_letter_and_once_more_is_another(as_planner, order):
    key = {"request_key": "a-tap-and-another"}
    for _ in range(2):
        send(as_planner, order, **key)
    assert Mail.objects.count() == 1
    again = reverse("inventory:order-mail", args=[order.pk])
    for _ in range(2):
        assert as_planner.post(again, {"request_key": "once-more"}).status_code == 302
    assert [m.key for m in Mail.objects.order_by("pk")] == [f"order {order.number} 1", f"order {order.number} 2"]
    assert "once more" in page(as_planner, order)


def test_a_letter_that_did_not_go_out_is_told_on_the_order(as_planner, order, monkeypatch):
    send(as_planner, order)

    def refused(letter: Mail) -> str:
        raise mail.MailRefused("The mail server does not take letters to it: 550 no such person")

    monkeypatch.setattr(mail, "mail_send", refused)
    run_all()
    text = page(as_planner, order)
    assert "Not sent" in text and "550 no such person" in text and f"Send it to {TO} once more" in text
    (one,) = [m for m in matters(now=timezone.now()) if m.kind == "letter"]
    assert order.number in one.says and one.href == reverse("inventory:order", args=[order.pk])
    assert pressing_words(pressing(now=timezone.now())) == "1 order not sent"
    assert "1 order not sent" in as_planner.get(reverse("jobs:today")).content.decode()
    monkeypatch.undo()
    monkeypatch.setattr(background, "_send", lambda job_id: None)
    assert as_planner.post(reverse("inventory:order-mail", args=[order.pk])).status_code == 302
    assert not [m for m in matters(now=timezone.now()) if m.kind == "letter"]


def test_crew_send_nothing(as_crew, order):
    assert send(as_crew, order).status_code == 403
    assert as_crew.post(reverse("inventory:order-mail", args=[order.pk])).status_code == 403
    assert Item.objects.exists() and not Mail.objects.exists()
