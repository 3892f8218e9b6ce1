"""Whatever is sent, nothing falls over: every form of the demo studio with values that people and programs send by
mistake or on purpose, and every address with numbers and words that name nothing. What was taken must also be
bearable: the pages that read it are opened after it."""

import os
import re
import traceback
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

import pytest
from django.db import transaction
from django.test import Client

from decor.studio.access import MATRIX
from decor.studio.models import BackgroundJob, Role
from jobs.models import Event
from jobs.tasks import HANDLERS
from tests.conftest import signed_in
from tests.walk import ADDRESSES, address, open_demo

THOROUGH = os.environ.get("KNOTBOOK_THOROUGH", "")
"""By hand, as it takes long: "values" puts every value in every field, "pages" opens every page after each as well."""

TEXTS = ["a\x00b", "\x00", "   ", "x" * 300, "word " * 4000, "\u202eabc\ud7ff\ufffe\U0001f388" * 8, "a\x0bb\x1f\x7f"]
TEXTS += ["line\r\nSet-Cookie: a=b", '"><svg onload=alert(1)>', "=1+1", "{{ 7|add:7 }}", "%s%n%00", "²", "../../x"]
NUMBERS = [
    "-1",
    "0",
    "1e308",
    "-1e308",
    "1e-320",
    "nan",
    "inf",
    "9" * 30,
    "9" * 5000,
    "2147483648",
    "9223372036854775808",
]
NUMBERS += ["1.5", "0x10", "٣", "²", "1e5", "1_0", "99999", "1000000", "0.0000001"]
DAYS = [
    "0001-01-01",
    "9999-12-31",
    "2027-02-30",
    "13 6 99999999999999999999",
    "31.12.9999",
    "1-1-1",
    "² june",
    "jan feb",
]
DAYS += ["10000-01-01", "2027-13-01", "-2027-01-01", "1900-01-01", "2099-12-31"]
TIMES = ["24:00", "25:61", "²:00", "00:00", "23:59:59.9999999", "6 pm", "-1:00", "noon"]
CHOICES = ["", "nothing of the kind", "-1", "0", "9" * 30, "9" * 5000, "²", "a\x00b"]
IDS = ["0", "2147483648", "9223372036854775808", "9" * 30]


@dataclass
class Form:
    action: str
    post: bool
    multipart: bool
    values: dict[str, list[str]] = field(default_factory=dict)
    kinds: dict[str, str] = field(default_factory=dict)


class Forms(HTMLParser):
    """The forms of a page as a browser would send them untouched."""

    def __init__(self, page: str, at: str) -> None:
        super().__init__()
        self.at, self.found = at, []
        self.form: Form | None = None
        self.select = self.textarea = ""
        self.options: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            post = given.get("method", "get").lower() == "post"
            self.form = Form(given.get("action") or self.at, post, "multipart" in given.get("enctype", ""))
            self.found.append(self.form)
        elif self.form is not None and given.get("name"):
            self._control(tag, given)
        elif tag == "option" and self.select and self.form is not None:
            self.options.append(given.get("value", ""))
            if "selected" in given or len(self.options) == 1:
                self.form.values[self.select] = [given.get("value", "")]

    def _control(self, tag: str, given: dict[str, str]) -> None:
        name, kind = given["name"], given.get("type", "text")
        form = self.form
        if tag == "select":
            self.select, self.options = name, []
            form.kinds[name] = "choice"
        elif tag == "textarea":
            self.textarea = name
            form.values[name], form.kinds[name] = [""], "text"
        elif tag == "button" or kind == "submit":
            form.values.setdefault(name, [given.get("value", "")])
            form.kinds[name] = "choice"
        elif tag == "input":
            chosen = kind not in {"radio", "checkbox"} or "checked" in given
            form.kinds[name] = _kind(kind, given.get("inputmode", ""))
            if chosen:
                form.values.setdefault(name, []).append(given.get("value", ""))

    def handle_data(self, data: str) -> None:
        if self.textarea and self.form is not None:
            self.form.values[self.textarea] = [data.strip("\n")]

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.form = None
        elif tag == "select":
            self.select = ""
        elif tag == "textarea":
            self.textarea = ""


def _kind(kind: str, inputmode: str) -> str:
    if inputmode:
        return "number"
    known = {"date": "day", "time": "time", "radio": "choice", "checkbox": "choice", "hidden": "hidden", "file": "file"}
    return known.get(kind, "text")


VALUES = {"text": TEXTS, "number": NUMBERS, "day": DAYS, "time": TIMES, "choice": CHOICES}
VALUES["hidden"] = [*CHOICES, "1e308"]
VALUES["file"] = []


@pytest.fixture
def owner(db) -> Client:
    client = signed_in(open_demo()[Role.OWNER])
    client.raise_request_exception = False
    return client


def fall(answer) -> str:
    """What went wrong and where, or nothing."""
    if answer.status_code < 500:
        return ""
    kind, error, trace = answer.exc_info
    frames = [f"{f.filename.rsplit('/', 2)[-1]}:{f.lineno}" for f in traceback.extract_tb(trace)]
    ours = [f for f in traceback.extract_tb(trace) if "site-packages" not in f.filename]
    where = f"{'/'.join(ours[-1].filename.split('/')[-2:])}:{ours[-1].lineno}" if ours else frames[-1]
    return f"{kind.__name__} at {where}: {str(error)[:120]!r}"


