"""For the owner: whether mail goes out and as whom, what went, and a letter to try it."""

from django import forms
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from decor.studio import background
from decor.studio import mail as letters
from decor.studio.forms import SlipForm
from decor.studio.mail_shown import letters_shown
from decor.studio.models import Mail, Studio
from decor.studio.requests import once
from decor.studio.services import audit_add

SHOWN = 30


class TestForm(SlipForm):
    to = forms.EmailField(label="Send a test letter to", help_text="It is sent at once; you see what the server says.")


@require_safe
def mail(request: HttpRequest) -> HttpResponse:
    return _page(request, TestForm(initial={"to": request.user.email or request.studio.email}))


@once
@require_POST
def mail_test(request: HttpRequest) -> HttpResponse:
    form = TestForm(request.POST)
    if not letters.mail_is_on():
        form.add_error(None, "Mail is off: nothing was sent.")
    if not form.is_valid():
        return _page(request, form)
    to = form.cleaned_data["to"]
    try:
        reply = letters.mail_test(to=to)
    except (letters.MailRefused, background.TryLater) as refusal:
        form.add_error("to", str(refusal))
        return _page(request, form)
    audit_add(request=request, act="sent a test letter", subject=to)
    said = f" The server said: {reply}" if reply else ""
    request.session["outcome"] = f"A test letter to {to} is on its way.{said}"
    return redirect("studio:mail")


def _page(request: HttpRequest, form: TestForm) -> HttpResponse:
    context = {
        "tab": "more",
        "form": form,
        "on": letters.mail_is_on(),
        "host": getattr(settings, "EMAIL_HOST", ""),
        "sender": _sender(request.studio),
        "told": letters.planners_addresses(),
        "letters": letters_shown(Mail.objects.all()[:SHOWN]),
    }
    return render(request, "studio/mail.html", context, status=422 if form.errors else 200)


def _sender(studio: Studio) -> str:
    try:
        return letters.sender(studio)
    except letters.MailRefused:
        return ""
