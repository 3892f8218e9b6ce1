import pytest

from jobs.events.models import Venue

GIVEN = {
    "name": "Quay Hall", "address": "1 The Quay", "access": "", "contact_name": "", "contact_phone": "",
    "indoors": "no", "drive_minutes": "25", "distance_km": "18.5", "ceiling_m": "", "altitude_m": "12",
    "temperature_c": "17", "time_zone": "Europe/Dublin", "cautions": "No helium",
}  # fmt: skip


@pytest.fixture
def hall(db) -> Venue:
    return Venue.objects.create(name="Quay Hall", address="1 The Quay", time_zone="Europe/Dublin")


def test_added(as_planner):
    answer = as_planner.post("/events/venues/new/", GIVEN)
    venue = Venue.objects.get()
    assert answer.url == f"/events/venues/{venue.pk}/"
    assert (venue.indoors, venue.distance_km, venue.cautions) == (False, 18.5, "No helium")


@pytest.mark.parametrize(
    "given, field",
    [
        ({"name": ""}, "name"),
        ({"altitude_m": "9000"}, "altitude_m"),
        ({"temperature_c": "warm"}, "temperature_c"),
        ({"drive_minutes": "-5"}, "drive_minutes"),
        ({"ceiling_m": "0"}, "ceiling_m"),
        ({"time_zone": "Mars/Base"}, "time_zone"),
        ({"indoors": ""}, "indoors"),
    ],
)
def test_slips_are_said_in_sight(as_planner, given, field):
    answer = as_planner.post("/events/venues/new/", {**GIVEN, **given})
    assert answer.status_code == 422 and list(answer.context["form"].errors) == [field]
    page = answer.content.decode()
    assert "<details open>" in page or field not in ("altitude_m", "temperature_c", "ceiling_m", "time_zone")
    assert not Venue.objects.exists()


def test_a_new_one_starts_in_the_studios_zone(as_planner):
    assert as_planner.get("/events/venues/new/").context["form"]["time_zone"].value() == "Europe/Dublin"


def test_found_and_shown(as_planner, hall):
    assert [v.name for v in as_planner.get("/events/venues/", {"q": "quay"}).context["page"]] == ["Quay Hall"]
    assert "1 The Quay" in as_planner.get(f"/events/venues/{hall.pk}/").content.decode()
    assert as_planner.get("/events/venues/999999/").status_code == 404


def test_the_form_shows_what_is_kept(as_planner, hall):
    hall.indoors = False
    hall.save()
    page = as_planner.get(f"/events/venues/{hall.pk}/change/")
    assert page.context["form"]["indoors"].value() == "no"


def test_the_second_save_is_told(as_planner, as_owner, hall):
    change = f"/events/venues/{hall.pk}/change/"
    assert as_owner.post(change, {**GIVEN, "access": "Side door", "version": "1"}).status_code == 302
    answer = as_planner.post(change, {**GIVEN, "access": "Front door", "indoors": "yes", "version": "1"})
    assert answer.status_code == 409
    assert set(answer.context["differences"]) == {
        ("Access", "Front door", "Side door"),
        ("Where it stands", "yes", "no"),
    }
    hall.refresh_from_db()
    assert hall.access == "Side door"


@pytest.mark.parametrize(
    "path", ["/events/venues/", "/events/venues/new/", "/events/venues/{}/", "/events/venues/{}/change/"]
)
def test_who_may_see_them(as_crew, as_nobody, hall, path):
    assert as_crew.get(path.format(hall.pk)).status_code == 403
    assert as_nobody.get(path.format(hall.pk)).url.startswith("/sign-in/")
