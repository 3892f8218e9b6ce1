from inventory.models.imports import ColourPhoto, ImportRow, StockImport
from inventory.models.items import Bin, Cylinder, Foil, Hardware, Item, Latex, Sheet, Supplier
from inventory.models.lots import Count, Lot, LotSum, Movement
from inventory.models.notices import HoldNotice
from inventory.models.orders import Order, OrderLine
from inventory.models.promises import Reservation, ReservationLine

__all__ = [
    "Bin",
    "ColourPhoto",
    "Count",
    "Cylinder",
    "Foil",
    "Hardware",
    "HoldNotice",
    "ImportRow",
    "Item",
    "Latex",
    "Lot",
    "LotSum",
    "Movement",
    "Order",
    "OrderLine",
    "Reservation",
    "ReservationLine",
    "Sheet",
    "StockImport",
    "Supplier",
]
