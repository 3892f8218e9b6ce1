"""The studio's page and the rates: long forms under headings, each figure asked for once."""

import importlib

import pytest
from django.apps import apps
from django.urls import reverse

from decor.calc.work.rates import Rates, rate_parts, scalar_fields
from decor.studio.forms import RatesForm, StudioForm
from decor.studio.models import Studio
from tests.conftest import signed_in

pytestmark = pytest.mark.django_db


def sent(form):
    return {name: form[name].value() for name in form.fields}


def test_every_field_stands_in_one_part(studio):
    for form in (StudioForm(instance=studio), RatesForm(rates=Rates(), changed={})):
        shown = [field.name for part in form.parts for field in part.fields]
        assert sorted(shown) == sorted(form.fields)
        assert all(part.fields for part in form.parts)


def test_every_rate_is_asked_for_in_one_place():
    asked = {name for _, held in rate_parts() for name in (item.name for item in held)}
    assert asked == {item.name for item in scalar_fields()}
    elsewhere = asked - set(RatesForm(rates=Rates(), changed={}).fields)
    assert elsewhere == {"van_room_m3"}
    assert "van_volume_m3" in StudioForm().fields


def test_figures_saved_as_they_stand_are_nobodys_own(owner, studio):
    page = reverse("studio:rates")
    client = signed_in(owner)
    answer = client.post(page, sent(RatesForm(rates=Rates(), changed={})))
    assert answer.status_code == 302
    assert Studio.objects.get().rates == {}
    assert b"of your own" not in client.get(page).content


def test_a_changed_rate_is_kept_and_counted_in_its_part(owner, studio):
    client, page = signed_in(owner), reverse("studio:rates")
    given = sent(RatesForm(rates=Rates(), changed={})) | {"strike_share_of_install": "0.5", "dress_piece_min": "7"}
    client.post(page, given)
    assert Studio.objects.get().rates == {"strike_share_of_install": 0.5, "dress_piece_min": 7.0}
    parts = RatesForm(rates=Rates(), changed=Studio.objects.get().rates).parts
    assert {part.title: part.changed for part in parts if part.changed} == {"At the venue": 2}
    assert "2 of your own" in client.get(page).content.decode()


@pytest.mark.parametrize("page,field", [("studio:rates", "pole_kg"), ("studio:settings", "vans")])
def test_the_part_with_the_fault_stands_open(owner, studio, page, field):
    client = signed_in(owner)
    form = client.get(reverse(page)).context["form"]
    answer = client.post(reverse(page), {n: v if v is not None else "" for n, v in sent(form).items()} | {field: "x"})
    assert answer.status_code == 422
    wrong = [part for part in answer.context["form"].parts if part.wrong]
    assert [field in {f.name for f in part.fields} for part in wrong] == [True]
    first = answer.context["form"].parts[0]
    assert answer.content.decode().count("<details") == len(answer.context["form"].parts)
    assert answer.content.decode().count(" open>") == len({part.title for part in (*wrong, first)})


def test_the_vans_room_that_was_among_the_rates_becomes_the_studios(studio):
    studio.rates, studio.van_volume_m3 = {"van_room_m3": 7.5, "pole_kg": 2.0}, 11
    studio.save()
    importlib.import_module("decor.studio.migrations.0005_the_van_is_asked_for_once").van_from_rates(apps, None)
    studio.refresh_from_db()
    assert (studio.rates, studio.van_volume_m3) == ({"pole_kg": 2.0}, 7.5)
