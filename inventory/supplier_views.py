"""Suppliers on screen."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from decor.studio.forms import SlipForm
from decor.studio.requests import once
from decor.studio.services import audit_add
from inventory import suppliers
from inventory.models import Supplier
from inventory.orders.shown import order_chip

ORDERS_SHOWN = 8


class SupplierForm(SlipForm):
    name = forms.CharField(label="Name", max_length=80)
    email = forms.EmailField(
        label="E-mail",
        required=False,
        max_length=254,
        widget=forms.EmailInput({"spellcheck": "false", "autocapitalize": "none"}),
        help_text="Where orders go.",
    )
    phone = forms.CharField(label="Telephone", required=False, max_length=40, widget=forms.TextInput({"type": "tel"}))
    our_number = forms.CharField(
        label="Our customer number there", required=False, max_length=40, help_text="It stands on each order."
    )
    note = forms.CharField(label="Note", required=False, max_length=200)

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["note"].optional_words = "if you like"


@require_safe
def supplier_list(request: HttpRequest) -> HttpResponse:
    return render(request, "inventory/suppliers.html", {"tab": "stock", "rows": suppliers.supplier_rows()})


@require_safe
def supplier(request: HttpRequest, supplier: int) -> HttpResponse:
    found = get_object_or_404(Supplier, pk=supplier)
    items, orders = suppliers.items_of(found), suppliers.orders_of(found)
    context = {
        "tab": "stock",
        "supplier": found,
        "items": [(item, item.latex.rgb if item.kind == "latex" else "") for item in items],
        "orders": [(order, order_chip(order)) for order in orders[:ORDERS_SHOWN]],
        "idle": not items and not any(order.state in suppliers.OPEN for order in orders),
    }
    return render(request, "inventory/supplier.html", context)


@once
def supplier_new(request: HttpRequest) -> HttpResponse:
    form = SupplierForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            made = suppliers.supplier_add(**form.cleaned_data)
        except suppliers.NameTaken as taken:
            form.add_error("name", str(taken))
        else:
            audit_add(request=request, act="added a supplier", subject=made.name)
            return redirect("inventory:supplier", supplier=made.pk)
    return _form(request, form, None)


@once
def supplier_change(request: HttpRequest, supplier: int) -> HttpResponse:
    found = get_object_or_404(Supplier, pk=supplier)
    form = SupplierForm(request.POST or None, initial={name: getattr(found, name) for name in suppliers.FIELDS})
    if request.method == "POST" and form.is_valid():
        try:
            suppliers.supplier_change(supplier=found, **form.cleaned_data)
        except suppliers.NameTaken as taken:
            form.add_error("name", str(taken))
        else:
            audit_add(request=request, act="changed a supplier", subject=found.name)
            request.session["outcome"] = "Saved."
            return redirect("inventory:supplier", supplier=found.pk)
    return _form(request, form, found)


def _form(request: HttpRequest, form: SupplierForm, found: Supplier | None) -> HttpResponse:
    context = {"tab": "stock", "form": form, "supplier": found}
    return render(request, "inventory/supplier_form.html", context, status=422 if form.errors else 200)


@once
@require_POST
def supplier_remove(request: HttpRequest, supplier: int) -> HttpResponse:
    found = get_object_or_404(Supplier, pk=supplier)
    try:
        suppliers.supplier_remove(supplier=found)
    except ValueError:
        request.session["outcome"] = f"{found.name} is still bought from, so it stays."
        request.session["outcome_warns"] = True
        return redirect("inventory:supplier", supplier=found.pk)
    audit_add(request=request, act="took a supplier away", subject=found.name)
    return redirect("inventory:suppliers")
