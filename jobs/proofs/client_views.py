"""The client's pages at the secret address. A GET, HEAD or OPTIONS changes nothing here but the counter that keeps
guessers out; every answer is asked once more on a page of its own and counts by POST."""

from collections.abc import Callable
from datetime import timedelta
from functools import wraps
from math import ceil

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from decor.studio.requests import FIELD, once
from decor.studio.services import client_ip, file_read
from jobs.proofs import services, words
from jobs.proofs.forms import AnswerForm, ApproveForm, ChangeForm, DeclineForm
from jobs.proofs.links import link_find
from jobs.proofs.models import Proof, ProofAnswer, ProofLink, ProofPicture
from jobs.proofs.shown import answered_before, newest, proof_context
from jobs.proofs.visits import guesser_wait, visit_bad, visit_count

Action = ProofAnswer.Action
NO_WAIT = timedelta(0)
HEADERS = {
    "Cache-Control": "private, no-store",
    "X-Robots-Tag": "noindex, nofollow",
    # not "no-referrer": that sends "Origin: null" on form posts, and the CSRF check then refuses the answer
    "Referrer-Policy": "same-origin",
}
PICTURE_HEADERS = {"Content-Security-Policy": "default-src 'none'; sandbox", "X-Content-Type-Options": "nosniff"}

View = Callable[..., HttpResponse]


def client_page(view: View, wait_of: Callable[..., timedelta] = visit_count) -> View:
    """Counts the visit, opens the link and dresses whatever comes back, refusals too."""

    @wraps(view)
    def wrapper(request: HttpRequest, token: str, **kwargs: object) -> HttpResponse:
        wait = wait_of(ip=client_ip(request), now=timezone.now())
        response = _too_many(request, wait) if wait > NO_WAIT else _opened(request, token, view, kwargs)
        for name, value in HEADERS.items():
            response[name] = value
        return response

    return wrapper


def client_picture(view: View) -> View:
    """As a page, but not counted by itself."""
    return client_page(view, guesser_wait)


def _opened(request: HttpRequest, token: str, view: View, kwargs: dict[str, object]) -> HttpResponse:
    now, link = timezone.now(), link_find(token)
    if link is None:
        visit_bad(ip=client_ip(request), now=now)
    if link is None or not link.lives(now):
        return _dead(request)
    with timezone.override(link.event.zone):
        try:
            return view(request, link, token, **kwargs)
        except Http404:
            # Not the program's own page: its headers would be missing, and a client has no desk to go back to.
            return _message(request, "There is no such page", "Open the link that you were sent.", status=404)


def _message(request: HttpRequest, title: str, text: str, *, status: int, **more: object) -> HttpResponse:
    context = {"title": title, "text": text, **more}
    return render(request, "jobs/proofs/client_message.html", context, status=status)


def _dead(request: HttpRequest) -> HttpResponse:
    text = "It has run out, was ended, or was not copied in full. Ask us, and we send you a new one."
    return _message(request, "This link no longer works", text, status=410, ask=True)


def _too_many(request: HttpRequest, wait: timedelta) -> HttpResponse:
    minutes = ceil(wait.total_seconds() / 60)
    when = "in a minute" if minutes <= 1 else f"in {minutes} minutes"
    text = f"Too many pages were asked for from your network. Try again {when}."
    response = _message(request, "Please wait a moment", text, status=429, ask=True)
    response["Retry-After"] = str(ceil(wait.total_seconds()))
    return response


def _newer(request: HttpRequest, token: str) -> HttpResponse:
    text = "We made a newer version while you were looking at this one. Your answer was not counted."
    return _message(request, "There is a newer version", text, status=409, go=(_home(token), "See the newest version"))


def _home(token: str) -> str:
    return reverse("jobs:proof", args=[token])


def _context(proof: Proof, link: ProofLink, token: str) -> dict[str, object]:
    shown = proof_context(proof, link.event, lambda file: reverse("jobs:proof-picture", args=[token, file]))
    return shown | {"token": token, "link": link, "address": settings.SITE_URL + _home(token)}


