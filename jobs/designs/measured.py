"""What a kind's form hands to the service that keeps it."""

from dataclasses import dataclass, field
from typing import Any

from decor.calc.picture.chart import Chart
from decor.studio.models import StoredFile
from decor.studio.pictures import CleanPicture


@dataclass(frozen=True)
class Charted:
    """A panel's chart with the sheet, the way of loading and the balloons it is made of.

    `picture` is a new picture to be stored, `stored_picture` one that is already; None keeps the one that is there.
    `recipe` is how the chart was made, as plain data; `painted` and `locked` mark cells as Panel does."""

    sheet_id: int
    loading: str
    palette: tuple[int, ...]
    chart: Chart
    within_stock: bool = False
    picture: CleanPicture | None = None
    picture_name: str = ""
    stored_picture: StoredFile | None = None
    recipe: dict[str, Any] = field(default_factory=dict)
    painted: bytes = b""
    locked: bytes = b""


@dataclass(frozen=True)
class Measured:
    measures: dict[str, Any] = field(default_factory=dict)
    charted: Charted | None = None
