"""The people: who they are, what they can, when they are away."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from decor.studio.requests import once
from decor.studio.services import audit_add
from decor.studio.versions import Changed
from jobs.crew import services
from jobs.crew.forms import AbsenceForm, MemberChangeForm, MemberForm
from jobs.crew.models import Absence, Member, Shift
from jobs.crew.skills import skill_words
from jobs.crew.words import away_words, dial, span_words


@require_safe
def crew(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    shifts = Shift.objects.filter(ends__gt=now).select_related("event__venue")
    next_of: dict[int, Shift] = {}
    for shift in shifts:
        next_of.setdefault(shift.member_id, shift)
    away_of: dict[int, Absence] = {}
    for absence in Absence.objects.filter(ends__gt=now):
        away_of.setdefault(absence.member_id, absence)
    members = [_line(m, next_of.get(m.pk), away_of.get(m.pk), now) for m in Member.objects.all()]
    context = {
        "tab": "more",
        "members": [line for line in members if line["member"].active],
        "gone": [line for line in members if not line["member"].active],
    }
    return render(request, "jobs/crew/crew.html", context)


def _line(member: Member, shift: Shift | None, absence: Absence | None, now: object) -> dict[str, object]:
    return {
        "member": member,
        "skills": skill_words(member.skills) or "No skills ticked yet",
        "next": shift and f"{span_words(shift.starts, shift.ends, shift.event.zone)}, {shift.event.title}",
        "away": absence and away_words(absence.starts, absence.ends),
        "away_now": absence is not None and absence.starts <= now,
    }


@once
def member_add(request: HttpRequest) -> HttpResponse:
    form = MemberForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        member = services.member_add(**form.cleaned_data)
        request.session["outcome"] = f"{member.name} is on the crew."
        return redirect("jobs:member", member=member.pk)
    return _form(request, form, title="Add somebody to the crew", act="Add to the crew")


def _form(request: HttpRequest, form: MemberForm, *, status: int = 0, **extra: object) -> HttpResponse:
    context = {"tab": "more", "form": form, **extra}
    status = status or (422 if request.method == "POST" else 200)
    return render(request, "jobs/crew/member_form.html", context, status=status)


@require_safe
def member(request: HttpRequest, member: int) -> HttpResponse:
    return _member_page(request, get_object_or_404(Member, pk=member), AbsenceForm())


def _member_page(request: HttpRequest, member: Member, form: AbsenceForm, *, status: int = 200) -> HttpResponse:
    now = timezone.now()
    shifts = Shift.objects.filter(member=member, ends__gt=now).select_related("event__venue")
    context = {
        "tab": "more",
        "member": member,
        "dial": dial(member.phone),
        "skills": skill_words(member.skills),
        "shifts": [(shift, span_words(shift.starts, shift.ends, shift.event.zone)) for shift in shifts],
        "absences": [
            (absence, away_words(absence.starts, absence.ends))
            for absence in Absence.objects.filter(member=member, ends__gt=now)
        ],
        "form": form,
    }
    return render(request, "jobs/crew/member.html", context, status=status)


@once
def member_change(request: HttpRequest, member: int) -> HttpResponse:
    found = get_object_or_404(Member, pk=member)
    form = MemberChangeForm(request.POST or None, instance=found)
    extra = {"title": f"Change {found.name}", "act": "Save", "member": found}
    if request.method == "POST" and form.is_valid():
        try:
            services.member_change(member=form.instance, version=form.cleaned_data["version"])
        except Changed as changed:
            return _form(request, form, status=409, differences=form.meet(changed.now), **extra)
        request.session["outcome"] = "Saved."
        return redirect("jobs:member", member=found.pk)
    return _form(request, form, **extra)


@require_POST
@once
def absence_add(request: HttpRequest, member: int) -> HttpResponse:
    found = get_object_or_404(Member, pk=member)
    form = AbsenceForm(request.POST)
    if form.is_valid():
        given = form.cleaned_data
        try:
            absence = services.absence_add(member=found, starts=given["starts"], ends=given["ends"], note=given["note"])
        except services.Clashes as clashes:
            for clash in clashes.clashes:
                form.add_error("first_day", clash.says)
        else:
            words = away_words(absence.starts, absence.ends)
            request.session["outcome"] = f"{found.name} is away {words}."
            return redirect("jobs:member", member=found.pk)
    return _member_page(request, found, form, status=422)


@require_POST
def absence_remove(request: HttpRequest, absence: int) -> HttpResponse:
    found = get_object_or_404(Absence.objects.select_related("member"), pk=absence)
    words = away_words(found.starts, found.ends)
    services.absence_remove(absence=found)
    audit_add(request=request, act="took back days away", subject=f"{found.member}, {words}")
    request.session["outcome"] = f"{found.member.name} is no longer away {words}."
    return redirect("jobs:member", member=found.member_id)
