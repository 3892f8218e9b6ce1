"""Room for spares within what is free: who takes the last balloon of a colour has none for those that burst."""

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass

from django.utils import timezone

from decor.calc.materials import spares_and_why
from inventory.turnover import known_burst


@dataclass(frozen=True)
class Spares:
    """The studio's usual share, and by item what is known of its bursting."""

    share: float
    burst: Mapping[int, float]

    @classmethod
    def now(cls, share: float) -> "Spares":
        return cls(share, known_burst(now=timezone.now(), spares_share=share))

    def with_them(self, item: int, balloons: int) -> int:
        """
        >>> Spares(0.04, {}).with_them(1, 480), Spares(0.04, {2: 0.02}).with_them(2, 400)
        (500, 411)
        """
        return balloons + spares_and_why(balloons, self.share, self.burst.get(item))[0]

    def left(self, free: Mapping[int, int]) -> dict[int, int]:
        """Of each item as many as still leave room for their spares.

        >>> Spares(0.04, {}).left({1: 500, 2: 1, 3: 0})
        {1: 480, 2: 0, 3: 0}
        """
        return {item: self._most(item, max(0, have)) for item, have in free.items()}

    def _most(self, item: int, have: int) -> int:
        return bisect_right(range(have + 1), have, key=lambda balloons: self.with_them(item, balloons)) - 1

    def wanting(self, taken: Mapping[int, int], free: Mapping[int, int]) -> dict[int, int]:
        """Spares that what is free no longer gives, by item.

        >>> Spares(0.04, {}).wanting({1: 499, 2: 100}, {1: 500, 2: 500})
        {1: 19}
        """
        short = {item: self.with_them(item, n) - max(free.get(item, 0), n) for item, n in taken.items() if n}
        return {item: n for item, n in short.items() if n > 0}
