"""A double tap, a reload or a flaky connection sends a form twice; it must count once."""

import hashlib
import re
import secrets
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import wraps
from threading import BoundedSemaphore

from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError, transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme

from decor.studio.models import RequestKey

FIELD = "request_key"
IN_FLIGHT_WAIT_S = 8.0
SHORT_WAIT_S = 1.0
LONG_WAITERS = BoundedSemaphore(2)
"""How many of a server's threads may wait long for somebody's first tap: the others must go on serving."""
KEPT_FOR = timedelta(days=7)
ABANDONED_AFTER = timedelta(minutes=2)


KEY = re.compile(r"[A-Za-z0-9_-]+")


def new_key() -> str:
    return secrets.token_urlsafe(24)


def _body_hash(request: HttpRequest) -> str:
    fields = sorted((k, v) for k in request.POST for v in request.POST.getlist(k) if k != "csrfmiddlewaretoken")
    files = sorted((k, _file_hash(file)) for k in request.FILES for file in request.FILES.getlist(k))
    return hashlib.sha256(repr((request.path, fields, files)).encode()).hexdigest()


def _file_hash(file: UploadedFile) -> str:
    """Another picture in the same form is something new: without this it would be dropped in silence."""
    digest = hashlib.sha256(str(file.name).encode())
    for chunk in file.chunks():
        digest.update(chunk)
    file.seek(0)
    return digest.hexdigest()


def _scope(request: HttpRequest) -> str:
    return (
        f"user:{request.user.pk}"
        if request.user.is_authenticated
        else "link:" + hashlib.sha256(request.path.encode()).hexdigest()
    )


def _earlier_answer(request: HttpRequest, row: RequestKey, body: str) -> HttpResponse | None:
    if row.body_hash != body:
        return render(
            request,
            "studio/message.html",
            {
                "title": "This form was already sent",
                "text": "It was sent before with other words. Open it again to send something new.",
            },
            status=422,
        )
    patient = LONG_WAITERS.acquire(blocking=False)
    try:
        ended = _end_of(row, IN_FLIGHT_WAIT_S if patient else SHORT_WAIT_S)
    finally:
        if patient:
            LONG_WAITERS.release()
    if ended is None:
        return None
    if ended.done:
        return HttpResponseRedirect(ended.location)
    return render(
        request,
        "studio/message.html",
        {
            "title": "Still working on it",
            "text": "The first sending is not finished yet. Wait a moment, then reload this page.",
        },
        status=409,
    )


def _end_of(row: RequestKey, wait_s: float) -> RequestKey | None:
    """The first sending when it is done or when the wait is over; None when it came to nothing."""
    until = time.monotonic() + wait_s
    while not row.done and time.monotonic() < until:
        time.sleep(0.05)
        fresh = RequestKey.objects.filter(pk=row.pk).first()
        if fresh is None:
            return None
        row = fresh
    return row


def keys_sweep(*, now: datetime) -> int:
    """Keys of forms that nobody can still have open."""
    return RequestKey.objects.filter(created__lt=now - KEPT_FOR).delete()[0]


def once(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Answer a repeated POST with the first one's redirect. The form carries `{% request_key %}`; a POST that
    does not end in a redirect (a form with errors) leaves its key free for the corrected one."""

    @wraps(view)
    def wrapper(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        key = request.POST.get(FIELD, "")[:64]
        # Only what `new_key` makes is a key; a database may refuse to keep anything else.
        if request.method != "POST" or not KEY.fullmatch(key):
            return view(request, *args, **kwargs)
        body, scope = _body_hash(request), _scope(request)
        RequestKey.objects.filter(
            scope=scope, key=key, done=False, created__lt=timezone.now() - ABANDONED_AFTER
        ).delete()
        try:
            with transaction.atomic():
                row = RequestKey.objects.create(scope=scope, key=key, body_hash=body)
        except IntegrityError:
            first = RequestKey.objects.filter(scope=scope, key=key).first()
            answer = _earlier_answer(request, first, body) if first else None
            return answer or wrapper(request, *args, **kwargs)
        try:
            response = view(request, *args, **kwargs)
        except BaseException:
            row.delete()
            raise
        if 300 <= response.status_code < 400:
            RequestKey.objects.filter(pk=row.pk).update(done=True, location=response["Location"][:500])
        else:
            row.delete()
        return response

    return wrapper


def back_to(request: HttpRequest) -> str:
    """The page of ours that something was missing for, where one came from it."""
    return our_path(request, request.GET.get("to", ""))


def our_path(request: HttpRequest, path: str) -> str:
    """What somebody may be sent on to, or nothing. A word that is no path is refused as well: a redirect would take
    it for the name of a view."""
    safe = url_has_allowed_host_and_scheme(path, {request.get_host()}, require_https=request.is_secure())
    return path if path.startswith("/") and safe else ""
