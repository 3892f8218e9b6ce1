"""The buy list and the orders' pages, with what is typed, what is refused, and what goes out on paper."""

import csv
import io
import re
from datetime import timedelta

import pypdfium2
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from decor.studio.models import AuditLine
from inventory import ledger
from inventory.models import Item, Lot, Order, Supplier
from inventory.ordering import order_send, orders_draft
from tests.inventory.conftest import on_shelf
from tests.inventory.test_buying import promised, short_sky
from tests.inventory.test_ordering import due, lot_of, sent

__all__ = ["short_sky"]

pytestmark = pytest.mark.usefixtures("studio")


def at(name: str, *args: int) -> str:
    return reverse(f"inventory:{name}", args=args)


def text_of(answer) -> str:
    return re.sub(r"\s+", " ", answer.content.decode())


def test_the_buy_list_says_what_for_how_many_by_when_and_for_how_much(as_planner, short_sky):
    text = text_of(as_planner.get(at("buy")))
    assert "Estuary Latex" in text and "250 short" in text and "3 packs: €18.60" in text
    day = timezone.localdate(timezone.now() + timedelta(days=14))
    assert f"100 for Choir jubilee, {day:%a} {day.day} {day:%B}" in re.sub(r"<[^>]+>", "", text)
    by = day - timedelta(days=5)
    assert f"Order by {by:%a} {by.day} {by:%B}; delivery takes 5 days" in text
    assert 'value="3"' in text and "Write the orders" in text


def test_nothing_to_buy_is_said(as_planner, sky):
    text = text_of(as_planner.get(at("buy")))
    assert "Nothing to buy." in text and "Every promise is covered" in text and "See the orders" in text


def test_a_wrong_day_is_told_beside_it(as_planner, short_sky):
    answer = as_planner.get(at("buy"), {"until": "2020-01-01"})
    assert answer.status_code == 422 and "That day is past" in text_of(answer)


def test_late_orders_and_too_late_lines_are_told(as_planner, short_sky):
    Item.objects.update(lead_days=18)
    was = timezone.localdate() - timedelta(days=2)
    Lot.objects.create(item_id=short_sky.pk, quantity=200, arrives_on=was, received=False)
    text = text_of(as_planner.get(at("buy")))
    assert "Too late for Choir jubilee: delivery takes 18 days; in time for the other" in text
    assert "200 were due on" in text and "so they don&#x27;t count" in text
    assert "1 line too late" in text


def test_ticked_lines_become_an_order_for_each_supplier(as_planner, short_sky, red):
    Item.objects.filter(pk=red.pk).update(reorder_level=60)
    keys = {
        "line": [f"short-{short_sky.pk}", f"low-{red.pk}"],
        f"packs-short-{short_sky.pk}": "4",
        f"packs-low-{red.pk}": "2",
    }
    until = timezone.localdate() + timedelta(days=28)
    answer = as_planner.post(at("buy"), keys | {"until": until.isoformat()}, follow=True)
    assert "2 orders are written. Nothing is sent yet." in text_of(answer)
    first, second = Order.objects.order_by("pk")
    assert (first.supplier, first.lines.get().packs) == ("Estuary Latex", 4)
    assert [one["label"] for one in first.lines.get().what_for] == ["Choir jubilee", "Regatta supper"]
    assert (second.supplier, second.lines.get().what_for) == ("", [])
    text = text_of(as_planner.get(at("buy")))
    assert "3 packs in an order that is not sent yet" in text
    assert f'value="short-{short_sky.pk}" checked' not in text
    assert AuditLine.objects.filter(act="wrote orders").exists()


def ticked(page, **packs):
    until = timezone.localdate() + timedelta(days=28)
    told = {f"packs-{key.replace('_', '-')}": str(number) for key, number in packs.items()}
    keys = {"line": [key.replace("_", "-") for key in packs], "until": until.isoformat()}
    return page.post(at("buy"), keys | told, follow=True)


