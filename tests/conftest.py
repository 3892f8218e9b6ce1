"""The fixed cast: one invented studio, its owner, a planner and two crew. Everybody in a test is one of these."""

import os
from pathlib import Path

import pytest
from django.test import Client
from hypothesis import settings as examples

from decor.studio import services
from decor.studio.models import Role, Studio, User

# The browser tests call Django from a thread that also runs Playwright's event loop.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")

# The same examples on every machine, and no failure because a machine was busy.
examples.register_profile("steady", deadline=None, derandomize=True)
examples.load_profile("steady")

PASSWORD = "three grey herons wait"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Ratios and whole programs want the machine to themselves; `./run test` runs them after the others."""
    for item in items:
        if {"benchmarks", "services"} & set(Path(item.fspath).parts):
            item.add_marker(pytest.mark.alone)


@pytest.fixture(autouse=True)
def _own_media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "media"


@pytest.fixture
def studio(db) -> Studio:
    return Studio.objects.create(
        name="Saltmarsh Balloon Works",
        phone="01632 960 114",
        email="desk@saltmarsh.example",
        address="Unit 4, Rope Walk",
        time_zone="Europe/Dublin",
        currency="EUR",
    )


def _user(username: str, name: str, role: Role) -> User:
    return services.user_add(username=username, name=name, role=role, password=PASSWORD)


@pytest.fixture
def owner(studio) -> User:
    return _user("olive", "Olive Marsh", Role.OWNER)


@pytest.fixture
def planner(studio) -> User:
    return _user("pat", "Pat Reed", Role.PLANNER)


@pytest.fixture
def crew_user(studio) -> User:
    return _user("cory", "Cory Sedge", Role.CREW)


@pytest.fixture
def other_crew_user(studio) -> User:
    return _user("drew", "Drew Heron", Role.CREW)


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    services.login_succeeded(user=user, session_key=client.session.session_key, agent="test")
    return client


@pytest.fixture
def as_owner(owner) -> Client:
    return signed_in(owner)


@pytest.fixture
def as_planner(planner) -> Client:
    return signed_in(planner)


@pytest.fixture
def as_crew(crew_user) -> Client:
    return signed_in(crew_user)


@pytest.fixture
def as_nobody(studio) -> Client:
    return Client()
