"""One Django app, one migration chain; each noun keeps its models in its own folder."""

from jobs.clients.models import Client
from jobs.crew.models import Absence, DayHold, Member, Shift
from jobs.designs.models import BuildBook, Panel, Piece
from jobs.desk.models import BookingDraft
from jobs.estimates.models import Estimate
from jobs.events.models import Event, Venue
from jobs.proofs.models import Proof, ProofAnswer, ProofLink, ProofPicture, ProofVisits

__all__ = [
    "Absence",
    "BookingDraft",
    "BuildBook",
    "Client",
    "DayHold",
    "Estimate",
    "Event",
    "Member",
    "Panel",
    "Piece",
    "Proof",
    "ProofAnswer",
    "ProofLink",
    "ProofPicture",
    "ProofVisits",
    "Shift",
    "Venue",
]