@client_page
@require_safe
def proof(request: HttpRequest, link: ProofLink, token: str) -> HttpResponse:
    found = newest(link.event)
    if found is None:
        text = "We are still at work on it. Open this link again when we tell you that it is ready."
        return _message(request, "Your proof is not ready yet", text, status=200, ask=True)
    context = _context(found, link, token) | {"earlier": answered_before(link.event, found)}
    return render(request, "jobs/proofs/client.html", context)


@client_page
@require_safe
def proof_version(request: HttpRequest, link: ProofLink, token: str, proof: int) -> HttpResponse:
    """An earlier version that was answered, with its receipt."""
    found = get_object_or_404(Proof.objects.select_related("answer"), event=link.event, pk=proof, answer__isnull=False)
    context = _context(found, link, token) | {"old": newest(link.event) != found}
    return render(request, "jobs/proofs/client.html", context)


@client_picture
@require_safe
def proof_picture(request: HttpRequest, link: ProofLink, token: str, file: int) -> HttpResponse:
    picture = ProofPicture.objects.filter(proof__event=link.event, file=file).select_related("file").first()
    if picture is None:
        raise Http404
    return picture_response(picture)


def picture_response(picture: ProofPicture) -> HttpResponse:
    try:
        data = file_read(file=picture.file)
    except FileNotFoundError as lost:
        raise Http404 from lost
    return HttpResponse(data, content_type=picture.file.mime, headers=PICTURE_HEADERS)


def _answer_view(action: Action, form_class: type[AnswerForm]) -> View:
    @client_page
    @require_http_methods(["GET", "HEAD", "POST"])
    @once
    def view(request: HttpRequest, link: ProofLink, token: str) -> HttpResponse:
        found = newest(link.event)
        if found is None:
            return redirect(_home(token))
        form = form_class(request.POST or None, initial={"version": found.version})
        if request.method == "POST" and form.is_valid():
            return _answered(request, link, token, action, form)
        context = _context(found, link, token)
        if not context["may_approve" if action == Action.APPROVE else "may_answer"]:
            # Nothing to ask any more: the page says how it stands.
            return redirect(_home(token))
        if request.method == "POST" and str(found.version) != request.POST.get("version"):
            return _newer(request, token)
        context |= {"form": form, "sentence": words.intent(action, context["facts"]), "action": action}
        return render(request, "jobs/proofs/confirm.html", context, status=422 if request.method == "POST" else 200)

    return view


approve = _answer_view(Action.APPROVE, ApproveForm)
change = _answer_view(Action.CHANGE, ChangeForm)
decline = _answer_view(Action.DECLINE, DeclineForm)


def _answered(request: HttpRequest, link: ProofLink, token: str, action: Action, form: AnswerForm) -> HttpResponse:
    given = form.cleaned_data
    try:
        services.proof_answer(
            link=link,
            proof_version=given["version"],
            action=action,
            name=given["name"],
            comment=given.get("comment", ""),
            evidence=_evidence(request),
        )
    except services.ProofRefused as refusal:
        return _refused(request, token, refusal)
    return redirect(_home(token))


def _evidence(request: HttpRequest) -> services.Evidence:
    return services.Evidence(
        ip=client_ip(request),
        agent=request.headers.get("User-Agent", ""),
        locale=request.headers.get("Accept-Language", ""),
        request_key=request.POST.get(FIELD, ""),
    )


REFUSALS = {
    services.AlreadyAnswered: ("This version was already answered", "The first answer counts; this one was not kept."),
    services.OfferRanOut: ("This offer has run out", "Ask us, and we make you a new one."),
    services.EventEnded: ("This event is not going ahead", "Your answer was not counted. Ask us how it stands."),
}


def _refused(request: HttpRequest, token: str, refusal: services.ProofRefused) -> HttpResponse:
    if isinstance(refusal, services.LinkDead):
        return _dead(request)
    if isinstance(refusal, services.NewerVersion):
        return _newer(request, token)
    title, text = REFUSALS[type(refusal)]
    return _message(request, title, text, status=409, ask=True, go=(_home(token), "See how it stands"))
