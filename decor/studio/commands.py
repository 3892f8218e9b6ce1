"""What pages send from their outbox: one address for all commands, and each applied once however often it comes.

A command says what was done ("row 12 is in"), not what a record is to be. Who adds one registers its handler by name
in `JobsConfig.ready()` and says in `decor.studio.access.COMMANDS` who may send it."""

import hashlib
import json
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.utils.module_loading import import_string

from decor.studio.access import command_allowed
from decor.studio.models import AppliedCommand, User

OP_ID = re.compile(r"[A-Za-z0-9-]{8,64}")
LONGEST_ENTITY = 120
LARGEST_NUMBER = 2**53
"""A browser's numbers are exact up to here."""
KEPT_FOR = timedelta(days=90)
"""A phone that lay in a drawer longer than this may send a command twice (studio default)."""
OLDEST = timedelta(days=90)


@dataclass(frozen=True)
class Command:
    """`entity` names the thing that it is about, `base_version` the version of it that the page knew (None where
    there are none); `at` is when it was done, by the server's clock."""

    user: User
    name: str
    entity: str
    base_version: int | None
    at: datetime
    body: Mapping[str, Any]


Handler = Callable[[Command], dict[str, Any]]


class Conflict(Exception):
    """The thing is no longer the one that the page knew; `now` is what stands there, as plain data for the page."""

    def __init__(self, now: Mapping[str, Any]) -> None:
        super().__init__("it was changed in the meantime")
        self.now = dict(now)


class Refused(ValueError):
    """Why a command cannot be done, in words for people."""


@dataclass(frozen=True)
class Answer:
    status: int
    answer: dict[str, Any]

    @property
    def plain(self) -> dict[str, Any]:
        return {"status": self.status, "answer": self.answer}


HANDLERS: dict[str, Handler | str] = {}


def register(name: str, handler: Handler | str) -> None:
    """`handler` may be a dotted path: it is imported when its first command comes, so that a start loads no arrays.

    Done again with the same handler it changes nothing; two handlers of one name would be a silent loss."""
    if HANDLERS.setdefault(name, handler) != handler:
        raise ValueError(f"name: the command {name!r} has a handler already")


def handler_of(name: str) -> Handler:
    found = HANDLERS[name]
    return import_string(found) if isinstance(found, str) else found  # type: ignore[no-any-return]


def command_apply(
    *,
    user: User,
    op_id: str,
    command: str,
    entity: str,
    base_version: int | None,
    client_time: datetime,
    body: Mapping[str, Any],
) -> Answer:
    """The answer of the first sending, whichever sending this is. `client_time` is when it was done; the address
    turns the phone's clock into the server's.

    Its row is written in the transaction that applies it: either both are there or neither. An identical one at the
    same moment waits at the row's constraint. Another command under a number that was used is refused, and so is one
    that nobody knows. Raises PermissionDenied, of which nothing is kept: who may not today may tomorrow."""
    if refusal := _why_not(op_id, entity, base_version, body):
        return Answer(422, {"message": refusal})
    if command not in HANDLERS:
        return Answer(422, {"message": "The studio's program does not know this yet. Reload the page."})
    if not command_allowed(command, user.role):
        raise PermissionDenied
    body_hash = _hash(command, entity, base_version, body)
    if earlier := _earlier(user, op_id, body_hash):
        return earlier
    told = Command(user, command, entity, base_version, client_time, body)
    try:
        with transaction.atomic():
            row = AppliedCommand.objects.create(user=user, op_id=op_id, command=command, body_hash=body_hash)
            done = _done(handler_of(command), told)
            row.status, row.answer = done.status, done.answer
            row.save(update_fields=["status", "answer"])
    except IntegrityError:
        earlier = _earlier(user, op_id, body_hash)
        if earlier is None:  # it was the handler's own
            raise
        return earlier
    return done


def _why_not(op_id: str, entity: str, base_version: int | None, body: Mapping[str, Any]) -> str:
    if not (isinstance(op_id, str) and OP_ID.fullmatch(op_id)):
        return "The page sent something without a number of its own. Reload it."
    if not (isinstance(entity, str) and 0 < len(entity) <= LONGEST_ENTITY and entity.isprintable()):
        return "The page did not say what this is about. Reload it."
    if not (base_version is None or (type(base_version) is int and 0 <= base_version < LARGEST_NUMBER)):
        return "The page did not say which version it knew. Reload it."
    if not isinstance(body, Mapping):
        return "The page sent something that is not a command. Reload it."
    return ""


def _hash(command: str, entity: str, base_version: int | None, body: Mapping[str, Any]) -> str:
    said = json.dumps([command, entity, base_version, body], sort_keys=True, ensure_ascii=True)
    return hashlib.sha256(said.encode()).hexdigest()


def _earlier(user: User, op_id: str, body_hash: str) -> Answer | None:
    row = AppliedCommand.objects.filter(user=user, op_id=op_id).first()
    if row is None:
        return None
    if row.body_hash != body_hash:
        return Answer(422, {"message": "Something else was sent under this number before. Reload the page."})
    return Answer(row.status, row.answer)


def _done(handler: Handler, told: Command) -> Answer:
    """What the handler wrote goes where it refuses; that it refused is kept, so that a repeat is refused alike."""
    try:
        with transaction.atomic():
            return Answer(200, handler(told))
    except Conflict as conflict:
        return Answer(409, conflict.now)
    except Refused as refusal:
        return Answer(422, {"message": str(refusal)})


def commands_sweep(*, now: datetime) -> int:
    return AppliedCommand.objects.filter(created__lt=now - KEPT_FOR).delete()[0]


@dataclass(frozen=True)
class Sent:
    """What came over the wire, its form checked and no more."""

    op_id: Any
    command: str
    entity: Any
    base_version: Any
    client_time: datetime
    body: Any


def sent_from(data: bytes, *, now: datetime) -> Sent:
    """Raises Refused. `client_time` and `sent_time` are the phone's own; how long ago by it the thing was done is
    taken off the server's time, so that a phone whose clock is wrong tells the right hour."""
    try:
        given = json.loads(data, parse_constant=_no_number, parse_float=_finite)
    except (ValueError, RecursionError):
        raise Refused("The page sent something that cannot be read. Reload it.") from None
    if not (isinstance(given, dict) and isinstance(given.get("command"), str)):
        raise Refused("The page sent something that is not a command. Reload it.")
    return Sent(
        op_id=given.get("op_id"),
        command=given["command"],
        entity=given.get("entity"),
        base_version=given.get("base_version"),
        client_time=now - _age(given.get("client_time"), given.get("sent_time")),
        body=given.get("body", {}),
    )


def _no_number(word: str) -> float:
    raise ValueError(word)


def _finite(text: str) -> float:
    number = float(text)
    return number if math.isfinite(number) else _no_number(text)


def _age(done: object, sent: object) -> timedelta:
    """Zero where the page says nothing that makes sense, as when its clock was set back in between."""
    try:
        age = datetime.fromisoformat(str(sent)) - datetime.fromisoformat(str(done))
    except (ValueError, TypeError, OverflowError):
        return timedelta(0)
    return age if timedelta(0) <= age <= OLDEST else timedelta(0)
