"""An order sent to its supplier by the program: a letter with the order in it, as PDF and as a table."""

import copy
from datetime import date, datetime

from django.db import transaction
from django.utils import timezone

from decor.studio.mail import KIND, mail_is_on, mail_write
from decor.studio.models import BackgroundJob, Mail, Studio
from decor.studio.services import file_store
from inventory.models import Order, Supplier
from inventory.ordering import order_locked, order_send
from inventory.orders import paper

ENCLOSED = "The order is enclosed as PDF and as a table."


def address_of(supplier: Supplier | None) -> str:
    """Where the program can send an order; empty while mail is off or nobody knows an address."""
    return supplier.email if supplier is not None and mail_is_on() else ""


def letters_of(order: Order) -> list[Mail]:
    """The newest first."""
    return list(Mail.objects.filter(key__startswith=f"order {order.number} ").order_by("-pk"))


def unsent() -> list[tuple[Order, Mail]]:
    """Orders that count as sent though their last letter did not go out, with that letter: the supplier does not know
    of them."""
    failed = BackgroundJob.objects.filter(kind=KIND, state=BackgroundJob.State.FAILED).values("subject_id")
    lost = Mail.objects.filter(key__startswith="order ", sent=None, pk__in=failed).order_by("pk")
    by_number = {mail.key.split()[1]: mail for mail in lost}
    if not by_number:
        return []
    orders = Order.objects.filter(number__in=by_number, state=Order.State.SENT).order_by("sent")
    return [(order, by_number[order.number]) for order in orders if letters_of(order)[0] == by_number[order.number]]


def order_send_by_mail(
    *, order: Order, studio: Studio, to: str, due_on: date, seen: str = "", now: datetime | None = None
) -> Order:
    """Sent, and its letter written, or neither. ValueError where no PDF can be made; else like `order_send`."""
    now = now or timezone.now()
    as_sent = copy.copy(order)
    as_sent.sent, as_sent.due_on = now, due_on
    # Painted before the lock is taken: whoever changed the order meanwhile is found by `seen`.
    papers = _papers(as_sent, studio)
    with transaction.atomic():
        order_send(order=order, due_on=due_on, now=now, seen=seen)
        _letter_write(order, studio, to, papers)
    return order


def order_mail(*, order: Order, studio: Studio, to: str) -> Mail | None:
    """Another letter of an order that is sent, such as when the first one did not arrive."""
    papers = _papers(order, studio)
    with transaction.atomic():
        order_locked(order, Order.State.SENT)
        return _letter_write(order, studio, to, papers)


def _papers(order: Order, studio: Studio) -> tuple[bytes, bytes]:
    return paper.order_pdf(order, studio), paper.order_csv(order, studio).encode()


def _letter_write(order: Order, studio: Studio, to: str, papers: tuple[bytes, bytes]) -> Mail | None:
    text = paper.letter(order, paper.lines_of(order), studio, paper.supplier_row(order))
    kinds = (("pdf", "application/pdf"), ("csv", "text/csv"))
    return mail_write(
        key=f"order {order.number} {len(letters_of(order)) + 1}",
        to=to,
        subject=paper.letter_subject(order, studio),
        text=f"{text}\n\n{ENCLOSED}",
        files=[
            file_store(data=data, mime=mime, original_name=f"order {order.number}.{ending}")
            for (ending, mime), data in zip(kinds, papers, strict=True)
        ],
    )
