"""The pages of a colour from a photograph."""

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from decor.studio.forms import SlipForm
from decor.studio.requests import once
from decor.studio.sent_pictures import PICTURES, taken
from decor.studio.services import audit_add
from inventory import photos, shown
from inventory.models import ColourPhoto, Latex
from inventory.swaps import difference_words

SHOWN_PX = 256
"""How wide the photo is without a script: a tap's place comes in these pixels, and it fits the narrowest screen.
static/css/stock.css says the same."""


class PhotoForm(SlipForm):
    photo = forms.FileField(
        label="The photo",
        help_text="An inflated balloon and a plain white card side by side, in daylight, without flash.",
        widget=forms.FileInput({"accept": PICTURES}),
        error_messages={"required": "Choose a photograph.", "empty": "This file is empty."},
    )

    def clean_photo(self) -> Any:
        sent = self.cleaned_data["photo"]
        return taken(sent), sent.name


class TakeForm(forms.Form):
    rgb = forms.RegexField(r"^#[0-9a-f]{6}$")


@once
def photo_new(request: HttpRequest, item: int) -> HttpResponse:
    latex = get_object_or_404(Latex, pk=item)
    form = PhotoForm(request.POST, request.FILES) if request.method == "POST" else PhotoForm()
    if request.method == "POST" and form.is_valid():
        picture, name = form.cleaned_data["photo"]
        try:
            photo = photos.photo_add(item=latex, picture=picture, original_name=name or "photo", by=request.user)
        except ValueError as wrong:
            form.add_error("photo", str(wrong))
        else:
            return redirect("inventory:colour-photo", photo=photo.pk)
    context = {"tab": "stock", "item": latex, "form": form}
    return render(request, "inventory/photo_new.html", context, status=422 if request.method == "POST" else 200)


def _photo(pk: int) -> ColourPhoto:
    photo = get_object_or_404(ColourPhoto.objects.select_related("file", "item__latex"), pk=pk)
    if not hasattr(photo.item, "latex"):
        raise Http404
    return photo


def _page(request: HttpRequest, photo: ColourPhoto, *, status: int = 200, warning: str = "") -> HttpResponse:
    latex = photo.item.latex
    try:
        read = photos.reading(photo=photo, rgb_now=latex.rgb)
    except FileNotFoundError:
        raise Http404 from None
    wide, high = photo.file.width_px or 1, photo.file.height_px or 1
    context = {
        "tab": "stock",
        "item": latex,
        "photo": photo,
        "reading": read,
        "difference": difference_words(read.difference),
        "width": SHOWN_PX,
        "height": round(SHOWN_PX * high / wide),
        "moves": list(photos.MOVES),
        "which": request.GET.get("which", "balloon"),
        "warning": warning,
        # The picture is drawn with its patches, so another patch is another picture.
        "version": abs(hash((tuple(photo.card), tuple(photo.balloon)))) % 10**8,
    }
    return render(request, "inventory/photo.html", context, status=status)


@require_safe
def photo(request: HttpRequest, photo: int) -> HttpResponse:
    return _page(request, _photo(photo))


@require_safe
def photo_picture(request: HttpRequest, photo: int) -> HttpResponse:
    try:
        return HttpResponse(photos.marked(_photo(photo)), content_type="image/jpeg")
    except FileNotFoundError as lost:
        raise Http404 from lost


@require_POST
@once
def photo_spot(request: HttpRequest, photo: int) -> HttpResponse:
    """A tap on the photo, from a browser with or without a script, or a step from a button."""
    found, which = _photo(photo), request.POST.get("which", "")
    if which not in photos.SIDES:
        return _page(request, found, status=422, warning="Say first whether you point at the card or at the balloon.")
    way = request.POST.get("move", "")
    place = _place(request, found)
    if way in photos.MOVES:
        photos.spot_move(photo=found, which=which, way=way)
    elif place:
        photos.spot_set(photo=found, which=which, x=place[0], y=place[1])
    else:
        return _page(request, found, status=422, warning="Tap on the photo, or move the patch with the buttons.")
    return redirect(f"{request.path.removesuffix('spot/')}?which={which}")


def _place(request: HttpRequest, photo: ColourPhoto) -> tuple[float, float] | None:
    """As shares of width and height. A script sends them; without one the tapped pixel comes."""
    high = SHOWN_PX * (photo.file.height_px or 1) / (photo.file.width_px or 1)
    for names, wide, tall in ((("share_x", "share_y"), 1.0, 1.0), (("spot.x", "spot.y"), SHOWN_PX, high)):
        try:
            x, y = (float(request.POST.get(name, "")) for name in names)
        except ValueError:
            continue
        # A key pressed on a picture button sends 0, 0: nobody pointed there.
        if (x, y) != (0.0, 0.0) and 0 <= x <= wide and 0 <= y <= tall:
            return x / wide, y / tall
    return None


@require_POST
@once
def photo_take(request: HttpRequest, photo: int) -> HttpResponse:
    found, form = _photo(photo), TakeForm(request.POST)
    if not form.is_valid():
        return _page(request, found, status=422, warning="That is no colour. Look at the photo again.")
    latex = photos.photo_take(photo=found, rgb=form.cleaned_data["rgb"])
    audit_add(request=request, act="took a colour from a photo", subject=latex.name)
    request.session["outcome"] = f"{shown.capital(latex.name)} has the colour of the photo now."
    return redirect("inventory:item", item=latex.pk)
