"""An estimate's input as plain JSON and back: what is stored is what is worked out, not what the event has become
since. Amounts of money are stored as text, so that no cent is lost on the way."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from decimal import Decimal
from functools import cache
from importlib import import_module
from types import NoneType
from typing import Any, get_args, get_type_hints

from decor.calc.inputs import EstimateInput

ROOM = "decor.calc."


def input_to_plain(given: EstimateInput) -> dict[str, Any]:
    plain = _to_plain(given)
    assert isinstance(plain, dict)
    return plain


def input_from_plain(plain: dict[str, Any]) -> EstimateInput:
    """Raises ValueError where what was stored is not an input, or one that the formulas no longer take."""
    given = _from_plain(plain, EstimateInput)
    if not isinstance(given, EstimateInput):
        raise ValueError("the stored input is not an estimate's")
    return given


def _to_plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        of = f"{type(value).__module__}:{type(value).__qualname__}"
        return {"is": of, **{item.name: _to_plain(getattr(value, item.name)) for item in fields(value)}}
    if isinstance(value, tuple):
        return [_to_plain(item) for item in value]
    return str(value) if isinstance(value, Decimal) else value


def _from_plain(value: Any, hint: Any) -> Any:
    """`hint` is only needed to tell an amount of money from other text; what a thing is stands in it."""
    if isinstance(value, dict):
        return _made(value)
    if isinstance(value, list):
        # The arithmetic's inputs are frozen: sequences in them are tuples throughout.
        of = get_args(hint)
        hints = [of[0]] * len(value) if len(of) == 2 and of[1] is ... else of
        return tuple(_from_plain(item, each) for item, each in zip(value, hints, strict=True))
    return Decimal(value) if isinstance(value, str) and _is_money(hint) else value


def _is_money(hint: Any) -> bool:
    return hint is Decimal or {of for of in get_args(hint) if of is not NoneType} == {Decimal}


def _made(plain: dict[str, Any]) -> Any:
    found = _class_named(str(plain.get("is")))
    hints = _hints(found)
    try:
        named = {name: _from_plain(item, hints[name]) for name, item in plain.items() if name != "is"}
        return found(**named)
    except (TypeError, KeyError) as error:
        raise ValueError(f"the stored input is from other formulas: {error}") from error


def _class_named(name: str) -> type:
    module, _, of = name.partition(":")
    # Only the arithmetic's own frozen inputs are ever made from stored text.
    found = getattr(import_module(module), of, None) if module.startswith(ROOM) else None
    if not (isinstance(found, type) and is_dataclass(found)):
        raise ValueError(f"the stored input names {name}, which is none of the arithmetic's")
    return found


@cache
def _hints(of: type) -> dict[str, Any]:
    return get_type_hints(of)
