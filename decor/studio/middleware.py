from collections.abc import Callable
from datetime import timedelta
from urllib.parse import quote, urlsplit, urlunsplit

from django.conf import settings
from django.contrib.auth import logout
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, resolve_url
from django.utils import timezone

from decor.studio import services, views
from decor.studio.access import MATRIX
from decor.studio.models import Role, SignIn, Studio

IDLE_LIMIT = {Role.OWNER: timedelta(hours=8), Role.PLANNER: timedelta(hours=8), Role.CREW: timedelta(days=30)}
WHOLE_LIMIT = {
    Role.OWNER: timedelta(hours=24),
    Role.PLANNER: timedelta(hours=24),
    Role.CREW: timedelta(days=30),
}
TOUCH_EVERY = timedelta(minutes=1)


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
            SignIn.objects.filter(pk=sign_in.pk).update(last_seen=now)
        return True


def _page_to_return_to(request: HttpRequest) -> str:
    """An act can't be taken up again after signing in; the page it was on can."""
    if request.method in {"GET", "HEAD"} and not request.htmx:
        return request.get_full_path()
    came_from = urlsplit(request.headers.get("Referer", ""))
    ours = came_from.netloc == request.get_host()
    return urlunsplit(("", "", came_from.path, came_from.query, "")) if ours else "/"


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

    def process_view(self, request: HttpRequest, *_: object) -> HttpResponse | None:
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
            return redirect(f"{target}?next={onward}")
        if rule is None or request.user.role not in rule.roles:
            services.audit_add(request=request, act="refused", subject=request.path[:160])
            raise PermissionDenied
        return None
