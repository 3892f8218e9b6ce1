import pytest
from django.test import Client

from decor.studio.models import Studio, User

FORM = {
    "code": "s3tup",
    "name": "Saltmarsh Balloon Works",
    "time_zone": "Europe/Dublin",
    "owner_name": "Olive Marsh",
    "username": "olive",
    "password": "three grey herons wait",
}


@pytest.fixture
def code(settings, tmp_path, db):
    settings.VAR_DIR = tmp_path
    (tmp_path / "setup_code").write_text("s3tup")


def test_everything_leads_to_the_first_run_page(code):
    assert Client().get("/")["Location"] == "/first-run/"
    page = Client().get("/first-run/?code=s3tup").content.decode()
    for row in ("Address", "Phones: https", "Worker", "Time zone", "Mail", "Backup"):
        assert row in page


def test_the_first_owner_is_made_once(code):
    client = Client()
    assert client.post("/first-run/", FORM).status_code == 302
    assert "Saltmarsh Balloon Works is open. Sign in" in client.get("/sign-in/").content.decode()
    assert (Studio.objects.get().name, User.objects.get().role) == ("Saltmarsh Balloon Works", "owner")
    assert client.post("/first-run/", {**FORM, "username": "second"})["Location"] == "/sign-in/"
    assert User.objects.count() == 1


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("code", "guess", "not the code"),
        ("password", "too short", "at least 15"),
        ("time_zone", "Mars/Base", "Choose one of those offered"),
        ("time_zone", "", "Choose one."),
        ("name", "", "Fill this in."),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_made(code, field, value, says):
    page = Client().post("/first-run/", {**FORM, field: value})
    assert page.status_code == 422 and says in page.content.decode()
    assert not Studio.objects.exists() and not User.objects.exists()


def test_without_a_code_on_disk_nobody_gets_in(settings, tmp_path, db):
    settings.VAR_DIR = tmp_path
    assert Client().post("/first-run/", {**FORM, "code": ""}).status_code == 422
    assert not User.objects.exists()
