"""The studio's side of a proof: versions, links, answers."""

from datetime import date, timedelta

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from decor.studio.numbers import whole
from decor.studio.requests import once
from decor.studio.services import audit_add
from decor.studio.templatetags.desk import money_words
from jobs.designs.models import Piece
from jobs.events.models import Event
from jobs.money.offers import net_range, offer_of
from jobs.proofs import services
from jobs.proofs.client_views import PICTURE_HEADERS, picture_response
from jobs.proofs.collect import Draft, draft_of, picture_of
from jobs.proofs.forms import LinkForm, VersionForm
from jobs.proofs.links import link_address
from jobs.proofs.models import LINK_LIFE, Proof, ProofLink, ProofPicture
from jobs.proofs.payload import ShownPiece
from jobs.proofs.shown import proof_context


def _event(number: int) -> Event:
    return get_object_or_404(Event.objects.select_related("venue", "client"), pk=number)


@require_safe
def event_proof(request: HttpRequest, event: int) -> HttpResponse:
    return _page(request, _event(event))


def _page(request: HttpRequest, event: Event, form: LinkForm | None = None, *, status: int = 200) -> HttpResponse:
    proofs = list(Proof.objects.filter(event=event).select_related("answer", "made_by").order_by("-version"))
    links = list(ProofLink.objects.filter(event=event).select_related("event").order_by("revoked", "pk"))
    draft, now = draft_of(event), timezone.now()
    live = [link for link in links if link.lives(now)]
    context = {
        "tab": "events",
        "event": event,
        "versions": [(proof, _intact(proof)) for proof in proofs],
        "newest": proofs[0] if proofs else None,
        "next_version": proofs[0].version + 1 if proofs else 1,
        "links": [(link, link_address(link)) for link in live],
        "dead_links": [link for link in links if link not in live],
        "draft": draft,
        "link_form": form or LinkForm(initial={"recipient": "" if live else event.client.name}),
        "act": _act(proofs[0] if proofs else None, draft, event, linked=bool(live)),
        "ran_out": bool(proofs) and services.offer_ran_out(proofs[0], event),
        "can_link": bool(proofs) and now < event.ends + LINK_LIFE,
    }
    return render(request, "jobs/proofs/event_proof.html", context, status=status)


def _intact(proof: Proof) -> bool | None:
    """Only what was answered is evidence, and only that is worth reading back from disk."""
    return services.proof_intact(proof=proof) if hasattr(proof, "answer") else None


def _act(newest: Proof | None, draft: Draft, event: Event, *, linked: bool) -> str:
    """The one filled button: a new version where one is due, else a link where nobody has one."""
    due = newest is None or newest.state in (Proof.State.CHANGE, Proof.State.DECLINED)
    late = newest is not None and newest.state == Proof.State.WAITING and services.offer_ran_out(newest, event)
    if due or late:
        return "version" if not draft.lacks else ""
    return "" if linked else "link"


@once
def proof_new(request: HttpRequest, event: int) -> HttpResponse:
    found = _event(event)
    draft = draft_of(found)
    if draft.lacks or draft.estimate is None:
        # The proof's page says what is missing and leads there.
        return redirect("jobs:event-proof", event=found.pk)
    form = _version_form(request, found, draft)
    if request.method == "POST" and form.is_valid():
        offer = offer_of(draft.estimate, net=form.cleaned_data["net"])
        proof = services.proof_issue(
            event=found,
            offer=offer,
            estimate=draft.estimate,
            pieces=draft.shown(),
            valid_until=form.cleaned_data["valid_until"],
            by=request.user,
        )
        audit_add(request=request, act="proof issued", subject=f"event {found.pk}, version {proof.version}")
        request.session["outcome"] = f"Version {proof.version} is made."
        return redirect("jobs:event-proof", event=found.pk)
    context = {
        "tab": "events",
        "event": found,
        "draft": draft,
        "form": form,
        "next_version": _next(found),
        "pieces": _drafted(draft, found),
        "notes": services.notes_of(draft.estimate),
    }
    return render(request, "jobs/proofs/proof_new.html", context, status=422 if request.method == "POST" else 200)


def _drafted(draft: Draft, event: Event) -> list[tuple[ShownPiece, dict[str, str]]]:
    return [
        (shown, {"url": reverse("jobs:proof-draft-picture", args=[event.pk, piece.pk])})
        for piece, shown in draft.facts()
    ]


def _next(event: Event) -> int:
    newest = Proof.objects.filter(event=event).order_by("-version").first()
    return newest.version + 1 if newest else 1


def _version_form(request: HttpRequest, event: Event, draft: Draft) -> VersionForm:
    assert draft.estimate is not None
    low, high = net_range(draft.estimate)
    today, on = timezone.localdate(timezone=event.zone), event.doors.astimezone(event.zone).date()
    currency = request.studio.currency
    hint = f"The estimate says {money_words(low, currency)} to {money_words(high, currency)}."
    return VersionForm(
        request.POST or None,
        today=today,
        last=max(on, today),
        hint=hint,
        initial={"net": high, "valid_until": _good_until(today, on, request.studio.offer_days)},
    )


def _good_until(today: date, on: date, days: int) -> date:
    """Not after the event itself, where there still is time before it."""
    return max(today, min(today + timedelta(days=days), on))


@require_safe
def draft_picture(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    found = get_object_or_404(Piece.objects.select_related("panel", "event__venue"), event=event, pk=piece)
    try:
        picture = picture_of(found)
    except ValueError as refusal:
        raise Http404(str(refusal)) from refusal
    if picture is None:
        raise Http404
    return HttpResponse(picture.data, content_type=picture.mime, headers=PICTURE_HEADERS)


@require_safe
def event_proof_version(request: HttpRequest, event: int, proof: int) -> HttpResponse:
    """As the client sees it."""
    found = _event(event)
    version = get_object_or_404(Proof.objects.select_related("answer"), event=found, pk=proof)
    context = proof_context(version, found, lambda file: reverse("jobs:event-proof-picture", args=[found.pk, file]))
    return render(request, "jobs/proofs/preview.html", context | {"event": found, "tab": "events"})


@require_safe
def event_proof_picture(request: HttpRequest, event: int, file: int) -> HttpResponse:
    picture = ProofPicture.objects.filter(proof__event=event, file=file).select_related("file").first()
    if picture is None:
        raise Http404
    return picture_response(picture)


@require_POST
@once
def link_new(request: HttpRequest, event: int) -> HttpResponse:
    found = _event(event)
    form = LinkForm(request.POST)
    if not form.is_valid():
        return _page(request, found, form, status=422)
    link = services.proof_link_make(event=found, recipient=form.cleaned_data["recipient"])
    audit_add(request=request, act="proof link made", subject=f"event {found.pk}, link {link.pk}")
    request.session["outcome"] = f"The link for {link.recipient} is ready to send."
    return redirect(reverse("jobs:event-proof", args=[found.pk]) + f"#link-{link.pk}")


@require_POST
@once
def link_end(request: HttpRequest, event: int) -> HttpResponse:
    link = get_object_or_404(ProofLink, event=event, pk=whole(request.POST.get("link", "")))
    services.proof_link_revoke(link=link)
    audit_add(request=request, act="proof link ended", subject=f"event {event}, link {link.pk}")
    request.session["outcome"] = f"The link for {link.recipient} no longer works."
    return redirect("jobs:event-proof", event=event)
