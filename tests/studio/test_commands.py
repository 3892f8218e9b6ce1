"""A command from a page's outbox counts once, however often it comes."""

import json
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.utils import timezone

from decor.studio import access, commands
from decor.studio.commands import Conflict, Refused, commands_sweep, register
from decor.studio.models import AppliedCommand, AuditLine, RequestKey
from tests.conftest import signed_in

OP = "2f6f1f7e-0000-4000-8000-000000000001"


@pytest.fixture
def noted(monkeypatch):
    """A command that leaves a row behind for every time it was done; by its body it refuses or breaks."""
    at = []

    def note(told):
        at.append(told.at)
        RequestKey.objects.create(scope="noted", key=f"{RequestKey.objects.count()}", body_hash=str(told.body["row"]))
        match told.body.get("do"):
            case "conflict":
                raise Conflict({"version": 4})
            case "refuse":
                raise Refused("Row 40 is not on this sheet.")
            case "break":
                raise RuntimeError("the power went")
        return {"row": told.body["row"], "entity": told.entity}

    monkeypatch.setattr(commands, "HANDLERS", {})
    monkeypatch.setitem(access.COMMANDS, "note", access.EVERYONE)
    monkeypatch.setitem(access.COMMANDS, "plan", access.PLANNING)
    register("note", note)
    register("plan", note)
    register("nobody's", note)
    return at


def effects() -> int:
    return RequestKey.objects.filter(scope="noted").count()


def said(op_id=OP, command="note", entity="sheet:1", base_version=None, body=None, **more) -> dict:
    body = {"row": 12} if body is None else body
    given = {"op_id": op_id, "command": command, "entity": entity, "base_version": base_version, "body": body}
    return given | {"client_time": "2031-06-13T10:41:00Z", "sent_time": "2031-06-13T10:41:00Z"} | more


def send(client: Client, given):
    data = given if isinstance(given, (str, bytes)) else json.dumps(given)
    return client.post("/commands/", data, content_type="application/json", headers={"Accept": "application/json"})


def test_a_repeat_changes_nothing_and_gets_the_same_answer(as_crew, noted):
    first, second = send(as_crew, said()), send(as_crew, said(sent_time="2031-06-13T11:00:00Z"))
    assert first.status_code == second.status_code == 200
    assert first.json() == second.json() == {"status": 200, "answer": {"row": 12, "entity": "sheet:1"}}
    assert effects() == 1


@pytest.mark.parametrize("other", [{"body": {"row": 13}}, {"entity": "sheet:2"}, {"base_version": 3}])
def test_another_body_under_the_same_number_is_refused(as_crew, noted, other):
    send(as_crew, said())
    answer = send(as_crew, said(**other))
    assert answer.status_code == 422 and "sent under this number" in answer.json()["answer"]["message"]
    assert effects() == 1


def test_numbers_of_two_people_do_not_meet(as_crew, as_planner, noted):
    send(as_crew, said())
    assert send(as_planner, said(body={"row": 13})).status_code == 200
    assert effects() == 2


@pytest.mark.parametrize(
    ("do", "status", "answer"),
    [("conflict", 409, {"version": 4}), ("refuse", 422, {"message": "Row 40 is not on this sheet."})],
)
def test_what_is_not_done_leaves_nothing_and_is_not_done_later_either(as_crew, noted, do, status, answer):
    for _ in range(2):
        told = send(as_crew, said(body={"row": 40, "do": do}))
        assert (told.status_code, told.json()["answer"]) == (status, answer)
    assert effects() == 0 and len(noted) == 1


def test_a_crash_before_the_answer_leaves_nothing_and_the_next_sending_does_it(as_crew, noted, monkeypatch):
    as_crew.raise_request_exception = False
    assert send(as_crew, said(body={"row": 12, "do": "break"})).status_code == 500
    assert effects() == 0 and not AppliedCommand.objects.exists()
    # Done, but the answer's own row can't be written: neither stands.
    with monkeypatch.context() as broken:
        broken.setattr(AppliedCommand, "save", lambda *args, **kwargs: 1 / 0 if kwargs.get("update_fields") else None)
        broken.setattr(AppliedCommand.objects, "create", lambda **given: AppliedCommand(**given))
        assert send(as_crew, said()).status_code == 500
    assert effects() == 0
    assert send(as_crew, said()).status_code == 200
    assert effects() == 1


def test_an_answer_that_got_lost_is_given_again(as_crew, noted):
    send(as_crew, said())  # nobody reads this answer
    assert send(as_crew, said()).json()["answer"]["row"] == 12
    assert effects() == 1


