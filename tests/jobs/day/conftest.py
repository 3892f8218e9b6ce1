import pytest

from jobs.designs.services import pieces_from_rough
from jobs.events.models import Event
from tests.conftest import signed_in
from tests.jobs.crew.makers import event, member, shift
from tests.jobs.designs.conftest import ROUGH_COLUMN, ROUGH_PANEL, latex, sheets

__all__ = ["latex", "sheets"]


@pytest.fixture
def centenary(sheets, latex) -> Event:
    """An event with a panel and two columns, whose rows are worth a price."""
    on = event()
    rough = [
        {"kind": "panel", "title": "Lighthouse panel", "built_at": "workshop", "measures": ROUGH_PANEL},
        {"kind": "column", "title": "Spiral columns", "count": 2, "built_at": "venue", "measures": ROUGH_COLUMN},
    ]
    pieces_from_rough(on, rough)
    return on


@pytest.fixture
def cory(crew_user):
    return member("Cory Sedge", "load", user=crew_user, phone="01632 960 301", wage_per_hour="21.35")


@pytest.fixture
def ada(studio):
    return member("Ada Fenn", "lead", phone="01632 960 201", wage_per_hour="27.45")


@pytest.fixture
def worked(centenary, cory, ada) -> Event:
    shift(centenary, ada, "lead", "09:00", "18:00")
    shift(centenary, cory, "load", "12:30", "16:40", note="Bring the tall ladder.")
    return centenary


@pytest.fixture
def as_other_crew(other_crew_user):
    return signed_in(other_crew_user)
