"""What keeps the program quick and can be counted the same on every machine: queries, bytes, imports.
Milliseconds are told by `python -m tests.benchmarks` and kept in DEVELOPERS.md."""

import gzip
import hashlib
import json
import os
import re
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.db import connection
from django.db.models import Model
from django.test.utils import CaptureQueriesContext

from decor.studio import middleware
from decor.studio.models import Role
from inventory.models import Lot
from jobs import models as jobs
from tests.conftest import signed_in
from tests.walk import ADDRESSES, address, open_demo

ROOT = Path(__file__).resolve().parent.parent
MOST_QUERIES = 20
MORE_QUERIES = {
    # tells of every room, of the store by its ledger, and of the month's other events beside it
    # and, as every page with an estimate, what burst of its balloons before
    "jobs:event-glance": 34,
    # the store by its ledger, and whether what it needs is reserved
    "jobs:event-stock": 24,
    # a panel's own estimate beside what is free once the event's other pieces have theirs
    "jobs:panel-figures": 23,
    # what is free beside the event's other pieces, and what burst before, as spares are counted in
    "jobs:panel-colours": 21,
    # every live event, lists to pick, holds, late orders, and what near events lack by the ledger; and by the ledger
    # once more what events that wait for something lack, for all promises count there, not those of near events alone
    "jobs:today": 38,
    # the whole estimate, the store, the crew and the van before anything is saved
    "jobs:ask-answer": 38,
    # four ways to load beside each other, each with its own sheets, balloons and stock, beside the event's other pieces
    "jobs:panel-ways": 48,
    "jobs:book-check": 40,
    # the piece, its panel's plan, what is free of what it takes, and what the event's other pieces and spares take
    "jobs:piece": 25,
    # one item by the ledger, the list beside it, what burst of it, and the draft orders that it is in
    "inventory:item": 21,
    # the shift, the event's pieces and books, and the lists to pick and to count back
    "jobs:day-sheet": 21,
    # the whole store by its ledger, and what of it needs somebody, the events that wait for something among them; first
    # in a few sums, then line by line of what may be short, for reading all lines takes a second once there are many
    "inventory:stock": 27,
    "inventory:matters": 25,
    # from which lots each thing is taken, what was picked from which, and whether its event waits for more
    "inventory:pick": 23,
    "inventory:pick-now": 22,
    # the store by its ledger thrice: what promises up to a day lack, what is below its level with all of them, and what
    # of that for which events wait all of them leave
    "inventory:buy": 31,
}
MOST_SCRIPT_BYTES, MOST_STYLE_BYTES = 60_000, 25_000
HEAVY = {"ortools", "pandas", "pydyf", "pypdfium2", "scipy", "skimage", "weasyprint"}
SOLVER = {"ortools", "pandas"}
ARRAYS = {"numpy", "PIL"}
"""Drawing charts and reading pictures take these, so the pages' code loads them; sums and commands do without."""


@pytest.fixture
def desk(db, monkeypatch):
    """The owner's browser in the demo studio. The owner may open every page of the staff. What is written once a minute
    must not make a slow machine count otherwise."""
    monkeypatch.setattr(middleware, "TOUCH_EVERY", timedelta(days=1))
    return signed_in(open_demo()[Role.OWNER])


def pages(desk) -> dict[str, object]:
    """Every address that answers GET with a page, asked for once."""
    found = {}
    for name, pattern in ADDRESSES:
        if name != "studio:logout":
            answer = desk.get(address(name, pattern))
            if answer.status_code == 200 and not answer.streaming:
                found[name] = answer
    return found


def queries(desk) -> dict[str, int]:
    """Of every page, once it is warm."""
    counted = {}
    for name, answer in pages(desk).items():
        with CaptureQueriesContext(connection) as captured:
            desk.get(answer.wsgi_request.get_full_path())
            counted[name] = len(captured)
    return counted


