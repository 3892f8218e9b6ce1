"""Venues: the list, one venue with its events, and its form."""

from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from decor.studio.requests import once
from decor.studio.services import audit_add
from decor.studio.versions import Changed
from jobs.events.forms import VenueChangeForm, VenueForm
from jobs.events.models import Event, Venue
from jobs.events.services import venue_add, venue_change

PAGE = 50
EVENTS_SHOWN = 20


@require_safe
def venues(request: HttpRequest) -> HttpResponse:
    q = request.GET.get("q", "").strip()[:80]
    found = Venue.objects.filter(Q(name__icontains=q) | Q(address__icontains=q)) if q else Venue.objects.all()
    page = Paginator(found.order_by("name", "pk"), PAGE).get_page(request.GET.get("page"))
    return render(request, "jobs/events/venues.html", {"tab": "more", "page": page, "q": q})


@require_safe
def venue(request: HttpRequest, venue: int) -> HttpResponse:
    row = get_object_or_404(Venue, pk=venue)
    held = Event.objects.filter(venue=row).select_related("venue").order_by("-doors")[:EVENTS_SHOWN]
    return render(request, "jobs/events/venue.html", {"tab": "more", "venue": row, "events": held})


@require_http_methods(["GET", "HEAD", "POST"])
@once
def venue_new(request: HttpRequest) -> HttpResponse:
    form = VenueForm(request.POST or None, initial={"time_zone": request.studio.time_zone})
    if request.method == "POST" and form.is_valid():
        row = venue_add(venue=form.save(commit=False))
        audit_add(request=request, act="added a venue", subject=str(row))
        return redirect("jobs:venue", row.pk)
    context = {"tab": "more", "form": form}
    return render(request, "jobs/events/venue_form.html", context, status=422 if request.method == "POST" else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@once
def venue_edit(request: HttpRequest, venue: int) -> HttpResponse:
    row = get_object_or_404(Venue, pk=venue)
    form = VenueChangeForm(request.POST or None, instance=row, initial={"version": row.version})
    differences, status = None, 422
    if request.method == "POST" and form.is_valid():
        try:
            venue_change(venue=form.save(commit=False), version=form.cleaned_data["version"])
        except Changed as changed:
            differences, status = form.meet(changed.now), 409
        else:
            audit_add(request=request, act="changed a venue", subject=str(row))
            request.session["outcome"] = "Saved."
            return redirect("jobs:venue", venue)
    context = {"tab": "more", "form": form, "venue": row, "differences": differences}
    return render(request, "jobs/events/venue_form.html", context, status=status if request.method == "POST" else 200)
