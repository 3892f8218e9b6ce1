from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from urllib.parse import quote, urlsplit, urlunsplit

from django.conf import settings
from django.contrib.auth import logout
from django.core.exceptions import PermissionDenied
from django.db import OperationalError, connection
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, resolve_url
from django.utils import timezone

from decor.studio import services, views
from decor.studio.access import MATRIX
from decor.studio.models import Role, SignIn, Studio
from decor.studio.numbers import MOST_ID

IDLE_LIMIT = {Role.OWNER: timedelta(hours=8), Role.PLANNER: timedelta(hours=8), Role.CREW: timedelta(days=30)}
WHOLE_LIMIT = {
    Role.OWNER: timedelta(hours=24),
    Role.PLANNER: timedelta(hours=24),
    Role.CREW: timedelta(days=30),
}
TOUCH_EVERY = timedelta(minutes=1)


class DoorMiddleware:
    """Comes before everything else. Health is told without session, studio or access: when the database is down,
    it is to be said, not to be fallen over. And a proxy that was only half set up is named; the redirect to https
    would otherwise lead back here for ever."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        self.health = {"/livez": views.livez, "/readyz": views.readyz}

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if told := self.health.get(request.path):
            return told(request)
        if settings.HTTPS and not request.is_secure() and (fault := _proxy_fault(request)):
            return views.plain_page("The proxy in front is not set up yet", fault, status=400)
        return self.get_response(request)


def _proxy_fault(request: HttpRequest) -> str:
    said = request.headers.get("X-Forwarded-Proto", "")
    if settings.BEHIND_PROXY and not said:
        return f"{settings.SITE_URL} asks for https, and the proxy must say so: let it set X-Forwarded-Proto."
    if not settings.BEHIND_PROXY and said == "https":
        return "A proxy brought this over https, but the studio does not know of one: set BEHIND_PROXY=true."
    return ""


class StudioMiddleware:
    """Knows the studio, shows its time zone, and keeps each role's limits on a sign-in."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.studio = Studio.objects.order_by("pk").first()
        if request.studio:
            timezone.activate(request.studio.time_zone)
        if request.user.is_authenticated and not self._still_signed_in(request):
            logout(request)
        try:
            response = self.get_response(request)
        finally:
            timezone.deactivate()
        if request.user.is_authenticated and "Cache-Control" not in response:
            # A shared phone's Back button must not show the last person's pages.
            response["Cache-Control"] = "private, no-store"
        return response

    def _still_signed_in(self, request: HttpRequest) -> bool:
        key = request.session.session_key or ""
        sign_in = SignIn.objects.filter(session_hash=services.session_hash(key), user=request.user).first()
        if sign_in is None:
            return False
        now = timezone.now()
        role = Role(request.user.role)
        if now - sign_in.last_seen > IDLE_LIMIT[role] or now - sign_in.started > WHOLE_LIMIT[role]:
            sign_in.delete()
            return False
        if now - sign_in.last_seen > TOUCH_EVERY:
            _seen(sign_in, now)
        return True


def _seen(sign_in: SignIn, now: datetime) -> None:
    """Only a note: where SQLite's one writer is busy for long (a list of 50,000 rows taken over), no page waits for
    it or fails, and a later one writes it."""
    mine = SignIn.objects.filter(pk=sign_in.pk)
    if connection.vendor != "sqlite":
        mine.update(last_seen=now)
        return
    patience = int(settings.DATABASES["default"]["OPTIONS"]["timeout"] * 1000)
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout = 0")
        try:
            mine.update(last_seen=now)
        except OperationalError:
            pass
        finally:
            cursor.execute(f"PRAGMA busy_timeout = {patience}")


def _page_to_return_to(request: HttpRequest) -> str:
    """An act can't be taken up again after signing in; the page it was on can."""
    if request.method in {"GET", "HEAD"} and not request.htmx:
        return request.get_full_path()
    try:
        came_from = urlsplit(request.headers.get("Referer", ""))
    except ValueError:
        return "/"
    ours = came_from.netloc == request.get_host()
    return urlunsplit(("", "", came_from.path, came_from.query, "")) if ours else "/"


def _names_nothing(request: HttpRequest, kwargs: Mapping[str, object]) -> bool:
    """A number that no row can have, or a letter that no database keeps: to be looked for it would have to be
    refused by each database in its own way."""
    if any(isinstance(value, int) and value > MOST_ID for value in kwargs.values()):
        return True
    words = [request.path, *(value for values in request.GET.lists() for value in values[1])]
    return any("\0" in word for word in words)


class AccessMiddleware:
    """Default deny: what the matrix does not name opens for nobody. An act's address, opened as if it were a page,
    says so in words."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if response.status_code == 405 and request.method == "GET" and not response.content:
            return views.not_a_page(request, response)
        return response

    def process_view(
        self, request: HttpRequest, view: object, args: object, kwargs: Mapping[str, object]
    ) -> HttpResponse | None:
        if _names_nothing(request, kwargs):
            raise Http404
        match = request.resolver_match
        rule = MATRIX.get(match.view_name if match else "")
        if (
            request.studio is None
            and match
            and match.view_name not in {"studio:first-run", "studio:livez", "studio:readyz"}
        ):
            return redirect("studio:first-run")
        if rule is not None and rule.public:
            return None
        if not request.user.is_authenticated:
            target, onward = resolve_url(settings.LOGIN_URL), quote(_page_to_return_to(request))
            if request.htmx:
                return HttpResponse(status=204, headers={"HX-Redirect": f"{target}?next={onward}"})
            if request.headers.get("Accept", "").startswith("application/json"):
                # A script would follow the redirect and take the sign-in page for its answer.
                return JsonResponse({"status": 401, "answer": {"message": "Sign in again."}}, status=401)
            return redirect(f"{target}?next={onward}")
        if rule is None or request.user.role not in rule.roles:
            services.audit_add(request=request, act="refused", subject=request.path[:160])
            raise PermissionDenied
        return None