def twin(row: Model, **changed: object) -> Model:
    fields = {f.attname: getattr(row, f.attname) for f in row._meta.concrete_fields if not f.primary_key}
    return type(row).objects.create(**{**fields, **changed})


def double_event(event: jobs.Event) -> None:
    """Once more with all that hangs on it: the same times, its own promise."""
    held = event.reservation and twin(event.reservation)
    if held:
        for line in event.reservation.lines.all():
            twin(line, reservation_id=held.pk)
    second = twin(event, reservation_id=held and held.pk).pk
    for model in (jobs.Estimate, jobs.Shift, jobs.DayHold):
        for row in model.objects.filter(event=event):
            twin(row, event_id=second)
    for piece in jobs.Piece.objects.filter(event=event).select_related("panel"):
        made = twin(piece, event_id=second)
        if hasattr(piece, "panel"):
            twin(piece.panel, piece_id=made.pk)
    for proof in jobs.Proof.objects.filter(event=event):
        made = twin(proof, event_id=second)
        for row in [*proof.pictures.all(), *([proof.answer] if hasattr(proof, "answer") else [])]:
            twin(row, proof_id=made.pk)
    for link in jobs.ProofLink.objects.filter(event=event):
        twin(link, event_id=second, token_hash=hashlib.sha256(f"{second} {link.pk}".encode()).hexdigest())


def double_the_studio() -> None:
    """Twice as many of everything that a studio has more of every month."""
    for event in list(jobs.Event.objects.all()):
        double_event(event)
    for model in (jobs.Client, jobs.Venue):
        for row in list(model.objects.all()):
            twin(row, name=f"{row.name} the second")
    for member in list(jobs.Member.objects.all()):
        made = twin(member, name=f"{member.name} the second", user_id=None)
        for row in list(member.absence_set.all()):
            twin(row, member_id=made.pk)
    # Another colour would make every estimate one of older prices, and its pages other pages.
    for lot in list(Lot.objects.all()):
        twin(lot)


def test_every_page_takes_few_queries(desk):
    counted = queries(desk)
    assert len(counted) > 60 and counted["jobs:today"] > 4
    over = {name: n for name, n in counted.items() if n > MORE_QUERIES.get(name, MOST_QUERIES)}
    assert not over
    idle = {name: n for name in MORE_QUERIES if (n := counted[name]) <= MOST_QUERIES}
    assert not idle, "these need no exception any more"


def test_a_studio_twice_as_large_takes_no_more_queries(desk):
    # The demo has too little of some things for their queries to be made at all.
    double_the_studio()
    before, events = queries(desk), jobs.Event.objects.count()
    double_the_studio()
    after = queries(desk)
    assert jobs.Event.objects.count() == 2 * events and after.keys() == before.keys()
    assert {name: (n, after[name]) for name, n in before.items() if after[name] > n} == {}


def static_file(url: str) -> Path:
    found = finders.find(url.removeprefix("/static/"))
    assert found, f"{url} is served by nobody"
    return Path(found)


def with_imports(script: Path) -> set[Path]:
    """A module brings along what it imports, and the keeper of pages where it registers one."""
    named = re.findall(r"""(?:from|import)\s*\(?\s*["'](\.[^"']+)["']""", script.read_text())
    kept = {ROOT / "static/js/sw.js"} if 'register("/sw.js")' in script.read_text() else set()
    return ({script} | kept).union(*(with_imports((script.parent / name).resolve()) for name in named))


def gzipped(files: set[Path]) -> int:
    return sum(len(gzip.compress(file.read_bytes(), 9)) for file in files)


