"""The floor's acts: signing in and out, people, stored files, the audit trail."""

import hashlib
import ipaddress
import os
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import transaction
from django.http import HttpRequest
from django.utils import timezone

from decor.studio.models import AuditLine, LoginThrottle, Role, SignIn, StoredFile, Studio, User

FREE_TRIES = 5
LONGEST_WAIT = timedelta(minutes=15)


def session_hash(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()


def client_ip(request: HttpRequest) -> str | None:
    """The peer's own address. X-Forwarded-For is anybody's to write: only its last entry is read, which the
    studio's own proxy added, and only where there is one; else all visitors would share the proxy's limits."""
    if settings.BEHIND_PROXY and (hops := request.headers.get("X-Forwarded-For", "")):
        return _address(hops.rsplit(",", 1)[-1])
    return request.META.get("REMOTE_ADDR") or None


def _address(words: str) -> str | None:
    try:
        return str(ipaddress.ip_address(words.strip()))
    except ValueError:
        return None


def audit_add(*, request: HttpRequest, act: str, subject: str = "") -> AuditLine:
    user = request.user if request.user.is_authenticated else None
    # Cut to their columns: only one of the databases does without, and what was done must not fail for its note.
    return AuditLine.objects.create(
        user=user,
        who=str(user)[:120] if user else "nobody",
        act=act[:60],
        subject=subject[:160].replace("\0", ""),
        ip=client_ip(request),
    )


def _account_hash(username: str) -> str:
    return hashlib.sha256(username.strip().lower().encode()).hexdigest()


@transaction.atomic
def login_try(*, username: str, now: datetime) -> timedelta:
    """How long this account name must still wait; zero when it may try. A try counts as a failure until it
    succeeds: were it counted after the password was checked, many at once would all be let through. After five the
    wait doubles from one second; there is no permanent lock, which would let anybody shut the owner out."""
    row, _ = LoginThrottle.objects.select_for_update().get_or_create(
        pk=_account_hash(username), defaults={"not_before": now}
    )
    # Before that there is no wait: a row that somebody made in this very moment must not look like one.
    if row.failures >= FREE_TRIES and row.not_before > now:
        return row.not_before - now
    row.failures += 1
    over = row.failures - FREE_TRIES
    if over >= 0:
        row.not_before = now + min(timedelta(seconds=2 ** min(over, 20)), LONGEST_WAIT)
    row.save()
    return timedelta(0)


def login_succeeded(*, user: User, session_key: str, agent: str) -> SignIn:
    now = timezone.now()
    LoginThrottle.objects.filter(pk=_account_hash(user.username)).delete()
    return SignIn.objects.create(
        user=user, session_hash=session_hash(session_key), agent=agent[:200], started=now, last_seen=now
    )


def sign_in_end(*, sign_in: SignIn) -> None:
    """The session row itself stays until it runs out, but without this row it opens nothing."""
    sign_in.delete()


def user_sign_out_everywhere(*, user: User) -> None:
    SignIn.objects.filter(user=user).delete()


@transaction.atomic
def user_add(*, username: str, name: str, role: Role, password: str, email: str = "") -> User:
    user = User(username=username, name=name, role=role, email=email)
    user.set_password(password)
    user.save()
    return user


@transaction.atomic
def user_change(*, user: User) -> User:
    """Who may no longer sign in, or has another role now, is signed out at once."""
    before = User.objects.select_for_update().get(pk=user.pk)
    # Not the password: the person may have changed it since the owner opened the form.
    user.save(update_fields=["name", "username", "role", "email", "is_active"])
    if not user.is_active or before.role != user.role:
        user_sign_out_everywhere(user=user)
    return user


@transaction.atomic
def password_set(*, user: User, password: str) -> User:
    user.set_password(password)
    user.save(update_fields=["password"])
    user_sign_out_everywhere(user=user)
    return user


@transaction.atomic
def studio_open(*, name: str, time_zone: str, owner_name: str, username: str, password: str) -> Studio:
    """The studio and its first owner, together or not at all; IntegrityError when there is one already."""
    studio = Studio.objects.create(pk=1, name=name, time_zone=time_zone)
    user_add(username=username, name=owner_name, role=Role.OWNER, password=password)
    return studio


EXTENSIONS = {"image/jpeg": ".jpg", "image/png": ".png", "application/pdf": ".pdf", "image/svg+xml": ".svg"}


@dataclass(frozen=True)
class Kept:
    """Bytes that are on disk and have no row yet."""

    name: str
    mime: str
    sha256: str
    size: int


def bytes_keep(*, data: bytes, mime: str) -> Kept:
    """Written through to the disk before it is there under its name: what a client approves must outlast a power cut
    as its row does."""
    name = secrets.token_hex(20) + EXTENSIONS.get(mime, ".bin")
    path = file_path(name)
    path.parent.mkdir(parents=True, exist_ok=True)
    draft = path.with_suffix(".part")
    with draft.open("wb") as out:
        out.write(data)
        out.flush()
        os.fsync(out.fileno())
    draft.replace(path)
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
    return Kept(name, mime, hashlib.sha256(data).hexdigest(), len(data))


def file_row(
    *, kept: Kept, original_name: str = "", width_px: int | None = None, height_px: int | None = None
) -> StoredFile:
    return StoredFile.objects.create(
        name=kept.name,
        mime=kept.mime,
        sha256=kept.sha256,
        size=kept.size,
        width_px=width_px,
        height_px=height_px,
        original_name=original_name[:200],
    )


def file_store(
    *,
    data: bytes,
    mime: str,
    original_name: str = "",
    width_px: int | None = None,
    height_px: int | None = None,
) -> StoredFile:
    """Bytes go to disk first: a row without its file would be a broken promise, a file without a row is only waste."""
    kept = bytes_keep(data=data, mime=mime)
    return file_row(kept=kept, original_name=original_name, width_px=width_px, height_px=height_px)


def file_path(name: str) -> Path:
    return Path(settings.MEDIA_ROOT) / name[:2] / name


def file_read(*, file: StoredFile) -> bytes:
    return file_path(file.name).read_bytes()


def files_sweep(*, now: datetime) -> int:
    """Files that nothing points at since a day: of refused forms, and of what was replaced or removed."""
    idle = StoredFile.objects.filter(created__lt=now - timedelta(days=1))
    for relation in StoredFile._meta.get_fields(include_hidden=True):
        if relation.auto_created and relation.is_relation:
            model, name = relation.related_model, relation.field.name  # type: ignore[union-attr]
            idle = idle.exclude(pk__in=model.objects.exclude(**{name: None}).values(name))  # type: ignore[union-attr]
    names = list(idle.values_list("pk", "name"))
    # Rows first: a row without its file would be a broken promise, a file without a row is only waste.
    StoredFile.objects.filter(pk__in=[pk for pk, _ in names]).delete()
    for _, name in names:
        file_path(name).unlink(missing_ok=True)
    return len(names) + _rowless_sweep(now)


def _rowless_sweep(now: datetime) -> int:
    """Files that got no row, as whatever was to make it fell over."""
    old = (now - timedelta(days=1)).timestamp()
    found = [p for p in Path(settings.MEDIA_ROOT).glob("??/*") if p.is_file() and p.stat().st_mtime < old]
    known = set(StoredFile.objects.values_list("name", flat=True)) if found else set()
    rowless = [path for path in found if path.name not in known]
    for path in rowless:
        path.unlink(missing_ok=True)
    return len(rowless)


def sessions_sweep(*, now: datetime) -> int:
    """Sessions that have run out, and what was kept for sign-ins that can no longer be used."""
    SignIn.objects.filter(last_seen__lt=now - timedelta(days=31)).delete()
    # Names that were only tried; whoever goes on trying has waits that never grow this old.
    LoginThrottle.objects.filter(not_before__lt=now - timedelta(days=1)).delete()
    count, _ = Session.objects.filter(expire_date__lt=now).delete()
    return count
