from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from jobs.day.views import today_for_crew


@require_safe
def today(request: HttpRequest) -> HttpResponse:
    if not request.user.is_staff_role:
        return today_for_crew(request)
    return render(request, "jobs/desk/today.html", {"tab": "today"})