def test_every_page_brings_little_script_and_style(desk):
    heavy, seen = {}, set()
    for name, answer in pages(desk).items():
        html = answer.content.decode(errors="ignore")
        if not html.startswith("<!doctype html>"):
            continue
        scripts = {static_file(url) for url in re.findall(r'<script[^>]*\ssrc="([^"]+)"', html)}
        scripts = set().union(*(with_imports(script) for script in scripts))
        styles = {static_file(url) for url in re.findall(r'<link rel="stylesheet" href="([^"]+)"', html)}
        assert scripts and styles, name
        seen |= scripts | styles
        sizes = gzipped(scripts), gzipped(styles)
        if sizes[0] > MOST_SCRIPT_BYTES or sizes[1] > MOST_STYLE_BYTES:
            heavy[name] = sizes
    assert not heavy
    assert any("htmx" in file.name for file in seen)
    ours = {file for kind in ("js", "css") for file in (ROOT / "static" / kind).rglob("*.*")}
    assert ours <= seen, "a file that no page brings along is measured by nobody"


def loaded(var: Path, code: str) -> set[str]:
    """The packages that a fresh Python has loaded after it ran the code."""
    tell = "import json, sys\nprint(json.dumps(sorted({name.partition('.')[0] for name in sys.modules})))"
    drop = {"PYTEST_VERSION", "PYTEST_CURRENT_TEST", "DATABASE_URL", "REDIS_URL", "SITE_URL"}
    env = {name: value for name, value in os.environ.items() if name not in drop}
    env |= {"KNOTBOOK_VAR": str(var), "DJANGO_SETTINGS_MODULE": "decor.settings", "KNOTBOOK_LOG_LEVEL": "CRITICAL"}
    ran = subprocess.run(
        [sys.executable, "-c", f"{code}\n{tell}"], cwd=ROOT, env=env, capture_output=True, text=True, timeout=300
    )
    assert ran.returncode == 0, ran.stderr
    return set(json.loads(ran.stdout.splitlines()[-1]))


def command(*words: str) -> str:
    return f"from django.core.management import execute_from_command_line as run; run(['manage.py', *{words!r}])"


WALK = """
from decor.wsgi import application
from django.conf import settings
settings.ALLOWED_HOSTS.append("testserver")
from decor.studio.models import Role, User
from tests.conftest import signed_in
from tests.walk import ADDRESSES, address
desk = signed_in(User.objects.filter(role=Role.OWNER).first())
names = {"jobs:today", "jobs:event-glance", "jobs:event-stock", "jobs:event-estimate", "jobs:piece", "jobs:chart",
         "jobs:event-proof", "jobs:day-sheet", "jobs:ask", "inventory:stock", "inventory:item"}
shown = {name: desk.get(address(name, pattern)).status_code for name, pattern in ADDRESSES if name in names}
assert shown == dict.fromkeys(names, 200), shown
"""


def test_the_server_and_its_pages_load_nothing_that_only_the_worker_needs(tmp_path):
    # The demo's estimates tie its balloons in pairs, which is a solver's work.
    first = loaded(tmp_path, command("prepare"))
    assert not (HEAVY - SOLVER) & first
    assert not HEAVY & loaded(tmp_path, "import decor.wsgi")
    assert not HEAVY & loaded(tmp_path, WALK)


def test_a_later_start_reads_no_page_and_compresses_nothing(tmp_path):
    loaded(tmp_path, command("prepare", "--empty"))
    manifest = tmp_path / "static" / "staticfiles.json"
    before = manifest.stat().st_mtime_ns
    again = loaded(tmp_path, command("prepare", "--empty"))
    assert not (HEAVY | ARRAYS) & again
    assert manifest.stat().st_mtime_ns == before


def test_looking_over_the_code_loads_nothing_heavy(tmp_path):
    assert not HEAVY & loaded(tmp_path, command("check"))


def test_the_sums_of_an_estimate_load_no_frame_and_no_arrays(tmp_path):
    found = loaded(tmp_path, "import decor.calc.estimate, decor.calc.pieces.column")
    assert not (HEAVY | ARRAYS | {"django", "celery"}) & found
    # Only a panel knows of charts, and with them of arrays.
    assert not (HEAVY | {"django", "celery", "PIL"}) & loaded(tmp_path, "import decor.calc.pieces.panel")
