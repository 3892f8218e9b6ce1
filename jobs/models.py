"""One Django app, one migration chain; each noun keeps its models in its own folder."""

from jobs.clients.models import Client
from jobs.crew.models import Absence, DayHold, Member, Shift
from jobs.designs.models import (
    AtSheet,
    BuildBook,
    ChartPaper,
    EarlierChart,
    KeptPanel,
    LoadedRow,
    Panel,
    PanelDraft,
    PaperPage,
    Piece,
)
from jobs.desk.models import BookingDraft, Unmet
from jobs.estimates.models import Estimate
from jobs.events.models import Event, Venue
from jobs.proofs.models import Proof, ProofAnswer, ProofLink, ProofPicture, ProofVisits

__all__ = [
    "Absence",
    "AtSheet",
    "BookingDraft",
    "BuildBook",
    "ChartPaper",
    "Client",
    "DayHold",
    "EarlierChart",
    "Estimate",
    "Event",
    "KeptPanel",
    "LoadedRow",
    "Member",
    "Panel",
    "PanelDraft",
    "PaperPage",
    "Piece",
    "Proof",
    "ProofAnswer",
    "ProofLink",
    "ProofPicture",
    "ProofVisits",
    "Shift",
    "Unmet",
    "Venue",
]
