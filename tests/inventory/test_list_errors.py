"""Files that are broken, and rows that are wrong: each is told in its own words, beside its cause."""

import codecs
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from inventory.models import Item, StockImport
from inventory.tables import services
from inventory.tables.files import FileRefused, delimiter_of, lines_of, text_of
from tests.inventory.lists import counts, looked_at, outcome, taken, worked

HEAD = "Kind,Name,Pack price\n"
ROW = "hardware,Crate,4\n"


def upload(client, data: bytes, name: str = "list.csv"):
    return client.post(reverse("inventory:import-new"), {"file": SimpleUploadedFile(name, data, "text/csv")})


@pytest.mark.parametrize(
    ("data", "encoding", "guessed"),
    [
        ("Name\nCrème\n".encode(), "UTF-8", False),
        ("Name\nCrème\n".encode("utf-8-sig"), "UTF-8", False),
        (codecs.BOM_UTF16_LE + "Name\nCrème\n".encode("utf-16-le"), "UTF-16", False),
        (codecs.BOM_UTF16_BE + "Name\nCrème\n".encode("utf-16-be"), "UTF-16", False),
        ("Name\nCrème\n".encode("cp1252"), "Windows-1252", True),
    ],
)
def test_how_it_is_written_is_told(data, encoding, guessed):
    text = text_of(data)
    assert (text.encoding, text.guessed) == (encoding, guessed)
    assert [line.cells for line in lines_of(text.words, ",")] == [["Name"], ["Crème"]]


BROKEN = "has letters that can't be read"


@pytest.mark.parametrize(
    ("data", "encoding", "broken"),
    [
        (
            codecs.BOM_UTF8 + HEAD.encode() + b"hardware,Cr\xe8me,4\n" + ROW.encode() + b"hardware,P\xf4le,4\n",
            "UTF-8",
            [2, 4],
        ),
        (HEAD.encode() + ROW.encode() + b"hardware,Cr\x81te \xe9,4\n", "Windows-1252", [3]),
        # Some rows came from another program: the others are not to turn into "CrÃ¨me" for it.
        (HEAD.encode() + "hardware,Crème,4\n".encode() + b"hardware,P\xf4le,4\n" + ROW.encode(), "UTF-8", [3]),
        ((HEAD + "hardware,Crate \ufffd,4\n" + ROW).encode(), "UTF-8", [2]),
    ],
)
def test_letters_that_cant_be_read_are_told_row_by_row(db, data, encoding, broken):
    batch = looked_at(data)
    assert batch.encoding == encoding
    told = outcome(batch)
    assert [line for line, (state, _) in told.items() if state == "wrong"] == broken
    assert all(told[line][1][0][0] == "Name" and BROKEN in told[line][1][0][1] for line in broken)
    assert all(state == "new" for line, (state, _) in told.items() if line not in broken)


def test_a_balloon_in_error_is_called_by_what_it_is(db):
    batch = looked_at("Size in,Colour,On screen,In a pack,Pack price,On hand\n5,teal,#008080,100,6,-3\n")
    assert [(row.state, row.name) for row in batch.rows.all()] == [("wrong", "5 in teal")]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_how_it_is_separated_is_told_by_its_headings(delimiter):
    cells = ["Name", "Kind", "Supplier, and their number; if any", "Pack price"]
    words = delimiter.join(f'"{cell}"' if delimiter in cell else cell for cell in cells)
    assert delimiter_of(f"{words}\na{delimiter}b", services.cols.is_known) == delimiter
    assert delimiter_of(f"sep={delimiter}\n{words}\n", services.cols.is_known) == delimiter


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b" \n ", "This file is empty."),
        (b"PK\x03\x04rest", "In the spreadsheet, save the list as CSV."),
        (b"%PDF-1.7", "This is a PDF."),
        (b"\xff\xd8\xff\xe0", "This is a picture."),
        ((HEAD + ROW).encode("utf-16-le"), "This file looks like UTF-16 without its mark."),
        (codecs.BOM_UTF16_LE + b"N\x00a", "marked as UTF-16, and breaks off"),
        ((HEAD + ROW).encode("utf-32"), "This file is written as UTF-32."),
        (HEAD.encode() + b"hardware,a\0b,4\n", "characters in it that are none (NUL)"),
        (HEAD.encode(), "There are headings in this file and nothing below them."),
        (b"Something\nelse\n", "The first row must hold the headings"),
        (HEAD.encode() + b'hardware,"Crate,4\n', "A quotation mark is opened and never closed"),
        (HEAD.encode() + b'hardware,"Cra"te,4\n', "Line 2 has a quotation mark in the wrong place"),
        (HEAD.encode() + b"hardware," + b"x" * 10_001 + b",4\n", "Line 2 has a cell of more than 10,000 letters."),
        (HEAD.encode() + b"hardware," + b"x" * 200_000 + b",4\n", "Line 2 has a cell of more than 10,000 letters."),
        (HEAD.encode() + b"," * 300 + b"x\n", "Line 2 has 301 cells; the most is 200."),
        (HEAD.encode() + b"a,b,1\n" * 100_001, "This file has more than 100,000 rows."),
        (HEAD.encode() + b"x" * (10 * 2**20), "This file is 11 MB; the most is 10 MB."),
        (b"x" * (15 * 2**20 + 1), "This file is 16 MB; the most is 10 MB."),
    ],
)
def test_a_file_that_cant_be_read_is_refused_in_words(as_planner, data, words):
    answer = upload(as_planner, data)
    assert answer.status_code == 422
    assert words in answer.content.decode().replace("&#x27;", "'")
    assert not StockImport.objects.exists()


