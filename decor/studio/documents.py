"""From a template to a PDF, with nothing fetched from anywhere."""

import base64
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string

MISSING = (
    "PDFs need a system library that is not installed here: "
    "apt-get install --no-install-recommends libpangoft2-1.0-0 libharfbuzz-subset0"
)


@cache
def font_css() -> str:
    """Our own letters, as data: a page that could name a file could name any file."""
    faces = []
    for family, name in (("Figtree", "figtree-latin"), ("Figtree Extended", "figtree-latin-ext")):
        data = base64.b64encode((Path(settings.BASE_DIR) / "static/fonts" / f"{name}.woff2").read_bytes()).decode()
        faces.append(f'@font-face{{font-family:"{family}";src:url(data:font/woff2;base64,{data})}}')
    return "".join(faces)


def pdf_of(template: str, context: dict[str, Any], *, paper: str, pictures: Mapping[str, bytes] | None = None) -> bytes:
    """`paper` is A4 or Letter; the template shows `pictures` as `picture:name`. Raises ValueError with the line that
    installs what is missing."""
    try:
        # Half a second, and a system library that may be missing: only where a PDF is made.
        from weasyprint import HTML
        from weasyprint.text.fonts import FontConfiguration
    except OSError as missing:
        raise ValueError(MISSING) from missing
    html = render_to_string(template, {**context, "paper": paper, "font_css": font_css()})
    made = HTML(string=html, url_fetcher=_fetcher(pictures or {})).write_pdf(
        font_config=FontConfiguration(), pdf_variant="pdf/ua-1"
    )
    return bytes(made)


def _fetcher(pictures: Mapping[str, bytes]) -> Any:
    """What a document may show: data in its own text, and the pictures that were handed over with it."""
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    class Fetcher(URLFetcher):  # type: ignore[misc]
        def fetch(self, url: str, headers: Any = None) -> Any:
            scheme, _, name = url.partition(":")
            if scheme != "picture":
                return super().fetch(url, headers)
            if name not in pictures:
                raise ValueError(f"the document shows a picture {name!r} that it was not given")
            return URLFetcherResponse(url, pictures[name], {"Content-Type": "image/*"})

    return Fetcher(allowed_protocols=["data"])
