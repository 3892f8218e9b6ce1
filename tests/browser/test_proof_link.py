"""A client on a phone, come from somewhere else, without an account."""

import threading
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest

from jobs.proofs.models import Proof, ProofAnswer
from jobs.proofs.services import link_token, proof_link_revoke
from tests.browser.conftest import DESK, PHONE
from tests.browser.test_every_page import faults, overflow
from tests.jobs.proofs.conftest import answer, event, issue, latex, link, proof, sheets, stocked

__all__ = ["event", "latex", "link", "proof", "sheets", "stocked"]

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def elsewhere():
    """A page on another site that links here, as a mail program in the browser does."""
    found = {"target": ""}

    class Page(BaseHTTPRequestHandler):
        def do_GET(self):
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(f'<title>Mail</title><a href="{found["target"]}">Your proof</a>'.encode())

        def log_message(self, *args):
            pass

    server = HTTPServer(("127.0.0.1", 0), Page)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    found["address"] = f"http://127.0.0.1:{server.server_port}/"
    yield found
    server.shutdown()


@pytest.fixture
def address(live_server, link) -> str:
    # Another host name than the page it comes from: another site, to the browser.
    assert "localhost" in live_server.url
    return f"{live_server.url}/p/{link_token(link)}/"


@pytest.fixture
def opened(chromium):
    contexts, complaints = [], []

    def make(*, dark: bool = False, wide: bool = False, script: bool = True):
        scheme = "dark" if dark else "light"
        context = chromium.new_context(color_scheme=scheme, java_script_enabled=script, **(DESK if wide else PHONE))
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console",
            lambda m: complaints.append(m.text) if m.type == "error" and "Failed to load" not in m.text else None,
        )
        return page

    yield make
    for context in contexts:
        context.close()
    assert not complaints


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_approving_after_coming_from_another_site(opened, elsewhere, address, proof, script):
    elsewhere["target"] = address
    page = opened(script=script)
    sent = []
    page.on("request", lambda r: sent.append(r) if r.method == "POST" else None)
    page.goto(elsewhere["address"])
    page.get_by_role("link", name="Your proof").tap()
    page.get_by_role("heading", name="Harbour library centenary").wait_for()
    page.get_by_role("link", name="Approve this version").tap()
    page.get_by_label("Your name").fill("Ada Quill")
    page.get_by_role("button", name="Yes, approve version 1").tap()
    page.get_by_text("Thank you. Version 1 is approved.").wait_for()
    row = ProofAnswer.objects.get()
    assert (row.action, row.name, row.proof) == ("approve", "Ada Quill", proof)
    headers = sent[0].all_headers()
    assert headers["origin"] == address.split("/p/")[0] and headers["referer"].startswith(address)


def test_asking_for_a_change_needs_words_and_the_summary_takes_the_focus(opened, address):
    page = opened()
    page.goto(address)
    page.get_by_role("link", name="Ask for a change").tap()
    page.get_by_label("Your name").fill("Ada Quill")
    page.get_by_role("button", name="Send my change").tap()
    page.locator(".errors").wait_for()
    assert page.evaluate("document.activeElement.matches('.errors')")
    assert page.locator(".errors a").count() == page.locator(".field .error").count() == 1
    page.get_by_label("What should change").fill("The tower in white")
    page.get_by_role("button", name="Send my change").tap()
    page.get_by_text("We know what to change").wait_for()
    assert ProofAnswer.objects.get().comment == "The tower in white"


def test_a_double_tap_answers_once(opened, address):
    page = opened()
    page.goto(f"{address}decline/")
    page.get_by_label("Your name").fill("Ada Quill")
    page.get_by_role("button", name="Yes, decline version 1").dblclick()
    page.get_by_text("is declined").wait_for()
    assert ProofAnswer.objects.count() == 1 and Proof.objects.get().state == Proof.State.DECLINED


@pytest.mark.parametrize("wide", [False, True], ids=["phone", "desk"])
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_every_client_page_is_accessible(opened, address, link, event, proof, dark, wide):
    page = opened(dark=dark, wide=wide)

    def look(path: str = "") -> list[str]:
        page.goto(address + path)
        # Runs into its time limit where a picture does not come.
        page.wait_for_function("[...document.images].every(i => i.complete && i.naturalWidth > 0)", timeout=5000)
        assert not overflow(page)
        return faults(page)

    wrong = [fault for path in ("", "approve/", "change/", "decline/") for fault in look(path)]
    page.get_by_role("button", name="Yes, decline version 1").click()
    page.locator(".errors").wait_for()
    wrong += faults(page)
    answer(link, action="change", comment="Bluer")
    wrong += look()
    issue(event)
    wrong += look() + look(f"version/{proof.pk}/")
    proof_link_revoke(link=link)
    wrong += look()
    assert not wrong
