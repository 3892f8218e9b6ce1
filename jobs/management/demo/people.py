"""The invented studio and who works for it."""

import os
import secrets
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path

from decor.studio.models import Role, Studio, User
from decor.studio.services import user_add
from jobs.crew.models import Absence, Member

WORDS = [
    "heron",
    "tern",
    "plover",
    "dunlin",
    "curlew",
    "avocet",
    "reed",
    "sedge",
    "marsh",
    "creek",
    "tide",
    "harbour",
    "lantern",
    "rope",
    "barrel",
    "kettle",
    "willow",
    "hazel",
    "amber",
    "copper",
    "linen",
    "walnut",
    "pepper",
    "saffron",
]


def open_studio() -> Studio:
    return Studio.objects.create(
        name="Saltmarsh Balloon Works",
        phone="01632 960 114",
        email="desk@saltmarsh.example",
        address="Unit 4, Rope Walk, Tidewick",
        time_zone="Europe/Dublin",
        currency="EUR",
        tax_percent=Decimal("20"),
        vans=2,
        van_volume_m3=11,
    )


def hire(logins: Path, now: datetime) -> dict[str, User]:
    """Everybody signs in with one passphrase, made here: a fixed one would be the same on every machine."""
    password = " ".join(secrets.choice(WORDS) for _ in range(4))
    users = {
        "olive": user_add(username="olive", name="Olive Marsh", role=Role.OWNER, password=password),
        "pat": user_add(username="pat", name="Pat Reed", role=Role.PLANNER, password=password),
        "cory": user_add(username="cory", name="Cory Sedge", role=Role.CREW, password=password),
        "drew": user_add(username="drew", name="Drew Heron", role=Role.CREW, password=password),
    }
    for name, user, skills, wage in [
        ("Olive Marsh", users["olive"], ["lead", "rig", "drive"], "22.00"),
        ("Pat Reed", users["pat"], ["lead", "inflate", "load"], "20.00"),
        ("Cory Sedge", users["cory"], ["inflate", "load", "rig", "drive"], "18.00"),
        ("Drew Heron", users["drew"], ["inflate", "load"], "17.00"),
        ("Robin Fenn", None, ["inflate", "load", "rig", "drive"], "17.50"),
    ]:
        member = Member.objects.create(
            name=name, user=user, skills=skills, wage_per_hour=Decimal(wage), phone="01632 960 1" + str(20 + len(name))
        )
        if name == "Robin Fenn":
            starts = (now + timedelta(days=5)).replace(hour=0, minute=0, second=0, microsecond=0)
            Absence.objects.create(member=member, starts=starts, ends=starts + timedelta(days=3), note="family")
    handle = os.open(logins, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    lines = [f"    {u.username:<6} {u.get_role_display()}\n" for u in users.values()]
    os.write(handle, ("".join(lines) + f"    passphrase for all: {password}\n").encode())
    os.close(handle)
    return users
