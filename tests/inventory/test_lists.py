"""Stock out of the program and into it again."""

import csv
import io
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from inventory import ledger, rising
from inventory.models import Cylinder, Foil, Hardware, Item, Latex, Lot, Sheet
from inventory.tables import services
from inventory.tables.cells import as_it_was, defused
from inventory.tables.known import values_by_id
from tests import shelf
from tests.inventory.conftest import on_shelf
from tests.inventory.lists import counts, exported, looked_at, outcome, taken, undone, worked
from tests.inventory.test_item_add import GOOD, send
from tests.inventory.test_reservation_hold import hold

NASTY = [
    "=1+1",
    "+44",
    "-2",
    "@here",
    "'=x",
    "''=x",
    "'twas",
    'a "quoted" one',
    "semi;colon",
    "1,5",
    "ünïcödé",
]


@pytest.fixture
def stocked(as_planner, sky, red, pole):
    for kind in GOOD:
        changes = {"colour": "mint", "near": "#a9dcc3"} if kind == "latex" else {}
        assert (
            send(as_planner, kind, **changes, **({"name": "Pole, 3 m"} if kind == "hardware" else {})).status_code
            == 302
        )
    for at, name in enumerate(NASTY):
        Hardware.objects.create(kind="hardware", name=name, returnable=bool(at % 2), supplier=name, bin=name[:20])
    on_shelf(sky, 120)
    return as_planner


def test_what_goes_out_comes_in_unchanged(stocked):
    data = exported(stocked)
    assert data.startswith(b"\xef\xbb\xbfNumber,Kind,Name,")
    before = values_by_id()
    batch = looked_at(data)
    assert counts(batch) == (0, 0, Item.objects.count(), 0), outcome(batch)
    assert values_by_id() == before


@pytest.mark.parametrize("kind", Item.Kind.values)
def test_a_kind_by_itself(stocked, kind):
    rows = list(csv.DictReader(io.StringIO(exported(stocked, kind).decode("utf-8-sig"))))
    assert len(rows) == Item.objects.filter(kind=kind).count() > 0
    assert len({row["Kind"] for row in rows}) == 1
    assert counts(looked_at(exported(stocked, kind))) == (0, 0, len(rows), 0)


def test_nothing_that_goes_out_would_run(stocked):
    cells = [cell for row in csv.reader(io.StringIO(exported(stocked).decode("utf-8-sig"))) for cell in row]
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n", "\0"))]
    assert "'=1+1" in cells and "''=x" in cells


@given(st.text(st.sampled_from("'=+-@\t\r\n\0ab"), max_size=6))
def test_a_defused_cell_is_itself_again(cell):
    out = defused(cell)
    assert as_it_was(out) == cell
    assert not out.startswith(("=", "+", "-", "@", "\t", "\r", "\n", "\0"))


def test_the_whole_stock_into_an_empty_studio(stocked):
    data = exported(stocked)
    before = {values["name"]: values for values in values_by_id().values()}
    shelf.never_was()
    Lot.objects.all().delete()
    Item.objects.all().delete()
    rows = list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"))))
    out = io.StringIO()
    writer = csv.DictWriter(out, rows[0])
    writer.writeheader()
    writer.writerows({**row, "Number": ""} for row in rows)
    batch = taken(out.getvalue())
    assert batch.state == "taken" and counts(batch) == (len(rows), 0, 0, 0)
    after = {values["name"]: values for values in values_by_id().values()}
    assert after.keys() == before.keys()
    for name, values in after.items():
        assert {k: v for k, v in values.items() if k != "pk"} == {
            k: pytest.approx(v) if isinstance(v, float) else v for k, v in before[name].items() if k != "pk"
        }
    sky = Latex.objects.get(name="5 in sky")
    assert ledger.on_hand([sky.pk]) == {sky.pk: 120}
    for model, number in ((Latex, 3), (Sheet, 1), (Hardware, 2 + len(NASTY)), (Cylinder, 1), (Foil, 1)):
        assert model.objects.count() == number


