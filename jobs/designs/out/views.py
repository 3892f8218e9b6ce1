"""Pictures of a panel to hand out, and its chart as a file."""

from typing import Any

from django.core import signing
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.text import slugify
from django.views.decorators.http import require_safe
from PIL import Image

from decor.calc.picture.reading_distance import whole_from_m
from decor.studio.models import StoredFile
from decor.studio.pictures import MOST_PIXELS, picture_array
from decor.studio.requests import once
from decor.studio.services import file_read, file_store
from jobs.designs.catalogue import Catalogue, catalogue_now
from jobs.designs.charting import NO_COLOUR, chart_of, flat_svg, hexes, palette_of
from jobs.designs.drawing import balloons_svg, rgb_of_hex
from jobs.designs.models import Piece
from jobs.designs.out import plain_json
from jobs.designs.out.forms import CornersForm, LookForm, VenueForm
from jobs.designs.out.pictures import encoded, mirrored_svg, on_venue, panel_image
from jobs.designs.sheets.plans import panel_plan
from jobs.designs.views import found_piece

SALT = "jobs.designs.venue-photo"
KEPT_FOR_S = 20 * 3600
SHOWN_PX = 1000
VENUE_PX = 2400
MIMES = {"png": "image/png", "jpeg": "image/jpeg", "svg": "image/svg+xml", "json": "application/json"}


def _panel_piece(event: int, piece: int) -> Piece:
    found = found_piece(event, piece)
    if getattr(found, "panel", None) is None:
        raise Http404
    return found


def _drawn_from(piece: Piece, catalogue: Catalogue) -> tuple[Any, list[str]]:
    """The chart and its colours; a sheet type that is gone leaves no chart to show."""
    sheet = catalogue.sheet(piece.panel.sheet_id)
    if sheet is None:
        raise Http404
    return chart_of(piece.panel, sheet), hexes(palette_of(piece.panel, catalogue))


def _look(request: HttpRequest, chart: Any, catalogue: Catalogue) -> LookForm:
    far = whole_from_m(chart.lattice.width_m, chart.lattice.height_m)
    asked = request.GET if set(request.GET) & set(LookForm.base_fields) else None
    return LookForm(asked, units=catalogue.units, usual_m=max(3.0, 2 * far))


