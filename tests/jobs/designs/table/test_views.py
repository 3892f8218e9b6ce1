"""The pages at the table: who may open them, what stands on them, and that they work without script."""

import json
import re
from datetime import timedelta

import numpy as np
import pytest
from django.utils import timezone

from decor.calc.work.rates import Rates
from inventory.models import Sheet
from jobs.designs.catalogue import catalogue_now
from jobs.designs.charting import cells_array
from jobs.designs.models import AtSheet, LoadedRow, Panel, Piece
from jobs.designs.table import services, shown, views
from jobs.designs.table.pace import Table
from tests.conftest import signed_in
from tests.jobs.designs.table.conftest import table_address


def page_of(client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def line(html: str, state: str) -> str:
    """The line in this state, as words."""
    found = re.search(rf'data-state="{state}".*?</section>', html, re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", found[0][found[0].index(">") + 1 :]).split()) if found else ""


def test_crew_with_a_shift_come_from_their_day_sheet(as_crew, shift, panel):
    piece = panel.piece
    assert table_address(piece) in page_of(as_crew, f"/day/{piece.event_id}/")
    assert "Sheet 2" in page_of(as_crew, table_address(piece))
    assert "Row 1 is in" in page_of(as_crew, table_address(piece, "1/"))


@pytest.mark.parametrize("tail", ["", "1/"])
def test_crew_without_a_shift_find_nothing(other_crew_user, shift, panel, tail):
    assert signed_in(other_crew_user).get(table_address(panel.piece, tail)).status_code == 404
    assert signed_in(other_crew_user).post(table_address(panel.piece, "1/here/")).status_code == 404
    assert signed_in(other_crew_user).post(table_address(panel.piece, "1/tick/"), {"in": 1}).status_code == 404
    assert not AtSheet.objects.exists() and not LoadedRow.objects.exists()


def test_planners_come_from_the_piece(as_planner, panel):
    piece = panel.piece
    assert table_address(piece) in page_of(as_planner, f"/events/{piece.event_id}/pieces/{piece.pk}/")


@pytest.mark.parametrize("tail", ["3/", "0/", "1/?face=1"])
def test_what_is_not_there(as_planner, panel, tail):
    assert as_planner.get(table_address(panel.piece, tail)).status_code == 404


def test_a_row_at_a_time_without_script(as_planner, panel):
    address = table_address(panel.piece, "1/")
    html = page_of(as_planner, address)
    assert line(html, "now").startswith("Row 1 of 3 left to right 2 sky 1 red")
    assert line(html, "next").endswith("Row 2 1 sky · 2 red")
    key = re.search(r'name="key" value="([^"]+)"', html)[1]
    sent = {"face": "0", "up": "top", "key": key}
    after = as_planner.post(f"{address}tick/", sent | {"in": "1"}, follow=True).content.decode()
    assert line(after, "now").startswith("Row 2") and 'name="out" value="1"' in after
    # A wrong tap: the row is the one at hand again.
    as_planner.post(f"{address}tick/", sent | {"in": "2"})
    back = as_planner.post(f"{address}tick/", sent | {"out": "2"}, follow=True).content.decode()
    assert line(back, "now").startswith("Row 2")
    for row in ("2", "4"):
        last = as_planner.post(f"{address}tick/", sent | {"in": row}, follow=True).content.decode()
    assert not line(last, "now") and "To the other sheets" in last


def test_a_form_of_an_earlier_chart_ticks_nothing(as_planner, panel):
    address = table_address(panel.piece, "1/")
    key = re.search(r'name="key" value="([^"]+)"', page_of(as_planner, address))[1]
    cells = cells_array(panel).copy()
    cells[0, 0] = 1
    Panel.objects.filter(pk=panel.pk).update(cells=cells.tobytes())
    told = as_planner.post(f"{address}tick/", {"face": "0", "up": "top", "key": key, "in": "1"}, follow=True)
    assert "The chart was changed meanwhile" in told.content.decode()
    assert not LoadedRow.objects.exists()


def test_a_changed_chart_is_said_and_its_old_ticks_kept(as_planner, planner, panel):
    address = table_address(panel.piece, "1/")
    key = re.search(r'name="key" value="([^"]+)"', page_of(as_planner, address))[1]
    services.row_load(
        panel=panel, chart_key=key, face=0, sheet_number=1, row=1, by=planner, at=timezone.now()
    )  # fmt: skip
    cells = cells_array(panel).copy()
    cells[0, 0] = 1
    Panel.objects.filter(pk=panel.pk).update(cells=cells.tobytes())
    html = page_of(as_planner, address)
    assert "changed since loading began. 1 tick from before is kept apart" in html
    assert line(html, "now").startswith("Row 1 of 3 left to right 1 red 1 sky 1 red")
    assert "changed since" not in page_of(as_planner, table_address(panel.piece, "2/"))


def test_rows_from_before_a_change_are_counted_in_where_somebody_says_they_are_right(as_planner, planner, panel):
    address = table_address(panel.piece, "1/")
    key = re.search(r'name="key" value="([^"]+)"', page_of(as_planner, address))[1]
    for row in (1, 2):
        services.row_load(panel=panel, chart_key=key, face=0, sheet_number=1, row=row, by=planner, at=timezone.now())
    cells = cells_array(panel).copy()
    cells[3, 0] = 0
    Panel.objects.filter(pk=panel.pk).update(cells=cells.tobytes())
    html = page_of(as_planner, address)
    new_key = re.search(r'name="key" value="([^"]+)"', html)[1]
    assert new_key != key and "They are right all the same" in html
    sent = {"face": "0", "up": "top", "key": new_key, "again": "1"}
    html = as_planner.post(f"{address}tick/", sent, follow=True).content.decode()
    assert line(html, "now").startswith("Row 4") and "They are right" not in html
    assert LoadedRow.objects.filter(chart_key=key).count() == LoadedRow.objects.filter(chart_key=new_key).count() == 2


def test_another_edge_up_is_kept_for_who_comes_next(as_planner, as_owner, planner, panel):
    address = table_address(panel.piece, "1/")
    html = page_of(as_planner, f"{address}?up=left")
    assert line(html, "now").startswith("Column 1 of 3 left to right 1 red 1 leave empty 2 sky")
    key = re.search(r'name="key" value="([^"]+)"', html)[1]
    as_planner.post(f"{address}tick/", {"face": "0", "up": "left", "key": key, "in": "1"})
    assert line(page_of(as_owner, address), "now").startswith("Column 2")
    assert "This sheet was begun with the left edge up" in page_of(as_owner, f"{address}?up=top")


def test_a_sandwich_has_a_second_layer(as_planner, panel):
    panel.loading = "sandwich"
    panel.save()
    html = page_of(as_planner, table_address(panel.piece))
    assert "Sheet 2, first layer" in html and "Sheet 2, second layer" in html
    assert "lay it over the first" in page_of(as_planner, table_address(panel.piece, "1/?face=1"))


def test_of_many_sheets_the_phone_keeps_the_next_ones(as_planner, panel, monkeypatch):
    panel.loading = "sandwich"
    panel.save()
    monkeypatch.setattr(views, "MOST_KEPT", 2)
    root = table_address(panel.piece)
    for tail, kept in {"1/": ["1/", "2/"], "2/": ["2/", "1/?face=1"], "2/?face=1": ["2/?face=1", "1/"]}.items():
        data = re.search(r'id="table-data"[^>]*>(.*?)</script>', page_of(as_planner, root + tail))[1]
        assert json.loads(data)["keep"] == [root, *(root + one for one in kept)]


def test_pairs_of_a_row(as_planner, panel):
    """Row 4 is six reds; on the first sheet three of them, tied as the pair list has it."""
    html = page_of(as_planner, table_address(panel.piece, "1/"))
    assert html.count("Pairs") >= 3 and "2 red" in html


def test_each_balloon_of_a_row_is_in_one_of_its_pairs_or_single(panel):
    """Counted over both sheets: a pair within a line has two of its balloons, one with a neighbour has one."""
    catalogue = catalogue_now()
    table = Table(panel, catalogue, Rates())
    hints = shown.hints_for(panel, catalogue, table, "top")
    for sheet in table.sheets:
        for number, row in table.lines(sheet.number, "top").items():
            words, _ = hints(row)
            balloons = 0
            for said in words:
                what, kinds = said.split(": ")
                balloons += (2 if what == "Pairs" else 1) * sum(int(kind.split()[0]) for kind in kinds.split(", "))
            assert balloons == row.filled, (sheet.number, number, words)


def test_strings_of_a_row(as_planner, panel):
    panel.loading = "strung"
    panel.save()
    html = page_of(as_planner, table_address(panel.piece, "1/?up=top")) + page_of(
        as_planner, table_address(panel.piece, "1/?up=left")
    )
    assert re.search(r"String 1, balloon \d+ to \d+", html)
    assert "right to left" in html and "let another edge lie up" in html


def test_at_the_table_are_the_pairs_of_the_pair_list(as_planner, panel):
    """Along the rows only, where that was chosen: nothing is shared with another row."""
    panel.cells = (np.indices((4, 6))[1] % 2).astype("<i2").tobytes()
    panel.save()
    assert "shared with the row" in "".join(page_of(as_planner, table_address(panel.piece, f"{n}/")) for n in (1, 2))
    Piece.objects.filter(pk=panel.piece_id).update(measures=panel.piece.measures | {"tying": {"between_rows": False}})
    for number in (1, 2):
        assert "shared with the row" not in page_of(as_planner, table_address(panel.piece, f"{number}/"))


def test_at_the_table_are_the_strings_of_the_slips(as_planner, panel, studio):
    """Of the studio's own length, each as long as its slip says."""
    panel.loading = "strung"
    panel.save()
    studio.rates = {"string_balloons": 6}
    studio.save()
    slips = as_planner.get(table_address(panel.piece).replace("table", "strings")).context["slips"]
    assert len(slips) == 4
    told: dict[int, list[int]] = {}
    for number in (1, 2):
        html = page_of(as_planner, table_address(panel.piece, f"{number}/"))
        for string, first, last in re.findall(r"String (\d+), balloon (\d+)(?: to (\d+))?", html):
            told.setdefault(int(string), []).extend(range(int(first), int(last or first) + 1))
    assert {string: sorted(found) for string, found in told.items()} == {
        slip.number: list(range(1, slip.balloons + 1)) for slip in slips
    }


def test_a_winding_way_is_not_told_as_if_it_went_along_the_rows(as_planner, panel):
    panel.loading = "strung"
    panel.save()
    Piece.objects.filter(pk=panel.piece_id).update(measures=panel.piece.measures | {"tying": {"winding": True}})
    html = page_of(as_planner, table_address(panel.piece, "1/"))
    assert "String 1, along the line drawn in the build book. Tick a row once all of it is in." in html
    assert "let another edge lie up" not in html and "balloon 1 to" not in html


@pytest.mark.parametrize(
    ("cells", "up"),
    [
        ([[0, 0, 0], [1, 1, 1]], "top"),
        ([[0, 1, 0], [0, 1, 0]], "left"),
        # From the top right, down, up and down again: two changes, where from the left there are three.
        ([[0, 0, 0], [0, 1, 0], [0, 1, 0], [0, 1, 1]], "right"),
    ],
)
def test_the_edge_along_which_the_strings_begin_lies_up(panel, cells, up):
    drawn = np.array(cells, dtype="<i2")
    panel.loading, panel.cells = "strung", drawn.tobytes()
    panel.rows, panel.columns = drawn.shape
    panel.save()
    catalogue = catalogue_now()
    table = Table(panel, catalogue, Rates())
    assert shown.usual_up(panel, catalogue, table) == up
    hints = shown.hints_for(panel, catalogue, table, up)
    first = next(iter(table.lines(1, up).values()))
    assert hints(first)[0][0].startswith("String 1, balloon 1 to")


def test_two_at_one_sheet_are_told_of_each_other(as_planner, as_owner, panel, planner, owner):
    here = table_address(panel.piece, "1/here/")
    assert as_planner.post(here, {"face": "0", "up": "top"}).json()["together"] == ""
    told = as_owner.post(here, {"face": "0", "up": "top"}).json()
    assert told["together"] == "Pat Reed is at this sheet too. Agree who takes which end."
    assert "You and Pat Reed are at it" in page_of(as_owner, table_address(panel.piece))
    AtSheet.objects.update(seen=timezone.now() - timedelta(minutes=3))
    assert "at it" not in page_of(as_owner, table_address(panel.piece))


def test_a_sheet_type_that_is_gone_is_said(as_planner, panel, monkeypatch):
    from jobs.designs.table import pace

    def gone(panel, catalogue):
        raise ValueError("The panel's sheet type is no longer in stock; choose another one for the panel first.")

    monkeypatch.setattr(pace, "table_plan", gone)
    assert "no longer in stock" in page_of(as_planner, table_address(panel.piece))
    assert as_planner.get(table_address(panel.piece, "1/")).status_code == 302
    assert Sheet.objects.exists()


def test_the_keeper_of_pages_is_served_from_the_root(as_nobody):
    answer = as_nobody.get("/sw.js")
    assert answer.status_code == 200 and answer["Content-Type"].startswith("text/javascript")
    assert answer["Cache-Control"] == "no-cache" and answer["Service-Worker-Allowed"] == "/"
