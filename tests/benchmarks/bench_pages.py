"""The program as it is used: its pages on the demo studio, from a tap to the figures, from a picture to its chart,
from the command to the first page. Pages are asked for in this process, without network and server."""

import logging
import re
import tempfile
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from statistics import median

import django

from tests.benchmarks import Figure, middle_ms
from tests.benchmarks.bench_picture import photograph_12_megapixels

PAGE_MS, ANSWER_MS, CHART_MS, ESTIMATE_MS, LATER_START_S, FIRST_START_S = 100.0, 300.0, 1000.0, 2000.0, 6.0, 60.0
SCRIPT_KB, STYLE_KB = 60.0, 25.0
SLOWEST_SHOWN, TIMES, TAPS = 8, 7, 5
WIDE, HIGH = 50, 60


def figures() -> Iterator[Figure]:
    django.setup()
    from django.conf import settings
    from django.core.management import call_command
    from django.test.utils import get_runner

    logging.disable(logging.WARNING)
    call_command("collectstatic", verbosity=0, interactive=False)
    runner = get_runner(settings)(verbosity=0, interactive=False)
    databases = runner.setup_databases()
    try:
        desk = open_desk()
        yield from page_figures(desk)
        yield from weights(desk)
        yield estimate_here(desk)
        yield picture_to_chart(desk)
    finally:
        runner.teardown_databases(databases)
    yield from served_figures()


def open_desk():
    """The owner's browser."""
    from decor.studio.models import Role
    from tests.conftest import signed_in
    from tests.walk import open_demo

    desk = signed_in(open_demo()[Role.OWNER])
    desk.defaults["HTTP_HOST"] = "127.0.0.1"
    return desk


def pages(desk) -> dict[str, tuple[str, str]]:
    """Of every address that answers with a page: where it is, and the page."""
    from tests.walk import ADDRESSES, address

    found = {}
    for name, pattern in ADDRESSES:
        if name != "studio:logout":
            where = address(name, pattern)
            answer = desk.get(where)
            if answer.status_code == 200 and answer["Content-Type"].startswith("text/html"):
                found[name] = where, answer.content.decode()
    return found


def page_figures(desk) -> Iterator[Figure]:
    spent = {name: middle_ms(partial(desk.get, where), TIMES) for name, (where, _) in pages(desk).items()}
    answer = spent.pop("jobs:ask-answer")
    yield Figure("quick answer, three pieces: its page, worked out anew", answer, "ms", ANSWER_MS)
    yield Figure(f"all {len(spent)} pages, the middle one", median(spent.values()), "ms", PAGE_MS)
    for name in sorted(spent, key=spent.get, reverse=True)[:SLOWEST_SHOWN]:
        yield Figure(f"page {name}", spent[name], "ms", PAGE_MS)


def weights(desk) -> Iterator[Figure]:
    shown = [page for _, page in pages(desk).values()]
    for what, pattern, most in (
        ("script", r'<script[^>]*\ssrc="/static/([^"]+)"', SCRIPT_KB),
        ("style", r'<link rel="stylesheet" href="/static/([^"]+)"', STYLE_KB),
    ):
        heaviest = max(sum(map(packed_bytes, set(re.findall(pattern, page)))) for page in shown)
        yield Figure(f"{what} of the heaviest page, gzipped", heaviest / 1000, "kB", most)


def packed_bytes(name: str) -> int:
    """As the server sends it: the packed file that lies beside it, where packing was worth it."""
    from django.conf import settings

    file = settings.STATIC_ROOT / name
    packed = file.with_name(f"{file.name}.gz")
    return (packed if packed.exists() else file).stat().st_size


def three_pieces(count: int) -> list[int]:
    from django.utils import timezone

    from tests.walk import event_of_three_pieces

    return [event_of_three_pieces(timezone.now(), number).pk for number in range(count)]


def estimate_here(desk) -> Figure:
    """Without the worker's process: the tap, the job itself in this one, and the page with the figures."""
    from decor.studio.background import job_run
    from jobs.estimates.models import Estimate
    from jobs.tasks import HANDLERS

    spent = []
    for event in three_pieces(TAPS + 1):
        start = time.perf_counter()
        desk.post(f"/events/{event}/estimate/start/")
        job_run(job_id=Estimate.objects.get(event=event).job_id, handlers=HANDLERS)
        page = desk.get(f"/events/{event}/estimate/").content.decode()
        spent.append((time.perf_counter() - start) * 1000.0)
        assert "The day backwards" in page
    return Figure("estimate of three pieces: tap, sums and page, in one process", median(spent[1:]), "ms", ESTIMATE_MS)


def picture_to_chart(desk) -> Figure:
    """From the last byte of the upload: checked, stored anew, matched, saved, and the page that shows it."""
    from django.core.files.uploadedfile import SimpleUploadedFile

    from jobs.models import Panel
    from tests.walk import ADDRESSES, address

    where = address("jobs:piece-measures", dict(ADDRESSES)["jobs:piece-measures"])

    def upload() -> None:
        form = desk.get(where).content.decode()
        hidden = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))
        given = {
            **hidden,
            "width": str(WIDE),
            "height": str(HIGH),
            "unit": "cells",
            "loading": "paired",
            "sheet": re.search(r'<option value="(\d+)" selected>', form)[1],
            "colours": re.findall(r'name="colours" value="(\d+)"', form),
            "picture": SimpleUploadedFile("photograph.jpg", photograph_12_megapixels(), "image/jpeg"),
        }
        start = time.perf_counter()
        answer = desk.post(where, given)
        assert answer.status_code == 302, answer.content.decode()
        assert b"<svg" in desk.get(answer["Location"]).content
        spent.append((time.perf_counter() - start) * 1000.0)
        panel = Panel.objects.latest("changed")
        assert (panel.rows, panel.columns) == (HIGH, WIDE)

    spent: list[float] = []
    for _ in range(TAPS + 1):
        upload()
    return Figure(f"a 12 megapixel JPEG to its chart of {WIDE * HIGH:,} cells", median(spent[1:]), "ms", CHART_MS)


def served_figures() -> Iterator[Figure]:
    """In processes of its own: broker, worker, scheduler and web server, from the command on."""
    from tests.benchmarks import serving

    with tempfile.TemporaryDirectory(prefix="knotbook-") as folder:
        var = Path(folder)
        with serving.served(var) as (_, first_s):
            pass
        yield Figure("first start: from `manage.py up` to the first page, demo made", first_s, "s", FIRST_START_S)
        events, later = serving.events_of_three_pieces(var, TAPS + 1), []
        for _ in range(2):
            with serving.served(var) as (_, later_s):
                later.append(later_s)
        with serving.served(var) as (browser, later_s):
            later.append(later_s)
            serving.sign_in(browser, var)
            spent = [serving.tap_to_figures_ms(browser, event) for event in events]
        yield Figure("later start: from `manage.py up` to the first page", median(later), "s", LATER_START_S)
        what = "estimate of three pieces: tap to figures, served, with the worker and the page's own asking"
        yield Figure(what, median(spent[1:]), "ms", ESTIMATE_MS)
