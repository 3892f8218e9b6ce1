"""From a template to a PDF, with nothing fetched from anywhere."""

import base64
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


def pdf_of(template: str, context: dict[str, Any], *, paper: str) -> bytes:
    """Raises ValueError with the line that installs what is missing. `paper` is A4 or Letter."""
    try:
        # Half a second, and a system library that may be missing: only where a PDF is made.
        from weasyprint import HTML
        from weasyprint.text.fonts import FontConfiguration
        from weasyprint.urls import URLFetcher
    except OSError as missing:
        raise ValueError(MISSING) from missing
    html = render_to_string(template, {**context, "paper": paper, "font_css": font_css()})
    made = HTML(string=html, url_fetcher=URLFetcher(allowed_protocols=["data"])).write_pdf(
        font_config=FontConfiguration(), pdf_variant="pdf/ua-1"
    )
    return bytes(made)
