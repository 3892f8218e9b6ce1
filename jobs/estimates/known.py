"""One event's pieces and estimates, each read at most once however many rooms tell of them."""

from functools import cached_property

from decor.calc.inputs import EstimateInput
from decor.studio.models import Studio
from jobs.designs.models import Piece
from jobs.estimates.inputs import Background, background_now, event_input
from jobs.estimates.models import Estimate
from jobs.estimates.services import estimate_is_current, finished_estimate, newest_estimate
from jobs.events.models import Event


class Known:
    """For showing only: what an act changes has to be read anew."""

    def __init__(self, event: Event, studio: Studio | None = None) -> None:
        self.event, self._studio = event, studio

    @cached_property
    def background(self) -> Background:
        return background_now(self._studio)

    @cached_property
    def pieces(self) -> list[Piece]:
        return list(Piece.objects.filter(event=self.event).select_related("panel", "event__venue"))

    @cached_property
    def newest(self) -> Estimate | None:
        return newest_estimate(self.event)

    @cached_property
    def finished(self) -> Estimate | None:
        if self.newest is None or self.newest.result is not None:
            return self.newest
        return finished_estimate(self.event)

    @cached_property
    def is_current(self) -> bool:
        """Of the finished one."""
        if self.finished is None or self.bare is None:
            return False
        return estimate_is_current(self.finished, self.background, bare=self.bare)

    @cached_property
    def bare(self) -> EstimateInput | None:
        """What the event is now; None where it can't be worked out."""
        try:
            return event_input(self.event, self.background, pieces=self.pieces)
        except ValueError:
            return None
