"""Two people at the client's, or one with two phones, answer at the same moment."""

import pytest

from jobs.proofs import services
from jobs.proofs.models import Proof, ProofAnswer
from tests.inventory.test_last_stock_race import in_eight_processes
from tests.jobs.proofs.conftest import answer, issue

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]

ACTIONS = ["approve", "change", "decline", "approve"]


def say(number, links):
    try:
        answer(links[number % 2], action=ACTIONS[number % 4], comment="Bluer", name=f"Client {number}")
        return ["counted"]
    except services.AlreadyAnswered:
        return ["late"]


def test_of_eight_answers_at_once_exactly_one_counts(link, proof):
    other = services.proof_link_make(event=proof.event, recipient="Ben Rule")
    assert in_eight_processes(say, [link, other]) == {"counted": 1, "late": 7}
    proof.refresh_from_db()
    row = ProofAnswer.objects.get()
    assert proof.state == services.STATE_AFTER[row.action]


def renew_or_say(number, event, link):
    if number % 2:
        issue(event)
        return ["issued"]
    try:
        answer(link, action="approve", name=f"Client {number}")
        return ["counted"]
    except (services.AlreadyAnswered, services.NewerVersion):
        return ["late"]


def test_new_versions_and_answers_at_once_leave_one_truth(link, proof, event):
    said = in_eight_processes(renew_or_say, event, link)
    assert said["issued"] == 4 and said["counted"] + said["late"] == 4 and said["counted"] <= 1
    states = list(Proof.objects.filter(event=event).order_by("version").values_list("version", "state"))
    assert [version for version, _ in states] == [1, 2, 3, 4, 5]
    assert [state for _, state in states[1:]] == ["superseded"] * 3 + ["waiting"]
    assert states[0][1] == ("approved" if said["counted"] else "superseded")
    assert ProofAnswer.objects.count() == said["counted"]
