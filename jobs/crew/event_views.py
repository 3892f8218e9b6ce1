"""Who is on one event, and what speaks against putting somebody there."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from decor.studio.numbers import whole
from decor.studio.requests import once
from decor.studio.services import audit_add
from decor.studio.versions import Changed
from jobs.crew import services
from jobs.crew.capacity import people_free
from jobs.crew.clashes import Clash, clashes_for
from jobs.crew.coverage import coverage_of
from jobs.crew.forms import ShiftChangeForm, ShiftForm, first_guess, shift_initial
from jobs.crew.models import Shift
from jobs.crew.skills import skill_words
from jobs.crew.words import span_words
from jobs.events.models import ENDED, Event


def _event(number: int) -> Event:
    return get_object_or_404(Event.objects.select_related("venue"), pk=number)


@require_safe
def event_crew(request: HttpRequest, event: int) -> HttpResponse:
    found = _event(event)
    shifts = list(Shift.objects.filter(event=found).select_related("member"))
    context = {
        "tab": "events",
        "event": found,
        "coverage": coverage_of(found, shifts),
        "lines": [_line(shift, found) for shift in shifts],
        "ended": found.stage in ENDED,
    }
    return render(request, "jobs/crew/event.html", context)


def _line(shift: Shift, event: Event) -> dict[str, object]:
    against = clashes_for(
        event=event, member=shift.member, task=shift.task, starts=shift.starts, ends=shift.ends, shift=shift
    )
    return {
        "shift": shift,
        "when": span_words(shift.starts, shift.ends, event.zone),
        "clashes": [clash for clash in against if clash.weight != "off" and clash.kind != "ended"],
    }


def _check(form: ShiftForm) -> dict[str, object]:
    """What the panel shows for what has been entered so far."""
    given = getattr(form, "cleaned_data", {})
    member, span = given.get("member"), form.span
    clashes: list[Clash] = []
    if member and span and given.get("task"):
        clashes = clashes_for(
            event=form.event, member=member, task=given["task"], starts=span[0], ends=span[1], shift=form.shift
        )
    hard = any(clash.weight == "no" for clash in clashes)
    return {
        "clashes": clashes,
        "ask_anyway": not hard and any(clash.weight == "warn" for clash in clashes),
        "anyway": bool(given.get("anyway")),
        "fits": bool(member and span and given.get("task") and not clashes),
        "chosen": member,
        "people": _people(form, span) if span else [],
    }


def _people(form: ShiftForm, span: tuple) -> list[dict[str, object]]:
    """Everybody at that time, the free ones first. One's own event's shifts count too, the changed one's not."""
    lines, tasks = [], _here(form, span)
    for one in people_free(*span, exclude_event=form.event, zone=form.event.zone):
        here = tasks.get(one.member.pk, "") if one.free or one.kept else ""
        lines.append(
            {
                "member": one.member,
                "skills": skill_words(one.member.skills) or "No skills ticked yet",
                "state": "ok" if one.free and not here else "wait" if one.kept and not here else "no",
                "words": here or one.why,
            }
        )
    return sorted(lines, key=lambda line: ["ok", "wait", "no"].index(line["state"]))


def _here(form: ShiftForm, span: tuple) -> dict[int, str]:
    """{member id: what they are on this event for at that time}; of several, the first."""
    same = Shift.objects.filter(event=form.event, starts__lt=span[1], ends__gt=span[0])
    if form.shift:
        same = same.exclude(pk=form.shift.pk)
    return {shift.member_id: f"here already, {shift.get_task_display().lower()}" for shift in reversed(list(same))}


@require_safe
def shift_check(request: HttpRequest, event: int) -> HttpResponse:
    """The panel alone, for what is entered right now; saves nothing."""
    found = _event(event)
    shift = Shift.objects.filter(event=found, pk=whole(request.GET.get("shift", ""))).first()
    form = ShiftForm(request.GET, event=found, shift=shift)
    form.is_valid()
    return render(request, "jobs/crew/_check.html", _check(form))