def test_what_is_ticked_goes_into_the_open_draft_of_its_supplier(as_planner, short_sky, red):
    Item.objects.filter(pk=red.pk).update(reorder_level=60, supplier="estuary latex")
    (draft,) = orders_draft(packs={short_sky.pk: 1})
    answer = ticked(as_planner, **{f"short_{short_sky.pk}": 4, f"low_{red.pk}": 2})
    assert f"Added to {draft.number}. Nothing is sent yet." in text_of(answer)
    assert answer.redirect_chain[-1][0] == at("order", draft.pk)
    assert Order.objects.get() == draft
    assert {line.item_id: line.packs for line in draft.lines.all()} == {short_sky.pk: 5, red.pk: 2}
    assert [one["label"] for one in draft.lines.get(item=short_sky.pk).what_for] == ["Choir jubilee", "Regatta supper"]
    Item.objects.filter(pk=red.pk).update(supplier="Cliff Paper")
    text = text_of(ticked(as_planner, **{f"short_{short_sky.pk}": 1, f"low_{red.pk}": 1}))
    assert f"1 order is written; added to {draft.number}. Nothing is sent yet." in text
    order_send(order=draft, due_on=due())
    before = Order.objects.count()
    Item.objects.filter(pk=red.pk).update(reorder_level=900, supplier=short_sky.supplier)
    assert "1 order is written. Nothing is sent yet." in text_of(ticked(as_planner, **{f"low_{red.pk}": 1}))
    assert Order.objects.count() == before + 1, "what is sent is not written over"


def test_where_all_of_it_is_written_the_next_thing_is_to_send_it(as_planner, short_sky, red):
    Item.objects.filter(pk=red.pk).update(supplier="Cliff Paper")
    orders_draft(packs={red.pk: 1})
    (draft,) = orders_draft(packs={short_sky.pk: 1})
    text = text_of(as_planner.get(at("buy")))
    assert '<button class="btn" form="form">Write the orders' in text and "Send order" not in text
    draft.lines.update(packs=3)
    text = text_of(as_planner.get(at("buy")))
    assert f'<a class="btn" href="{at("order-send", draft.pk)}">Send order {draft.number}</a>' in text
    assert '<button class="btn second" form="form">Write the orders' in text, "to write more than is lacking"
    assert text.count('class="btn"') == 1


def test_two_drafts_to_one_supplier_become_one_and_the_other_says_where_it_is(as_planner, short_sky, red):
    Item.objects.filter(pk=red.pk).update(reorder_level=60, supplier=short_sky.supplier)
    (first,), (second,) = orders_draft(packs={red.pk: 1}), orders_draft(packs={red.pk: 4})
    assert f"It goes into draft order {first.number}" in text_of(as_planner.get(at("item-order", short_sky.pk)))
    text = text_of(ticked(as_planner, **{f"short_{short_sky.pk}": 3}))
    assert f"Added to {first.number}. Nothing is sent yet." in text
    assert {line.item_id: line.packs for line in first.lines.all()} == {red.pk: 5, short_sky.pk: 3}
    assert f"put together with {first.number}" in text_of(as_planner.get(at("order", second.pk)))
    assert second.number in text_of(as_planner.get(at("orders")))


def test_more_than_an_order_holds_is_told_beside_its_line(as_planner, short_sky):
    (draft,) = orders_draft(packs={short_sky.pk: 1})
    answer = ticked(as_planner, **{f"short_{short_sky.pk}": 100_000})
    assert answer.status_code == 422 and "That is more than anybody orders." in text_of(answer)
    assert Order.objects.get() == draft and draft.lines.get().packs == 1


def test_a_wrong_figure_is_told_beside_its_line_and_nothing_typed_is_lost(as_planner, short_sky):
    key = f"short-{short_sky.pk}"
    until = timezone.localdate() + timedelta(days=28)
    answer = as_planner.post(at("buy"), {"line": key, f"packs-{key}": "many", "until": until.isoformat()})
    text = text_of(answer)
    assert answer.status_code == 422 and "Say how many, in whole figures." in text and 'value="many"' in text
    assert f'href="#packs-{key}"' in text and not Order.objects.exists()
    answer = as_planner.post(at("buy"), {f"packs-{key}": "3", "until": until.isoformat()})
    assert answer.status_code == 422 and "Tick at least one line." in text_of(answer)