@require_safe
def pictures(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    found, catalogue = _panel_piece(event, piece), catalogue_now()
    chart, _ = _drawn_from(found, catalogue)
    form = _look(request, chart, catalogue)
    valid = form.is_valid() or not form.is_bound
    query = request.GET.urlencode() if valid else ""
    context = {"tab": "events", "piece": found, "event": found.event, "form": form, "query": query, "valid": valid}
    return render(request, "jobs/designs/pictures.html", context, status=200 if valid else 422)


@require_safe
def picture(request: HttpRequest, event: int, piece: int, kind: str) -> HttpResponse:
    """`kind` is png, jpeg, svg or json; the query is that of the page. With `shown` it is small and not a download."""
    if kind not in MIMES:
        raise Http404
    found, catalogue = _panel_piece(event, piece), catalogue_now()
    chart, colours = _drawn_from(found, catalogue)
    form = _look(request, chart, catalogue)
    if form.is_bound and not form.is_valid():
        raise Http404
    if kind == "json":
        data = _as_file(found, chart, catalogue)
    elif kind == "svg":
        data = _as_svg(found, chart, colours, catalogue, form)
    else:
        data = _as_picture(request, found, chart, colours, catalogue, form, kind)
    answer = HttpResponse(data, content_type=MIMES[kind])
    how = "inline" if "shown" in request.GET else "attachment"
    ending = "jpg" if kind == "jpeg" else kind
    answer["Content-Disposition"] = f'{how}; filename="{slugify(found.title) or "panel"}.{ending}"'
    return answer


def _as_picture(
    request: HttpRequest, piece: Piece, chart: Any, colours: list[str], catalogue: Catalogue, form: LookForm, kind: str
) -> bytes:
    chosen = form.chosen()
    most = int((MOST_PIXELS / 2 * chart.lattice.width_m / chart.lattice.height_m) ** 0.5)
    width = min(chosen.pop("width_px"), most, 120 * chart.lattice.columns)
    if "shown" in request.GET:
        width = min(width, SHOWN_PX)
    joins = panel_plan(piece.panel, catalogue).joins
    return encoded(panel_image(chart, [rgb_of_hex(one) for one in colours], width, joins=joins, **chosen), kind)


def _as_svg(piece: Piece, chart: Any, colours: list[str], catalogue: Catalogue, form: LookForm) -> str:
    look = form.chosen()["look"]
    if not form.can_be_drawn():
        raise Http404
    if look == "chart":
        return flat_svg(chart, colours, title=piece.title, dotted=False).replace(
            "<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1
        )
    if look == "back":
        return mirrored_svg(balloons_svg(chart, colours, title=f"{piece.title} from behind"))
    return balloons_svg(chart, colours, title=piece.title, joins=panel_plan(piece.panel, catalogue).joins)


def _as_file(piece: Piece, chart: Any, catalogue: Catalogue) -> str:
    palette = plain_json.file_colours(palette_of(piece.panel, catalogue), NO_COLOUR)
    title = "".join(letter for letter in piece.title if letter.isprintable())[:120].strip() or "Panel"
    return plain_json.written(plain_json.PanelFile(title, chart, palette, piece.panel.loading))


@once
def venue_picture(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """The panel on a photograph of the place: the photograph first, then its four corners."""
    found, catalogue = _panel_piece(event, piece), catalogue_now()
    form = VenueForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        clean = form.cleaned_data["photo"]
        kept = file_store(
            data=clean.data, mime=clean.content_type, original_name=request.FILES["photo"].name,
            width_px=clean.width, height_px=clean.height,
        )  # fmt: skip
        token = signing.dumps(kept.pk, salt=SALT)
        return redirect(f"{reverse('jobs:panel-venue', args=[event, piece])}?photo={token}")
    context: dict[str, Any] = {"tab": "events", "piece": found, "event": found.event, "form": form}
    photo = _kept(request)
    if photo:
        chart, _ = _drawn_from(found, catalogue)
        corners = _corners(request, photo, chart)
        context |= {"photo": photo, "token": request.GET["photo"], "corners": corners}
        context |= {"placed": corners.is_bound and corners.is_valid(), "query": request.GET.urlencode()}
    wrong = request.method == "POST" or (photo and corners.errors)
    return render(request, "jobs/designs/venue_picture.html", context, status=422 if wrong else 200)


def _kept(request: HttpRequest) -> StoredFile | None:
    try:
        number = signing.loads(request.GET.get("photo", ""), salt=SALT, max_age=KEPT_FOR_S)
    except signing.BadSignature:
        return None
    return StoredFile.objects.filter(pk=number).first()


def _corners(request: HttpRequest, photo: StoredFile, chart: Any) -> CornersForm:
    """To begin with, upright in the middle, half as wide as the photograph."""
    aspect = chart.lattice.height_m / chart.lattice.width_m * photo.width_px / photo.height_px
    wide = min(0.5, 0.7 / aspect)
    left, top = 0.5 - wide / 2, 0.45 - wide * aspect / 2
    right, bottom = left + wide, top + wide * aspect
    first = [(left, top), (right, top), (right, bottom), (left, bottom)]
    # As large as it is shown: whether corners are too near each other is a matter of pixels.
    scale = min(1.0, VENUE_PX / max(photo.width_px, photo.height_px))
    size = max(1, round(photo.width_px * scale)), max(1, round(photo.height_px * scale))
    return CornersForm(request.GET if "x0" in request.GET else None, first=first, size=size)


@require_safe
def venue_image(request: HttpRequest, event: int, piece: int) -> HttpResponse:
    """The photograph alone, or, where corners are given, with the panel on it."""
    found, catalogue, photo = _panel_piece(event, piece), catalogue_now(), _kept(request)
    if photo is None:
        raise Http404
    try:
        pixels = Image.fromarray(picture_array(file_read(file=photo), 40_000))
    except FileNotFoundError as lost:
        raise Http404 from lost
    pixels.thumbnail((VENUE_PX, VENUE_PX))
    if "x0" in request.GET:
        chart, colours = _drawn_from(found, catalogue)
        form = _corners(request, photo, chart)
        if not form.is_valid():
            raise Http404
        pixels = on_venue(pixels, chart, [rgb_of_hex(one) for one in colours], form.corners())
    answer = HttpResponse(encoded(pixels, "jpeg"), content_type="image/jpeg")
    if "save" in request.GET:
        answer["Content-Disposition"] = f'attachment; filename="{slugify(found.title) or "panel"}-there.jpg"'
    return answer
