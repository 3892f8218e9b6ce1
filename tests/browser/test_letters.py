"""What leaves the studio as a letter, on a phone: tried by the owner, sent with an order, and told where it fails."""

from datetime import timedelta

import pytest
from django.core import mail as outbox
from django.utils import timezone
from playwright.sync_api import expect

from decor.studio import background, mail
from decor.studio.mail_server import server_of
from decor.studio.models import BackgroundJob, Role, User
from inventory.holds import holds_tell
from inventory.models import Lot, Reservation, Supplier
from inventory.ordering import orders_draft
from jobs.tasks import HANDLERS
from tests.browser.conftest import PHONE
from tests.browser.editing import opened
from tests.browser.test_every_page import SMALL_TARGETS, faults, overflow
from tests.inventory.conftest import on_shelf, sky
from tests.studio.smtp import mail_server

__all__ = ["opened", "sky"]

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
TO = "orders@estuary.example"


@pytest.fixture(autouse=True)
def on(settings, monkeypatch):
    settings.MAIL_ON = True
    monkeypatch.setattr(background, "_send", lambda job_id: None)


@pytest.fixture
def order(sky):
    Supplier.objects.update_or_create(name="Estuary Latex", defaults={"email": TO})
    return orders_draft(packs={sky.pk: 3})[0]


def run_all() -> None:
    for job in BackgroundJob.objects.filter(kind=mail.KIND, state=BackgroundJob.State.QUEUED):
        background.job_run(job_id=job.pk, handlers=HANDLERS)


def sound(page) -> bool:
    return not faults(page) and not overflow(page) and not page.evaluate(SMALL_TARGETS, "letters")


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_the_owner_tries_it_and_sees_what_the_server_says(opened, planner, settings, script):
    User.objects.filter(pk=planner.pk).update(role=Role.OWNER)
    page = opened(PHONE, java_script_enabled=script)
    with mail_server(RCPT="550 5.7.1 relaying denied") as server:
        for name, value in server_of(f"smtp://127.0.0.1:{server.server_address[1]}").items():
            setattr(settings, name, value)
        page.goto("/more/")
        page.get_by_role("link", name="Mail").tap()
        page.get_by_label("Send a test letter to").fill("ann@reed.example")
        page.get_by_role("button", name="Send the test").tap()
        expect(page.locator("p.error", has_text="550 5.7.1 relaying denied")).to_be_visible()
        expect(page.get_by_label("Send a test letter to")).to_have_value("ann@reed.example")
        assert not script or sound(page)
        del server.answers["RCPT"]
        page.get_by_role("button", name="Send the test").tap()
        expect(page.get_by_role("status")).to_contain_text("The server said: 250 2.0.0 kept as 4711")
        assert len(server.letters) == 1


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_an_order_goes_out_with_one_tap(opened, order, script):
    page = opened(PHONE, java_script_enabled=script)
    page.goto(f"/stock/orders/{order.pk}/")
    page.get_by_role("button", name="Send it").tap()
    expect(page.get_by_label(f"Send it to {TO} now, with the PDF and the table")).to_be_checked()
    assert not script or sound(page)
    page.get_by_role("button", name="Send it").tap()
    expect(page.get_by_role("status")).to_contain_text(f"{order.number} goes to {TO} now.")
    expect(page.get_by_text("Waiting")).to_be_visible()
    assert Lot.objects.get().received is False
    run_all()
    page.reload()
    expect(page.locator(".state.ok", has_text="Sent")).to_be_visible()
    assert not script or sound(page)
    assert [len(letter.attachments) for letter in outbox.outbox] == [2]


def test_a_hold_that_ends_soon_stands_on_today_and_is_told_by_letter(opened, sky):
    on_shelf(sky, 100)
    now = timezone.now()
    page = opened(PHONE)
    Reservation.objects.create(
        label="Harbour supper",
        starts=now + timedelta(days=9),
        ends=now + timedelta(days=11),
        expires=now + timedelta(hours=47, minutes=1),
        end_set=now - timedelta(days=1),
    )
    page.goto("/")
    row = page.locator("section", has_text="Holds that end soon")
    expect(row).to_contain_text("Harbour supper")
    expect(row).to_contain_text("1 day 23 h left")
    assert sound(page)
    for _ in range(2):
        holds_tell(now=now)
        run_all()
    assert [letter.subject.startswith("The hold for Harbour supper ends") for letter in outbox.outbox] == [True]


def test_a_supplier_gets_another_name_on_the_phone(opened, order, sky):
    page = opened(PHONE)
    page.goto("/stock/suppliers/")
    page.get_by_role("link", name="Estuary Latex").tap()
    expect(page.get_by_role("heading", name="Bought there")).to_be_visible()
    assert sound(page)
    page.get_by_role("link", name="Change what is known").tap()
    page.get_by_label("Name").fill("Estuary & Daughters")
    page.get_by_label("Telephone").fill("01632 960 700")
    assert sound(page)
    page.get_by_role("button", name="Save").tap()
    expect(page.get_by_role("heading", name="Estuary & Daughters")).to_be_visible()
    sky.refresh_from_db(), order.refresh_from_db()
    assert sky.supplier == order.supplier == "Estuary & Daughters"