def test_a_draft_is_changed_added_to_and_left_whole_when_something_is_wrong(as_planner, sky, red):
    (order,) = orders_draft(packs={sky.pk: 3})
    change = at("order-change", order.pk)
    wrong = {f"packs-{sky.pk}": "5", "item": ["no such thing", "11 IN RED"], "n": ["1", "2"], "note": "side door"}
    answer = as_planner.post(change, wrong)
    text = text_of(answer)
    assert answer.status_code == 422 and "There is no “no such thing” in stock." in text
    assert 'value="5"' in text and 'value="11 IN RED"' in text and 'value="side door"' in text
    assert order.lines.get().packs == 3
    as_planner.post(
        change, {f"packs-{sky.pk}": "0", "item": ["11 IN RED", str(sky.pk)], "n": ["2", "1"], "note": "side door"}
    )
    assert {x.item_id: x.packs for x in order.lines.all()} == {red.pk: 2, sky.pk: 1}
    as_planner.post(change, {f"packs-{sky.pk}": "1", f"packs-{red.pk}": "2", "item": ["sky, 5 in"], "n": ["4"]})
    assert order.lines.get(item=sky.pk).packs == 5, "the same words in another order"
    answer = as_planner.post(change, {f"packs-{sky.pk}": "0", f"packs-{red.pk}": ""})
    assert answer.status_code == 422 and "An order needs at least one line" in text_of(answer)


def test_a_stale_page_changes_nothing(as_planner, sky):
    (order,) = orders_draft(packs={sky.pk: 3})
    answer = as_planner.post(at("order-change", order.pk), {f"packs-{sky.pk}": "5", "seen": "something older"})
    assert answer.status_code == 422 and "Somebody changed B-0001 meanwhile" in text_of(answer)
    assert order.lines.get().packs == 3


def test_sent_from_the_draft(as_planner, sky):
    Supplier.objects.create(
        name="estuary latex", email="orders@estuary.example", phone="01632 960 200", our_number="K 77"
    )
    (order,) = orders_draft(packs={sky.pk: 3})
    answer = as_planner.post(at("order-change", order.pk), {f"packs-{sky.pk}": "4", "then": "send"})
    assert answer.url == at("order-send", order.pk)
    text = text_of(as_planner.get(answer.url))
    assert "mailto:orders@estuary.example?subject=Order%20B-0001" in text and "K%2077" in text
    assert "The program sends no mail of its own for it." in text and f'value="{due().isoformat()}"' in text
    refused = as_planner.post(answer.url, {"due_on": "2020-01-01"})
    assert refused.status_code == 422 and "That day is past" in text_of(refused)
    as_planner.post(answer.url, {"due_on": due(6).isoformat()})
    assert lot_of(order).quantity == 400 and lot_of(order).arrives_on == due(6)
    assert as_planner.get(answer.url).status_code == 302


def test_the_orders_list_tells_late_ones_first(as_planner, sky):
    assert "No orders yet." in text_of(as_planner.get(at("orders")))
    orders_draft(packs={sky.pk: 1})
    on_time, was_due = sent(packs={sky.pk: 2}), sent(packs={sky.pk: 3})
    Order.objects.filter(pk=was_due.pk).update(due_on=due(-2))
    text = text_of(as_planner.get(at("orders")))
    assert "1 order late" in text
    assert text.index("Not sent") < text.index(was_due.number) < text.index(on_time.number)
    assert "Give it a new day" in text_of(as_planner.get(at("order", was_due.pk)))


def received(order: Order, **more: str) -> dict[str, str]:
    lot = lot_of(order)
    return {
        "on": timezone.localdate().isoformat(), f"came-{lot.pk}": "300", "rest": "later", "rest_due": "",
    } | {name.replace("LOT", str(lot.pk)): value for name, value in more.items()}  # fmt: skip


def test_received_in_full_says_who_is_whole_now(as_planner, planner, short_sky):
    order = sent(packs={short_sky.pk: 3})
    given = received(order, **{"use_by-LOT": due(300).isoformat(), "batch-LOT": " K 9 ", "cost-LOT": "0,07"})
    page = text_of(as_planner.get(at("order-receive", order.pk)))
    assert 'value="300"' in page and "Maker's batch" in page.replace("&#x27;", "'")
    text = text_of(as_planner.post(at("order-receive", order.pk), given, follow=True))
    assert "300 pieces are in the store. All that is promised to Choir jubilee, Regatta supper is here now." in text
    lot = Lot.objects.get(batch="K 9")
    assert f"{lot.unit_cost}" == "0.0700" and lot.movements.get().by == planner
    again = as_planner.post(at("order-receive", order.pk), given)
    assert again.status_code == 302 and ledger.on_hand([short_sky.pk])[short_sky.pk] == 500


def test_a_digit_too_many_is_asked_about_where_it_was_typed(as_planner, sky):
    order = sent(packs={sky.pk: 3})
    page = at("order-receive", order.pk)
    assert "More came than was ordered" not in text_of(as_planner.get(page))
    given = received(order, **{"came-LOT": "3000"})
    answer = as_planner.post(page, given)
    assert answer.status_code == 422 and "300 were ordered. If more came, tick that below" in text_of(answer)
    assert "More came than was ordered" in text_of(answer) and 'value="3000"' in answer.content.decode()
    before = ledger.on_hand([sky.pk])[sky.pk]
    assert as_planner.post(page, given | {"more": "on"}).status_code == 302
    assert ledger.on_hand([sky.pk])[sky.pk] == before + 3000


