"""A list that made a balloon is not taken back once a design is drawn in it."""

from inventory.models import Latex, Sheet
from jobs.designs.in_use import items_drawn
from jobs.designs.models import Panel
from tests.inventory.lists import taken, undone
from tests.walk import open_demo


def test_what_panels_are_drawn_in_is_used(db):
    open_demo()
    panel = Panel.objects.exclude(palette=[]).first()
    free = taken("Size in,Colour,On screen,In a pack,Pack price\n19,heron,#8899aa,100,6\n").rows.get()
    assert items_drawn([*panel.palette, free.item]) == set(panel.palette)


def test_a_list_stays_while_a_design_uses_what_it_made(db):
    open_demo()
    batch = taken("Size in,Colour,On screen,In a pack,Pack price\n19,heron,#8899aa,100,6\n")
    latex, panel = Latex.objects.get(colour="heron"), Panel.objects.exclude(palette=[]).first()
    Panel.objects.filter(pk=panel.pk).update(palette=[*panel.palette, latex.pk])
    assert undone(batch).job.reason == "Nothing was taken back. 19 in heron is used in a design."
    Panel.objects.filter(pk=panel.pk).update(palette=panel.palette)
    assert undone(batch).state == "undone"
    assert Sheet.objects.exists() and not Latex.objects.filter(colour="heron").exists()


def test_a_sheet_that_a_panel_lies_on_stays(db):
    open_demo()
    head = "Kind,Name,Cells wide,Cells high,Pitch mm,Sized to mm,Events it lasts,Comes back,Pack price"
    batch = taken(f"{head}\nsheet,Reed net,13,22,127,119,6,yes,9\n")
    sheet, panel = Sheet.objects.get(name="Reed net"), Panel.objects.exclude(palette=[]).first()
    stood = panel.sheet_id
    Panel.objects.filter(pk=panel.pk).update(sheet=sheet)
    assert undone(batch).job.reason.startswith("Nothing was taken back. ")
    assert Sheet.objects.filter(pk=sheet.pk).exists()
    Panel.objects.filter(pk=panel.pk).update(sheet_id=stood)
    assert undone(batch).state == "undone"