def test_no_file_at_all(as_planner):
    answer = as_planner.post(reverse("inventory:import-new"), {})
    assert answer.status_code == 422 and "Choose a file." in answer.content.decode()


def test_headings_that_are_not_known_are_asked_for(as_planner):
    data = "What it is;Bezeichnung;EK;Note\nhardware;Crate;4,20;x\n".encode("cp1252")
    answer = upload(as_planner, data)
    batch = StockImport.objects.get()
    page = reverse("inventory:import-columns", args=[batch.pk])
    assert answer["Location"] == page
    text = as_planner.get(page).content.decode()
    for words in ("4 headings are not known here", "Bezeichnung", "Crate", "EK", "4,20"):
        assert words in text
    given = {"column-0": "kind", "column-1": "", "column-2": "pack_price", "column-3": ""}
    refused = as_planner.post(page, given)
    assert refused.status_code == 422 and "No column says which item a row is." in refused.content.decode()
    refused = as_planner.post(page, given | {"column-1": "name", "column-3": "name"})
    assert refused.status_code == 422
    assert "Bezeichnung and Note can&#x27;t both be Name." in refused.content.decode()
    assert as_planner.post(page, given | {"column-1": "nonsense"}).status_code == 422
    answer = as_planner.post(page, given | {"column-1": "name"})
    assert answer["Location"] == reverse("inventory:import", args=[batch.pk])
    assert counts(worked(batch)) == (1, 0, 0, 0)


def test_a_list_of_one_kind_needs_no_column_for_it(as_planner):
    upload(as_planner, b"Name,Pack price,Colour of box\nCrate,4,red\n")
    batch = StockImport.objects.get()
    given = {"column-0": "name", "column-1": "pack_price", "column-2": "", "all_kind": "hardware"}
    as_planner.post(reverse("inventory:import-columns", args=[batch.pk]), given)
    assert counts(worked(batch)) == (1, 0, 0, 0)