NEW = """Kind,Name,Size in,Colour,Purpose,In a pack,Pack price,Supplier,On hand
balloons,,5,Mint,,100,6.20,estuary latex,250
Hardware,Crate,,,bin,,4,,
"""


def test_something_new_with_its_opening_stock(sky):
    batch = taken(NEW)
    assert (batch.state, counts(batch)) == ("taken", (2, 0, 0, 0))
    mint = Latex.objects.get(colour="mint")
    assert (mint.name, mint.rgb, mint.shape, mint.pack_price) == ("5 in mint", "#a9dcc3", "round", Decimal("6.20"))
    assert mint.supplier == "Estuary Latex"
    lot = Lot.objects.get(item=mint)
    assert (lot.quantity, lot.unit_cost, lot.received) == (250, Decimal("0.0620"), True)
    assert ledger.on_hand([mint.pk]) == {mint.pk: 250}
    crate = Hardware.objects.get(name="Crate")
    assert (crate.purpose, crate.returnable, crate.pack_size, crate.lead_days) == ("bin", True, 1, 5)
    assert counts(looked_at(NEW)) == (0, 0, 2, 0)


def test_what_is_changed_is_told_from_and_to_and_taken_back(sky, pole):
    on_shelf(sky, 100)
    before = values_by_id()
    batch = looked_at("Name;Preis;Pack price;Bin;On hand\n5 in SKY;x;7,10;C4;90\nPole, 2 m;y;0;;\n")
    assert batch.delimiter == ";" and counts(batch) == (0, 1, 1, 0)
    row = batch.rows.get(state="changed")
    assert row.data["changes"] == {"pack_price": ["6.20", "7.10"], "bin": ["B2", "C4"]}
    assert row.data["notes"] == ["100 stay on hand, whatever the file says (90): count it to change that."]
    assert values_by_id() == before
    batch = taken("Name;Pack price;Bin;On hand\n5 in SKY;7,10;C4;90\n")
    sky.refresh_from_db()
    assert (sky.pack_price, sky.bin) == (Decimal("7.10"), "C4")
    assert ledger.on_hand([sky.pk]) == {sky.pk: 100}
    assert undone(batch).state == "undone"
    assert values_by_id() == before


def test_two_that_swap_their_colours_and_back(sky):
    mint = Latex.objects.create(kind="latex", name="5 in mint", nominal_in=5, colour="mint", rgb="#a9dcc3")
    before = values_by_id()
    batch = taken(f"Number,Colour\n{sky.pk},mint\n{mint.pk},sky\n")
    assert batch.state == "taken", batch.job.reason
    assert {x.pk: x.name for x in Latex.objects.all()} == {sky.pk: "5 in mint", mint.pk: "5 in sky"}
    assert undone(batch).state == "undone"
    assert values_by_id() == before


def test_a_size_alone_changes_the_name_and_keeps_the_colour(sky):
    taken(f"Number,Size in\n{sky.pk},11\n")
    sky.refresh_from_db()
    assert (sky.name, sky.colour) == ("11 in sky", "sky")


def test_undo_takes_what_it_made_with_it(sky):
    batch = taken(NEW)
    assert Item.objects.count() == 3
    assert undone(batch).state == "undone"
    assert list(Item.objects.values_list("name", flat=True)) == ["5 in sky"]
    assert not Lot.objects.exists() and not Latex.objects.exclude(pk=sky.pk).exists()
    assert counts(looked_at(NEW)) == (2, 0, 0, 0)


def used_by_promise(item):
    hold([(item.pk, 1)])


def used_by_lot(item):
    on_shelf(item, 5)


def changed_since(item):
    Item.objects.filter(name="5 in sky").update(bin="Z9")


