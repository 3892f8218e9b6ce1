"""The one address of the outbox, and the script that keeps pages on a phone without a signal."""

from django.conf import settings
from django.core.exceptions import PermissionDenied, RequestDataTooBig
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from decor.studio.commands import Refused, command_apply, sent_from
from decor.studio.services import audit_add


@require_http_methods(["GET", "HEAD", "POST"])
def commands(request: HttpRequest) -> JsonResponse:
    """GET gives a fresh token and says who is signed in, for a page that lay open or was kept on the phone; POST
    takes one command."""
    if request.method != "POST":
        return JsonResponse({"token": get_token(request), "user": request.user.pk})
    try:
        sent = sent_from(request.body, now=timezone.now())
    except RequestDataTooBig:
        return _told(413, {"message": "That is too much to send at once."})
    except Refused as refusal:
        return _told(422, {"message": str(refusal)})
    try:
        done = command_apply(user=request.user, **vars(sent))
    except PermissionDenied:
        audit_add(request=request, act="refused", subject=sent.command)
        return _told(403, {"message": "This is not yours to do; ask the studio."})
    return _told(done.status, done.answer)


def _told(status: int, answer: dict[str, object]) -> JsonResponse:
    return JsonResponse({"status": status, "answer": answer}, status=status)


@require_safe
def service_worker(request: HttpRequest) -> HttpResponse:
    """From the root, as a service worker serves only what lies below its own address. Asked for anew each time, so
    that a phone never stays with an old one."""
    script = (settings.BASE_DIR / "static/js/sw.js").read_text()
    headers = {"Cache-Control": "no-cache", "Service-Worker-Allowed": "/"}
    return HttpResponse(script, content_type="text/javascript; charset=utf-8", headers=headers)