def test_received_in_part_asks_for_the_rest(as_planner, sky):
    order = sent(packs={sky.pk: 3})
    lot = lot_of(order)
    answer = as_planner.post(at("order-receive", order.pk), received(order, **{"came-LOT": "200"}))
    assert answer.status_code == 422 and "When should the rest come?" in text_of(answer)
    given = received(order, **{"came-LOT": "200", "rest_due": due(9).isoformat(), "use_by-LOT": "2020-01-01"})
    answer = as_planner.post(at("order-receive", order.pk), given)
    assert answer.status_code == 422 and "past its use before it came" in text_of(answer)
    given = received(order, **{"came-LOT": "200", "rest_due": due(9).isoformat()})
    text = text_of(as_planner.post(at("order-receive", order.pk), given, follow=True))
    assert "100 are still to come" in text and "200 came, 100 to come" in text
    assert Lot.objects.get(pk=lot.pk).received and lot_of(order).arrives_on == due(9)
    nothing = received(order, **{"came-LOT": "0"})
    assert "give the order a new day instead" in text_of(as_planner.post(at("order-receive", order.pk), nothing))


def test_two_pages_open_on_one_parcel(as_planner, as_owner, sky):
    order = sent(packs={sky.pk: 3})
    page = as_planner.get(at("order-receive", order.pk)).content.decode()
    seen = re.search(r'name="seen" value="(\w+)"', page)[1]
    given = received(order, **{"came-LOT": "200", "rest_due": due(9).isoformat(), "seen": seen})
    assert as_planner.post(at("order-receive", order.pk), given).status_code == 302
    answer = as_owner.post(at("order-receive", order.pk), given)
    assert answer.status_code == 422 and "Somebody received of B-0001 meanwhile" in text_of(answer)
    assert ledger.on_hand([sky.pk])[sky.pk] == 200


def test_written_off_putting_off_and_cancelling_name_the_promises_first(as_planner, sky):
    order = sent(packs={sky.pk: 3})
    promised(sky, 250, in_days=7, label="Harbour fair")
    never = received(order, **{"came-LOT": "200", "rest": "never"})
    for name, given in (("order-receive", never), ("order-due", {"due_on": due(9).isoformat()}), ("order-cancel", {})):
        answer = as_planner.post(at(name, order.pk), given)
        text = text_of(answer)
        assert answer.status_code == 422 and "This would leave a promise short" in text and "Harbour fair" in text
        assert Order.objects.get().state == "sent" and lot_of(order).quantity == 300
    as_planner.post(at("order-cancel", order.pk), {"even_if_short": "yes"})
    assert Order.objects.get().state == "cancelled"


def test_what_never_came_is_told_of_an_order_that_is_done(as_planner, sky):
    order = sent(packs={sky.pk: 3})
    as_planner.post(at("order-receive", order.pk), received(order, **{"came-LOT": "260", "rest": "never"}))
    text = text_of(as_planner.get(at("order", order.pk)))
    assert "260 pieces came; 40 of those ordered never did, and nothing more is expected." in text
    assert "All here" not in text and "Done" in text
    whole = sent(packs={sky.pk: 1})
    as_planner.post(at("order-receive", whole.pk), received(whole, **{"came-LOT": "120", "more": "on"}))
    assert "120 pieces came; nothing more is expected." in text_of(as_planner.get(at("order", whole.pk)))


def test_a_draft_is_thrown_away(as_planner, sky):
    (order,) = orders_draft(packs={sky.pk: 3})
    assert "Throw the draft away" in text_of(as_planner.get(at("order-cancel", order.pk)))
    as_planner.post(at("order-cancel", order.pk))
    assert Order.objects.get().state == "cancelled"


def paper_of(client, order: Order, query: str = "") -> str:
    answer = client.get(at("order-pdf", order.pk) + query)
    assert answer.status_code == 200 and answer["Content-Type"] == "application/pdf"
    pdf = pypdfium2.PdfDocument(answer.content)
    return " ".join(page.get_textpage().get_text_range() for page in pdf).replace("\r\n", " ")