LATEX = "Kind,Number,Name,Size in,Shape,Colour,Finish,On screen,In a pack,Pack price,On hand\n"


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        ("cake,,,5,,sky,,,100,6,", "Kind", "This must be one of: balloons, sheet, hardware, cylinder, foil."),
        (",,Crate,,,,,,,4,", "Kind", "This is new here: say in the column Kind whether it is"),
        ("balloons,,,,,sky,,,100,6,", "Size in", "It is new, so this must be filled in."),
        ("balloons,,,-5,,sky,,,100,6,", "Size in", "This must be 1 or more."),
        ("balloons,,,500,,sky,,,100,6,", "Size in", "This must be 72 or less."),
        ("balloons,,,five,,sky,,,100,6,", "Size in", "This must be a number."),
        ("balloons,,,nan,,sky,,,100,6,", "Size in", "This must be a number."),
        ("balloons,,,5,cube,sky,,,100,6,", "Shape", "This must be one of: round, double-ended, long."),
        ("balloons,,,5,,sky,,blueish,100,6,", "On screen", "Write the colour as # and six digits, like #7db3d8"),
        ("balloons,,,5,,hedge,,,100,6,", "On screen", "It is new, so this must be filled in."),
        ("balloons,,,5,,sky,,,0,6,", "In a pack", "This must be 1 or more."),
        ("balloons,,,5,,sky,,,1e9,6,", "In a pack", "This must be a whole number."),
        ("balloons,,,5,,sky,,,9999999,6,", "In a pack", "This must be 1,000,000 or less."),
        ("balloons,,,5,,sky,,,100,-6,", "Pack price", "This must be 0 or more."),
        ("balloons,,,5,,sky,,,100,1e7,", "Pack price", "This must be 999,999 or less."),
        ("balloons,,,5,,sky,,,100,6.123,", "Pack price", "Not so fine: 2 digits behind the point at most."),
        ("balloons,,,5,,sky,,,100,,", "Pack price", "It is new, so it needs a price: 0 if it costs nothing."),
        ('balloons,,,5,,sky,,,100,"1,234",', "Pack price", "can be read in two ways"),
        ("balloons,,,5,,sky,,,100,6,-3", "On hand", "This must be 0 or more, 1,000,000 at most."),
        ("balloons,,,5,,sky,,,100,6,3.5", "On hand", "This must be a whole number."),
        ("balloons,,,5,,sky,,,100,6,99999999", "On hand", "This must be 0 or more, 1,000,000 at most."),
        ("balloons,,,5,,sky,,,100,6," + "9" * 5000, "On hand", "This must be a whole number."),
        ("balloons,,,5,,sky,,," + "9" * 5000 + ",6,", "In a pack", "This must be"),
        ("balloons,,," + "9" * 5000 + ",,sky,,,100,6,", "Size in", "That has too many digits"),
        ("balloons,99999,,5,,sky,,,100,6,", "Number", "There is no item 99999 here."),
        ("balloons,²,,5,,sky,,,100,6,", "Number", "There is no item ² here."),
        ("hardware,,Crate,5,,,,,1,6,", "Size in", "Hardware has none of this: leave it empty."),
        ("hardware,,,,,,,,1,6,", "Name", "It is new, so this must be filled in."),
        ("hardware,,5 in red,,,,,,1,6,", "Name", None),
        ("balloons,,x,5,,sky,,", "", "This row breaks off: 8 cells, the headings are 11."),
        ("balloons,,x,5,,sky,,,100,6,,,,surplus", "", "This row has 14 cells and the headings are 11."),
        ("hardware,,Cra\x07te,,,,,,1,6,", "Name", "There is a character in this that can't be shown."),
        (f"hardware,,{'x' * 81},,,,,,1,6,", "Name", "That is too long: 80 letters at most, these are 81."),
    ],
)
def test_a_wrong_row_is_told_beside_its_column(db, row, column, words):
    batch = looked_at(LATEX + row + "\n")
    if words is None:  # a thing may be called what a balloon would be, as long as there is none
        assert counts(batch) == (1, 0, 0, 0)
        return
    (state, errors) = outcome(batch)[2]
    assert state == "wrong"
    assert [(heading, text) for heading, text in errors if heading == column and words in text], errors
    assert not Item.objects.exists()


SHEET = "Kind,Name,Cells wide,Cells high,Pitch mm,Sized to mm,Events it lasts,Comes back,Pack price\n"


@pytest.mark.parametrize(
    ("head", "row", "column", "words"),
    [
        (SHEET, "sheet,Net,13,22,127,119,6,no,9", "Comes back", "It lasts several events, so it comes back after each"),
        (SHEET, "sheet,Net,400,400,127,119,6,yes,9", "Cells wide", "That would be 160,000 cells"),
        (SHEET, "sheet,Net,13,22,1,119,6,yes,9", "Pitch mm", "That is too short: 10 or more."),
        (SHEET, "sheet,Net,13,22,127,119,6,perhaps,9", "Comes back", "Write yes or no."),
        ("Kind,Name,Shape,Lifts g,Pack price\n", "foil,Star,star,5,1", "Gas l", "It lifts something, so it holds gas"),
        (
            "Kind,Name,Water volume l,Pressure bar,Rent a week,Pack price\n",
            "cylinder,Big,50,200,4,90",
            "Rent a week",
            "One of your own has no rent",
        ),
    ],
)
def test_what_only_several_cells_tell(db, head, row, column, words):
    ((_, errors),) = outcome(looked_at(f"{head}{row}\n")).values()
    assert [text for heading, text in errors if heading == column and words in text], errors