@pytest.mark.django_db(transaction=True)
def test_ten_at_once_are_one(crew_user, noted):
    def tap(_: int) -> tuple[int, str]:
        try:
            answer = send(signed_in(crew_user), said())
            return answer.status_code, answer.content.decode()
        finally:
            connection.close()

    with ThreadPoolExecutor(10) as pool:
        answers = set(pool.map(tap, range(10)))
    assert len(answers) == 1 and next(iter(answers))[0] == 200
    assert effects() == 1 and AppliedCommand.objects.count() == 1


def test_who_may_not_is_told_so_and_may_later(as_crew, as_planner, crew_user, noted):
    assert send(as_crew, said(command="plan")).status_code == 403
    assert AuditLine.objects.filter(act="refused", subject="plan").count() == 1
    assert not AppliedCommand.objects.exists()
    assert send(as_planner, said(command="plan")).status_code == 200
    assert send(as_planner, said(command="nobody's", op_id=OP[:-1] + "2")).status_code == 403
    assert effects() == 1


def test_a_script_of_somebody_who_is_signed_out_is_told_so_instead_of_led_away(as_nobody, noted):
    assert send(as_nobody, said()).status_code == 401
    assert as_nobody.get("/commands/", headers={"Accept": "application/json"}).status_code == 401
    assert effects() == 0


def test_a_fresh_token_opens_the_address_and_an_old_page_without_one_does_not(crew_user, noted):
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = signed_in(crew_user).cookies
    assert send(strict, said()).status_code == 403
    fresh = strict.get("/commands/").json()
    assert fresh["user"] == crew_user.pk
    headers = {"X-CSRFToken": fresh["token"]}
    answer = strict.post("/commands/", json.dumps(said()), content_type="application/json", headers=headers)
    assert answer.status_code == 200 and effects() == 1


@pytest.mark.parametrize(
    "given",
    [
        "", "null", "[]", "{}", "[" * 100_000, '{"command": 7}', b"\xff\xfe", '{"command":"note","body":{"row":NaN}}',
        '{"command":"note","body":{"row":1e999}}', '{"command":"note","body":{"row":' + "9" * 5000 + "}}",
        said(op_id=""), said(op_id="a b c d e f g"), said(op_id=None), said(entity=""), said(entity="\0"),
        said(entity=7), said(entity="x" * 121), said(base_version="3"), said(base_version=True),
        said(base_version=-1), said(base_version=2**63), said(body=[]), said(command="what"),
    ],
    ids=str,
)  # fmt: skip
def test_what_is_no_command_is_said_so(as_crew, noted, given):
    answer = send(as_crew, given)
    assert answer.status_code == 422 and answer.json()["answer"]["message"]
    assert effects() == 0 and not AppliedCommand.objects.exists()


def test_too_much_at_once(as_crew, noted, settings):
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 2000
    assert send(as_crew, said(body={"row": "x" * 3000})).status_code == 413


@pytest.mark.parametrize(
    ("done", "sent", "ago"),
    [
        ("2031-06-13T10:41:00Z", "2031-06-13T10:51:30Z", 630),
        ("1999-06-13T12:41:00+02:00", "1999-06-13T10:51:30Z", 630),  # a phone whose clock is years behind
        ("2031-06-13T10:41:00Z", "2031-06-13T10:40:00Z", 0),  # its clock was set back in between
        ("2031-01-01T10:41:00Z", "2031-06-13T10:40:00Z", 0),
        ("yesterday", None, 0),
        ("2031-06-13T10:41:00", "2031-06-13T10:42:00Z", 0),
    ],
)
def test_when_it_was_done_is_told_by_the_servers_clock(as_crew, noted, done, sent, ago):
    before = timezone.now()
    assert send(as_crew, said(client_time=done, sent_time=sent)).status_code == 200
    assert abs((before - noted[0]).total_seconds() - ago) < 5


def test_a_name_has_one_handler(noted):
    with pytest.raises(ValueError, match="name"):
        register("note", lambda told: {})


def test_every_command_has_its_rule_and_every_rule_its_command():
    assert set(commands.HANDLERS) == set(access.COMMANDS)
    assert all(callable(commands.handler_of(name)) for name in commands.HANDLERS)


def test_old_ones_are_swept(as_crew, crew_user, noted):
    send(as_crew, said())
    now = timezone.now()
    assert commands_sweep(now=now + timedelta(days=89)) == 0
    assert commands_sweep(now=now + timedelta(days=91)) == 1
