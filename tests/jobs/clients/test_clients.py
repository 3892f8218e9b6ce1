import pytest

from decor.studio.models import AuditLine
from jobs.clients.models import Client
from jobs.clients.services import client_add

GIVEN = {"name": "Ann Reed", "organisation": "Harbour Library", "phone": "01632 960 220", "email": "", "note": ""}


@pytest.fixture
def ann(db) -> Client:
    return client_add(name="Ann Reed", organisation="Harbour Library", phone="01632 960 220")


def test_added(as_planner):
    answer = as_planner.post("/clients/new/", GIVEN)
    client = Client.objects.get()
    assert answer.url == f"/clients/{client.pk}/" and client.phone_digits == "01632960220"
    assert AuditLine.objects.filter(act="added a client").exists()


@pytest.mark.parametrize(
    "given, field",
    [
        ({"name": ""}, "name"),
        ({"phone": ""}, "phone"),
        ({"phone": "12"}, "phone"),
        ({"email": "ann at library"}, "email"),
    ],
)
def test_slips(as_planner, given, field):
    answer = as_planner.post("/clients/new/", {**GIVEN, **given})
    assert answer.status_code == 422 and list(answer.context["form"].errors) == [field]
    assert not Client.objects.exists()


def test_found_by_name_organisation_and_number(as_planner, ann):
    client_add(name="Bo Fern", phone="01632 960 777")
    for words in ("ann", "HARBOUR", "960220", "960 220"):
        assert [c.name for c in as_planner.get("/clients/", {"q": words}).context["page"]] == ["Ann Reed"], words
    assert "Clear the search" in as_planner.get("/clients/", {"q": "zebra"}).content.decode()
    assert len(as_planner.get("/clients/").context["page"]) == 2


def test_the_page(as_planner, ann):
    page = as_planner.get(f"/clients/{ann.pk}/").content.decode()
    assert 'href="tel:01632960220"' in page and "No event yet." in page
    assert as_planner.get("/clients/999999/").status_code == 404


def test_changed_and_found_by_the_new_number(as_planner, ann):
    as_planner.post(f"/clients/{ann.pk}/change/", {**GIVEN, "phone": "01632 960 555", "version": "1"})
    ann.refresh_from_db()
    assert (ann.phone_digits, ann.version) == ("01632960555", 2)


def test_the_second_save_is_told(as_planner, as_owner, ann):
    as_owner.post(f"/clients/{ann.pk}/change/", {**GIVEN, "note": "Theirs", "version": "1"})
    answer = as_planner.post(f"/clients/{ann.pk}/change/", {**GIVEN, "note": "Mine", "version": "1"})
    assert answer.status_code == 409 and answer.context["differences"] == [("Note", "Mine", "Theirs")]
    ann.refresh_from_db()
    assert ann.note == "Theirs"
    assert as_planner.post(f"/clients/{ann.pk}/change/", {**GIVEN, "note": "Mine", "version": "2"}).status_code == 302


@pytest.mark.parametrize("path", ["/clients/", "/clients/new/", "/clients/{}/", "/clients/{}/change/"])
def test_who_may_see_them(as_crew, as_nobody, ann, path):
    assert as_crew.get(path.format(ann.pk)).status_code == 403
    assert as_nobody.get(path.format(ann.pk)).url.startswith("/sign-in/")