def test_on_paper_for_the_supplier_and_for_ourselves(as_planner, short_sky, studio):
    Supplier.objects.create(name="Estuary Latex", our_number="K 77")
    what_for = {short_sky.pk: [{"label": "Choir jubilee", "quantity": 100, "day": "2031-05-14"}]}
    (order,) = orders_draft(packs={short_sky.pk: 3}, what_for=what_for)
    order_send(order=order, due_on=due())
    text = paper_of(as_planner, order)
    for words in (
        "Order B-0001",
        "Saltmarsh Balloon Works",
        "Unit 4, Rope Walk",
        "K 77",
        "5 in sky",
        "€6.20",
        "€18.60",
        "300",
    ):
        assert words in text, words
    assert "Choir jubilee" not in text
    assert "100 for Choir jubilee, Wed 14 May 2031" in paper_of(as_planner, order, "?internal=1")


def test_as_a_table_with_cells_that_no_spreadsheet_runs(as_planner, sky):
    Item.objects.filter(pk=sky.pk).update(name="=cmd()")
    (order,) = orders_draft(packs={sky.pk: 3})
    answer = as_planner.get(at("order-csv", order.pk))
    assert answer["Content-Disposition"] == 'attachment; filename="B-0001.csv"'
    head, row = csv.reader(io.StringIO(answer.content.decode("utf-8-sig")))
    told = dict(zip(head, row, strict=True))
    assert told["What"] == "'=cmd()"
    assert (told["Packs"], told["Pieces in a pack"], told["Pieces"]) == ("3", "100", "300")
    assert (told["Price of a pack"], told["Price"], told["Currency"]) == ("6.20", "18.60", "EUR")


def test_few_queries_however_many_orders_and_lines(as_planner, sky, red):
    def counted(*addresses: str) -> list[int]:
        found = []
        for address in addresses:
            with CaptureQueriesContext(connection) as queries:
                assert as_planner.get(address).status_code == 200
            found.append(len(queries))
        return found

    order = sent(packs={sky.pk: 3})
    few = counted(at("orders"), at("order", order.pk), at("order-receive", order.pk))
    items = [Item.objects.create(kind="hardware", name=f"Thing {n}", supplier="Estuary Latex") for n in range(30)]
    many = sent(packs={item.pk: 2 for item in items})
    for _ in range(20):
        orders_draft(packs={red.pk: 1})
    assert counted(at("orders"), at("order", many.pk), at("order-receive", many.pk)) == few


def test_crew_opens_none_of_it(as_crew, sky):
    order = sent(packs={sky.pk: 3})
    on_shelf(sky, 1)
    for address in (
        at("buy"),
        at("orders"),
        at("order", order.pk),
        at("order-pdf", order.pk),
        at("order-csv", order.pk),
    ):
        assert as_crew.get(address).status_code in {403, 404}


def test_an_item_is_put_into_an_order_from_its_own_page(as_planner, short_sky):
    text = text_of(as_planner.get(at("item-order", short_sky.pk), {"packs": "3"}))
    assert "It begins a draft order to Estuary Latex." in text and 'value="3"' in text
    form = {"packs": "3", "request_key": "abc"}
    first, second = (as_planner.post(at("item-order", short_sky.pk), form) for _ in range(2))
    order = Order.objects.get()
    assert first.url == second.url == at("order", order.pk)
    line = order.lines.get()
    assert line.packs == 3 and [one["label"] for one in line.what_for] == ["Choir jubilee", "Regatta supper"]
    text = text_of(as_planner.get(at("item", short_sky.pk)))
    assert f"in draft order {order.number}" in text and f"Send {order.number} by" in text
    text = text_of(as_planner.get(at("item-order", short_sky.pk)))
    assert f"It goes into draft order {order.number} to Estuary Latex." in text
    assert f"3 packs of 100 in {order.number} already" in text


@pytest.mark.parametrize(
    ("typed", "said"), [("", "Give a number."), ("0", "whole figures"), ("x", "whole"), ("9" * 9, "more than")]
)
def test_packs_that_nobody_orders_are_refused(as_planner, sky, typed, said):
    answer = as_planner.post(at("item-order", sky.pk), {"packs": typed})
    assert answer.status_code == 422 and said in text_of(answer) and not Order.objects.exists()


def test_an_item_that_is_no_longer_used_is_not_ordered(as_planner, sky):
    Item.objects.filter(pk=sky.pk).update(active=False)
    assert as_planner.get(at("item-order", sky.pk)).url == at("item", sky.pk)