def test_more_lift_than_helium_has_is_a_note_and_no_error(db):
    batch = looked_at("Kind,Name,Shape,Gas l,Lifts g,Pack price\nfoil,Star,star,14,20,1\n")
    assert counts(batch) == (1, 0, 0, 0)
    assert "look at its packet again" in batch.rows.get().data["notes"][0]


def test_the_same_item_twice_in_a_file(sky):
    batch = looked_at("Name,Size in,Colour,Bin\n5 in sky,,,C1\n,5,Sky,C2\n")
    assert outcome(batch)[3] == ("wrong", [["", "This is the same item as in line 2. Leave one of them."]])
    batch = looked_at("Kind,Name,Pack price\nhardware,Crate,1\nhardware,CRATE,2\n")
    assert outcome(batch)[3][0] == "wrong"


def test_a_name_that_is_taken(sky, pole):
    batch = looked_at(f"Number,Name\n{pole.pk},5 in SKY\n")
    assert outcome(batch) == {2: ("wrong", [["Name", "There is already an item “5 in SKY”."]])}
    batch = looked_at(f"Number,Name\n{sky.pk},Sky of ours\n")
    words = "Balloons are named by their size, shape, finish and colour: change those."
    assert outcome(batch) == {2: ("wrong", [["Name", words]])}


def test_what_something_is_cant_change(sky):
    batch = looked_at(f"Number,Kind\n{sky.pk},hardware\n")
    assert outcome(batch)[2][1] == [["Kind", "5 in sky is a balloon here, and what something is can't change."]]


def test_one_bad_row_holds_the_whole_list_back(as_planner, sky):
    batch = looked_at(f"{HEAD}{ROW}hardware,Tray,-1\n")
    assert counts(batch) == (1, 0, 0, 1)
    answer = as_planner.post(reverse("inventory:import-take", args=[batch.pk]))
    assert answer.status_code == 422
    assert "Nothing is taken over while a row is in error." in answer.content.decode()
    assert list(Item.objects.values_list("name", flat=True)) == ["5 in sky"]
    text = as_planner.get(reverse("inventory:import", args=[batch.pk])).content.decode()
    assert "1 row is in error." in text and "This must be 0 or more." in text
    errors = b"".join(as_planner.get(reverse("inventory:import-errors", args=[batch.pk])).streaming_content)
    assert errors.decode("utf-8-sig") == (
        "Line,Item,Column,What is wrong\r\n3,Tray,Pack price,This must be 0 or more.\r\n"
    )


def test_errors_of_cells_that_would_run_are_defused_too(as_planner):
    batch = looked_at(f"{HEAD}hardware,=cmd,-1\n")
    errors = b"".join(as_planner.get(reverse("inventory:import-errors", args=[batch.pk])).streaming_content).decode()
    assert "\r\n2,'=cmd,Pack price,This must be 0 or more.\r\n" in errors


def test_a_list_that_changes_nothing_is_not_taken_over(sky):
    batch = looked_at("Name,Bin\n5 in sky,B2\n")
    with pytest.raises(services.NotNow, match="Nothing in this list differs from the stock"):
        services.import_take(batch=batch)


def test_it_is_not_taken_over_twice(db):
    batch = taken(HEAD + ROW)
    with pytest.raises(services.NotNow):
        services.import_take(batch=batch)
    assert Item.objects.count() == 1


def test_lists_that_nobody_took_are_forgotten(db):
    kept, left = taken(HEAD + ROW), looked_at(HEAD + "hardware,Tray,1\n")
    services.imports_sweep(now=timezone.now() + timedelta(days=13))
    assert StockImport.objects.count() == 2
    services.imports_sweep(now=timezone.now() + timedelta(days=15))
    assert list(StockImport.objects.all()) == [kept] and left.pk


def test_refused_while_it_is_read(db):
    with pytest.raises(FileRefused, match="empty"):
        services.import_start(data=b"", original_name="x", by=None)


def test_not_for_crew_nor_for_nobody(as_crew, as_nobody):
    for client, status in ((as_crew, 403), (as_nobody, 302)):
        assert upload(client, (HEAD + ROW).encode()).status_code == status
        assert client.get(reverse("inventory:export")).status_code == status
    assert not StockImport.objects.exists()
