"""What the client is asked to pay, from a finished estimate. No cost, wage or margin passes through here."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from decor.calc.work.price import Prices, quote_of_net
from jobs.estimates.models import Estimate
from jobs.estimates.stored import input_from_plain


@dataclass(frozen=True)
class Offer:
    """Lines add to `net`; `net` + `tax` = `total`; the deposit is part of the total."""

    lines: tuple[tuple[str, Decimal], ...]
    net: Decimal
    tax: Decimal
    tax_percent: Decimal
    total: Decimal
    deposit: Decimal
    currency: str

    def __post_init__(self) -> None:
        if sum((amount for _, amount in self.lines), Decimal(0)) != self.net:
            raise ValueError("lines must add to net exactly")
        if self.net + self.tax != self.total:
            raise ValueError("total must be net and tax exactly")
        if not 0 <= self.deposit <= self.total:
            raise ValueError("deposit must be between 0 and total")


def offer_of(estimate: Estimate, *, net: Decimal | None = None) -> Offer:
    """The price that holds when the work takes the estimate's longer hours and all short stock is bought; or
    another price before tax that the studio chose, cut into the same lines in the same proportion.

    Raises ValueError naming `estimate` when it is not finished, `net` when it is not a whole number of coins above 0.
    """
    if not estimate.result:
        raise ValueError("estimate is not finished")
    quote, prices = estimate.result["quote_high"], input_from_plain(estimate.inputs).prices
    if net is None:
        return _offer(quote, prices)
    return _offer_at(net, quote, prices)


def net_range(estimate: Estimate) -> tuple[Decimal, Decimal]:
    """The estimate's price before tax, from and to."""
    result = estimate.result or {}
    return Decimal(result["quote_low"]["net"]), Decimal(result["quote_high"]["net"])


def _offer(quote: Mapping[str, Any], prices: Prices) -> Offer:
    return Offer(
        lines=tuple((line["title"], Decimal(line["amount"])) for line in quote["lines"]),
        net=Decimal(quote["net"]),
        tax=Decimal(quote["tax"]),
        tax_percent=prices.tax_fraction * 100,
        total=Decimal(quote["total"]),
        deposit=Decimal(quote["deposit"]),
        currency=prices.currency,
    )


def _offer_at(net: Decimal, quote: Mapping[str, Any], prices: Prices) -> Offer:
    if net <= 0 or net % prices.coin:
        raise ValueError("net must be above 0, in whole coins")
    titles = tuple(line["title"] for line in quote["lines"])
    weights = tuple(Decimal(line["amount"]) for line in quote["lines"])
    settled = quote_of_net(net, titles, weights, prices)
    return Offer(
        lines=tuple((line.title, line.amount) for line in settled.lines),
        net=settled.net,
        tax=settled.tax,
        tax_percent=prices.tax_fraction * 100,
        total=settled.total,
        deposit=settled.deposit,
        currency=prices.currency,
    )
