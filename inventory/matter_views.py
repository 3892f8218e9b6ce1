from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.matters import matters, sections


@require_safe
def what_needs_somebody(request: HttpRequest) -> HttpResponse:
    found = matters(now=timezone.now(), studio=request.studio)  # type: ignore[attr-defined]
    first = next((one for one in found if one.href), None)
    context = {"tab": "stock", "sections": sections(found), "count": len(found), "first": first}
    return render(request, "inventory/matters.html", context)