@once
def shift_add(request: HttpRequest, event: int) -> HttpResponse:
    found = _event(event)
    form = ShiftForm(request.POST or None, event=found, initial=first_guess(found))
    if request.method == "POST" and form.is_valid() and "check" not in request.POST:
        given = form.cleaned_data
        try:
            shift = services.shift_add(
                event=found,
                member=given["member"],
                task=given["task"],
                starts=given["starts_at"],
                ends=given["ends_at"],
                note=given["note"],
                anyway=given["anyway"],
            )
        except services.Clashes as clashes:
            return _refused(request, form, clashes)
        return _done(request, shift, "put on", f"{shift.member.name} is on {found.title}.")
    return _shift_page(request, form)


def shift(request: HttpRequest, shift: int) -> HttpResponse:
    found = get_object_or_404(Shift.objects.select_related("event__venue", "member"), pk=shift)
    return _shift_change(request, found)


@once
def _shift_change(request: HttpRequest, found: Shift) -> HttpResponse:
    form = ShiftChangeForm(
        request.POST or None, event=found.event, shift=found, initial=shift_initial(found, found.event)
    )
    if request.method == "POST" and form.is_valid() and "check" not in request.POST:
        given = form.cleaned_data
        new = Shift(pk=found.pk, event=found.event, member=given["member"], task=given["task"], note=given["note"])
        new.starts, new.ends = given["starts_at"], given["ends_at"]
        try:
            services.shift_change(shift=new, version=given["version"], anyway=given["anyway"])
        except services.Clashes as clashes:
            return _refused(request, form, clashes)
        except Changed as changed:
            return _shift_page(request, form, status=409, differences=form.meet(changed.now))
        return _done(request, new, "changed the shift of", f"{new.member.name}'s shift is saved.")
    return _shift_page(request, form)


def _done(request: HttpRequest, shift: Shift, act: str, outcome: str) -> HttpResponse:
    audit_add(request=request, act=f"{act} {shift.member.name}"[:60], subject=shift.event.title)
    request.session["outcome"] = outcome
    return redirect("jobs:event-crew", event=shift.event_id)


def _refused(request: HttpRequest, form: ShiftForm, clashes: services.Clashes) -> HttpResponse:
    if clashes.hard:
        for clash in clashes.hard:
            form.add_error("member", clash.says)
    else:
        form.add_error("anyway", " ".join(clash.says for clash in clashes.clashes) + " Tick to go on all the same.")
    return _shift_page(request, form)


def _shift_page(request: HttpRequest, form: ShiftForm, *, status: int = 0, **extra: object) -> HttpResponse:
    looking = request.method != "POST" or "check" in request.POST
    if request.method != "POST":
        _look_ahead(form)
    context = {
        "tab": "events",
        "form": form,
        "event": form.event,
        "shift": form.shift,
        "zone_differs": str(form.event.zone) != request.studio.time_zone,
        **_check(form),
        **extra,
    }
    return render(request, "jobs/crew/shift.html", context, status=status or (200 if looking else 422))


def _look_ahead(form: ShiftForm) -> None:
    """On a fresh page the panel already answers for the times that it proposes, but nothing is called wrong."""
    values = {name: form.get_initial_for_field(field, name) for name, field in form.fields.items()}
    first = values.get("member")
    values["member"] = getattr(first, "pk", first)
    trial = ShiftForm(
        {name: value for name, value in values.items() if value not in (None, "")}, event=form.event, shift=form.shift
    )
    trial.is_valid()
    form.cleaned_data = trial.cleaned_data


@require_POST
def shift_remove(request: HttpRequest, shift: int) -> HttpResponse:
    found = get_object_or_404(Shift.objects.select_related("event__venue", "member"), pk=shift)
    try:
        services.shift_remove(shift=found, version=whole(request.POST.get("version", "")))
    except Changed:
        return render(
            request,
            "studio/message.html",
            {
                "title": "Somebody changed this shift meanwhile",
                "text": f"{found.member.name} is still on {found.event.title}. Open the shift again to see how it "
                "stands now.",
            },
            status=409,
        )
    return _done(request, found, "took off", f"{found.member.name} is off {found.event.title}.")
