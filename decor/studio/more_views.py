"""Behind the More tab: one's own sign-ins and password; for the owner the studio, its rates and its people."""

from django.conf import settings
from django.contrib.auth import update_session_auth_hash
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from decor.calc.work.rates import Rates
from decor.studio import background, services
from decor.studio.forms import ROLE_WORDS, PasswordForm, PersonForm, PersonNewForm, RatesForm, StudioForm
from decor.studio.models import AuditLine, BackgroundJob, Role, SignIn, User
from decor.studio.requests import once

THEMES = [("", "As the phone"), ("light", "Light"), ("dark", "Dark")]


@require_safe
def more(request: HttpRequest) -> HttpResponse:
    failed = BackgroundJob.objects.filter(state=BackgroundJob.State.FAILED).count()
    return render(
        request,
        "studio/more.html",
        {
            "tab": "more",
            "failed": failed,
            "owner": request.user.role == Role.OWNER,
            "mail_on": settings.MAIL_ON,
            "themes": THEMES,
        },
    )


@require_POST
def theme(request: HttpRequest) -> HttpResponse:
    chosen = request.POST.get("theme", "")
    if chosen in {"", "light", "dark"}:
        request.user.theme = chosen
        request.user.save(update_fields=["theme"])
    return redirect("studio:more")


def password(request: HttpRequest) -> HttpResponse:
    form = PasswordForm(request.POST or None, user=request.user)
    if request.method == "POST" and form.is_valid():
        services.password_set(user=request.user, password=form.cleaned_data["password"])
        update_session_auth_hash(request, request.user)
        services.login_succeeded(
            user=request.user,
            session_key=request.session.session_key,
            agent=request.headers.get("User-Agent", ""),
        )
        messages_add(request, "Your password is changed; your other phones and computers are signed out.")
        return redirect("studio:more")
    return _form(request, form, "Change your password", "studio:more", "Change the password")


def messages_add(request: HttpRequest, text: str) -> None:
    request.session["outcome"] = text


def _form(request: HttpRequest, form: object, title: str, back: str, act: str, **extra: object) -> HttpResponse:
    context = {"tab": "more", "form": form, "title": title, "back": back, "act": act, **extra}
    return render(request, "studio/form.html", context, status=422 if request.method == "POST" else 200)


@require_safe
def sign_ins(request: HttpRequest) -> HttpResponse:
    here = services.session_hash(request.session.session_key or "")
    return render(
        request, "studio/sign_ins.html", {"tab": "more", "sign_ins": request.user.sign_ins.all(), "here": here}
    )


@require_POST
def sign_in_end(request: HttpRequest, sign_in: int) -> HttpResponse:
    services.sign_in_end(sign_in=get_object_or_404(SignIn, pk=sign_in, user=request.user))
    return redirect("studio:sign-ins")


@once
def settings_view(request: HttpRequest) -> HttpResponse:
    form = StudioForm(request.POST or None, instance=request.studio)
    if request.method == "POST" and form.is_valid():
        form.save()
        services.audit_add(request=request, act="changed the studio's settings")
        messages_add(request, "Settings saved.")
        return redirect("studio:more")
    return _form(request, form, "The studio", "studio:more", "Save settings")


@once
def rates_view(request: HttpRequest) -> HttpResponse:
    form = RatesForm(request.POST or None, rates=Rates(), changed=request.studio.rates)
    if request.method == "POST" and form.is_valid():
        request.studio.rates = form.changed_rates()
        request.studio.save(update_fields=["rates"])
        services.audit_add(request=request, act="changed the rates")
        messages_add(request, "Rates saved. Estimates made from now on use them.")
        return redirect("studio:more")
    return _form(request, form, "Rates", "studio:more", "Save rates", hint=RatesForm.HINT)


@require_safe
def people(request: HttpRequest) -> HttpResponse:
    users = User.objects.order_by("-is_active", "name")
    return render(request, "studio/people.html", {"tab": "more", "people": users, "words": ROLE_WORDS})


@once
def person_new(request: HttpRequest) -> HttpResponse:
    form = PersonNewForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        user = services.user_add(**form.cleaned_data)
        services.audit_add(request=request, act="added a person", subject=str(user))
        said = f"{user.name} may sign in as {user.username}."
        if user.role == Role.CREW:
            said += " Name it at their place in the crew too: then they see their day sheets."
        messages_add(request, said)
        return redirect("studio:people")
    return _form(request, form, "A new person", "studio:people", "Add")


@once
def person(request: HttpRequest, user: int) -> HttpResponse:
    who = get_object_or_404(User, pk=user)
    form = PersonForm(request.POST or None, instance=who, editor=request.user)
    if request.method == "POST" and form.is_valid():
        services.user_change(user=form.save(commit=False))
        services.audit_add(request=request, act="changed a person", subject=str(who))
        return redirect("studio:people")
    return _form(request, form, who.name, "studio:people", "Save", person=who)


@require_POST
def person_sign_out(request: HttpRequest, user: int) -> HttpResponse:
    who = get_object_or_404(User, pk=user)
    services.user_sign_out_everywhere(user=who)
    services.audit_add(request=request, act="signed a person out everywhere", subject=str(who))
    messages_add(request, f"{who.name} is signed out everywhere.")
    return redirect("studio:people")


@require_safe
def failed_jobs(request: HttpRequest) -> HttpResponse:
    jobs = BackgroundJob.objects.filter(state=BackgroundJob.State.FAILED).order_by("-finished")
    return render(request, "studio/failed_jobs.html", {"tab": "more", "jobs": jobs[:100]})


@require_POST
def failed_job_retry(request: HttpRequest, job: int) -> HttpResponse:
    background.job_retry(job=get_object_or_404(BackgroundJob, pk=job, state=BackgroundJob.State.FAILED))
    return redirect("studio:failed-jobs")


@require_POST
def failed_job_dismiss(request: HttpRequest, job: int) -> HttpResponse:
    get_object_or_404(BackgroundJob, pk=job, state=BackgroundJob.State.FAILED).delete()
    return redirect("studio:failed-jobs")


@require_safe
def audit(request: HttpRequest) -> HttpResponse:
    page = Paginator(AuditLine.objects.all(), 50).get_page(request.GET.get("page"))
    return render(request, "studio/audit.html", {"tab": "more", "page": page})