class Undone(Exception):
    pass


def undone(act):
    """Does it, and takes back what it wrote, so that the next try meets the demo studio again."""
    kept = []
    try:
        with transaction.atomic():
            kept.append(act())
            raise Undone
    except Undone:
        return kept[0]


READERS = ["/", "/events/", "/stock/", "/crew/", "/day/board/", "/ask/"]
ABOUT_EVENT = ["", "stock/", "estimate/", "proof/", "crew/", "change/"]


def pages_that_read_it() -> list[str]:
    if THOROUGH == "pages":
        return [address(name, pattern) for name, pattern in ADDRESSES if MATRIX[name].roles >= {Role.OWNER}]
    event = Event.objects.filter(shift__isnull=False, proof__isnull=False).first()
    return [*READERS, f"/day/{event.pk}/", *(f"/events/{event.pk}/{part}" for part in ABOUT_EVENT)]


def waiting_jobs_run() -> list[str]:
    """The worker's part of what was asked for."""
    wrong = []
    for job in BackgroundJob.objects.filter(state=BackgroundJob.State.QUEUED):
        try:
            HANDLERS[job.kind](job.subject_id, lambda *_: None)()
        except ValueError:
            pass
        except Exception as error:
            wrong.append(f"job {job.kind}: {error!r}")
    return wrong


def problems_after(client: Client, form: Form, data: dict[str, object]) -> list[str]:
    send = client.post if form.post else client.get
    answer = send(form.action.split("#")[0], data)
    if words := fall(answer):
        return [words]
    if answer.status_code != 302 or not form.post:
        return []
    wrong = waiting_jobs_run()
    for page in [answer["Location"], *pages_that_read_it()]:
        if words := fall(client.get(page, follow=True)):
            wrong.append(f"{page} afterwards, {words}")
    return wrong


def forms_of(client: Client) -> Iterator[Form]:
    seen: set[tuple[str, ...]] = set()
    for name, pattern in ADDRESSES:
        if Role.OWNER not in MATRIX[name].roles or name == "studio:logout":
            continue
        at = address(name, pattern)
        page = client.get(at, follow=True)
        if "html" not in page.headers.get("Content-Type", ""):
            continue
        for form in Forms(page.content.decode(), page.request["PATH_INFO"]).found:
            key = (re.sub(r"\d+|[0-9a-f-]{36}", "N", form.action), str(form.post), *sorted(form.kinds))
            if key not in seen and "sign-out" not in form.action:
                seen.add(key)
                yield form


def chosen(values: list[str], salt: int) -> list[str]:
    """Without being thorough a few values a field, other ones in the next field."""
    few = 2
    if THOROUGH or len(values) <= few:
        return values
    return [values[(salt * few + at) % len(values)] for at in range(few)]


def test_no_form_falls_over_whatever_it_is_sent(owner):
    wrong, tried, taken = [], 0, 0
    for salt, form in enumerate(forms_of(owner)):
        names = [name for name in form.kinds if name != "csrfmiddlewaretoken"]
        for offset, name in enumerate(names):
            for value in chosen(VALUES[form.kinds[name]], salt + offset):
                data = {key: given for key, given in form.values.items() if form.kinds.get(key) != "file"}
                data[name] = [value]
                tried += 1
                found = undone(lambda form=form, data=data: problems_after(owner, form, data))
                wrong += [f"{form.action} {name}={value[:40]!r}: {words}" for words in found]
                taken += not found
    assert tried > 500 and taken
    assert not wrong, "\n".join(wrong)


def test_no_address_falls_over_whatever_it_names(owner):
    wrong = []
    for name, pattern in ADDRESSES:
        if name == "studio:logout":
            continue
        at = address(name, pattern)
        numbers = list(re.finditer(r"(?<=/)\d+(?=/|\.pdf)", at))
        others = [at[: m.start()] + number + at[m.end() :] for m in numbers for number in IDS]
        for path in [*others, at.rstrip("/") + "%00/", at.replace("sheet", "%00")]:
            for send in (owner.get, owner.post):
                if words := fall(undone(lambda send=send, path=path: send(path))):
                    wrong.append(f"{path[:80]}: {words}")
    assert not wrong, "\n".join(wrong)


QUERIES = ["q", "find", "kind", "page", "stage", "show", "date", "member", "view", "sheet", "piece", "add", "then", "n"]
QUERIES += ["order", "quantity", "next", "code", "shift", "day", "starts", "ends", "kept", "loading", "colours", "name"]


def test_no_question_falls_over(owner):
    wrong = []
    for name, pattern in ADDRESSES:
        at = address(name, pattern)
        for value in ["a\x00b", "²", "9" * 30, "9" * 5000, "-1", "0001-01-01", "9999-12-31", "x" * 300]:
            for headers in ({}, {"hx-request": "true"}):
                asked = dict.fromkeys(QUERIES, value)
                answer = undone(lambda at=at, asked=asked, headers=headers: owner.get(at, asked, headers=headers))
                if words := fall(answer):
                    wrong.append(f"{at} {value[:20]!r}: {words}")
    assert not wrong, "\n".join(wrong)