@pytest.mark.parametrize(
    ("meanwhile", "words"),
    [
        (used_by_promise, "5 in mint is promised, or was."),
        (used_by_lot, "5 in mint has lots that came since."),
        (changed_since, "Bin of 5 in sky was changed again since."),
    ],
)
def test_undo_says_what_is_in_the_way_and_undoes_nothing(sky, meanwhile, words):
    batch = taken(
        "Name,Size in,Colour,In a pack,Pack price,Bin,On hand\n,5,mint,100,6,B1,250\n5 in sky,5,sky,100,6.20,C7,\n"
    )
    assert batch.state == "taken", batch.job.reason
    meanwhile(Item.objects.get(name="5 in mint"))
    before = values_by_id()
    assert undone(batch).state == "undoing"
    assert batch.job.state == "failed" and batch.job.reason == f"Nothing was taken back. {words}"
    assert values_by_id() == before


def test_a_list_is_not_taken_over_once_the_stock_has_changed(as_planner, sky, pole):
    batch = looked_at(NEW)
    Item.objects.filter(pk=pole.pk).update(bin="Q1")
    as_planner.post(reverse("inventory:import-take", args=[batch.pk]))
    batch = worked(batch)
    text = as_planner.get(reverse("inventory:import", args=[batch.pk])).content.decode()
    assert "The stock has changed since this was checked, so nothing was taken over." in text
    assert Item.objects.count() == 2
    as_planner.post(reverse("inventory:import-check", args=[batch.pk]))
    worked(batch)
    as_planner.post(reverse("inventory:import-take", args=[batch.pk]))
    assert worked(batch).state == "taken"


def test_a_promise_that_came_meanwhile_keeps_what_comes_back(pole):
    on_shelf(pole, 4)
    batch = looked_at('Name,Comes back\n"Pole, 2 m",no\n')
    hold([(pole.pk, 4)])
    services.import_take(batch=batch)
    assert worked(batch).job.reason.startswith("Promised meanwhile")
    assert Hardware.objects.get().returnable
    again = looked_at('Name,Comes back,In use\n"Pole, 2 m",no,no\n')
    words = "It is promised, so this can't change now."
    assert outcome(again) == {2: ("wrong", [["Comes back", words], ["In use", words]])}


def test_opening_stock_came_on_the_studios_day(studio, monkeypatch):
    """Half past midnight in Greenwich is still the day before in Chicago, and a worker keeps Greenwich's time."""
    studio.time_zone = "America/Chicago"
    studio.save()
    monkeypatch.setattr("django.utils.timezone.now", lambda: datetime(2031, 5, 2, 0, 30, tzinfo=UTC))
    taken(NEW)
    assert Lot.objects.get().arrives_on == date(2031, 5, 1)


_ROSE: list[set[int]] = []


def rose(item_ids: set[int]) -> None:
    _ROSE.append(item_ids)


def test_whoever_waits_is_told_by_what_the_stock_rose(monkeypatch, as_planner, sky, pole):
    monkeypatch.setattr(rising, "_TOLD", [f"{__name__}.rose"])
    monkeypatch.setattr(f"{__name__}._ROSE", [])
    send(as_planner, "sheet")
    sheet = Sheet.objects.get()
    Item.objects.filter(pk=pole.pk).update(active=False)
    batch = taken(
        "Number,Kind,Name,Purpose,Pack price,Events it lasts,In use,Bin,On hand\n"
        f"{sheet.pk},sheet,,,,{sheet.uses + 1},,,\n"
        f"{pole.pk},hardware,,,,,yes,,\n"
        f"{sky.pk},balloons,,,,,,A 9,\n"
        ",hardware,Reel,line,4,,,,3\n"
        ",hardware,Hook,clip,4,,,,\n"
    )
    assert (batch.state, counts(batch)) == ("taken", (2, 3, 0, 0))
    reel = Item.objects.get(name="Reel").pk
    assert set().union(*_ROSE) == {sheet.pk, pole.pk, reel}, (
        "neither another bin nor something new of which none is there"
    )
    _ROSE.clear()
    undone(batch)
    assert set().union(*_ROSE) == {sheet.pk, pole.pk}
