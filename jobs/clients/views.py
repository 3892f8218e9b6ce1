from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from decor.studio.requests import once
from decor.studio.services import audit_add
from decor.studio.versions import Changed
from jobs.clients.forms import ClientChangeForm, ClientForm
from jobs.clients.models import Client
from jobs.clients.services import client_add, client_change

PAGE = 50


@require_safe
def clients(request: HttpRequest) -> HttpResponse:
    q = request.GET.get("q", "").strip()[:80]
    found = Client.objects.matching(q) if q else Client.objects.all()
    page = Paginator(found.order_by("name", "pk"), PAGE).get_page(request.GET.get("page"))
    return render(request, "jobs/clients/clients.html", {"tab": "more", "page": page, "q": q})


@require_http_methods(["GET", "HEAD", "POST"])
@once
def client_new(request: HttpRequest) -> HttpResponse:
    form = ClientForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        client = client_add(**form.cleaned_data)
        audit_add(request=request, act="added a client", subject=str(client))
        return redirect("jobs:client", client.pk)
    context = {"tab": "more", "form": form}
    return render(request, "jobs/clients/client_form.html", context, status=422 if request.method == "POST" else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@once
def client_edit(request: HttpRequest, client: int) -> HttpResponse:
    row = get_object_or_404(Client, pk=client)
    form = ClientChangeForm(request.POST or None, instance=row, initial={"version": row.version})
    differences, status = None, 422
    if request.method == "POST" and form.is_valid():
        try:
            client_change(client=form.save(commit=False), version=form.cleaned_data["version"])
        except Changed as changed:
            differences, status = form.meet(changed.now), 409
        else:
            audit_add(request=request, act="changed a client", subject=str(row))
            request.session["outcome"] = "Saved."
            return redirect("jobs:client", client)
    context = {"tab": "more", "form": form, "client": row, "differences": differences}
    return render(request, "jobs/clients/client_form.html", context, status=status if request.method == "POST" else 200)
