"""Bytes and their rows: neither is left behind without the other for long."""

import os
import time

import pytest
from django.utils import timezone

from decor.studio import services
from decor.studio.models import StoredFile


def test_a_stored_file_reads_back_and_leaves_no_draft(db, settings):
    file = services.file_store(data=b"bytes", mime="image/png", original_name="x" * 300)
    assert services.file_read(file=file) == b"bytes" and len(file.original_name) == 200
    assert [path.name for path in settings.MEDIA_ROOT.rglob("*") if path.is_file()] == [file.name]


def test_what_got_no_row_is_swept_the_next_day_and_nothing_else_is(db, settings):
    rowless = services.bytes_keep(data=b"lost", mime="application/pdf")
    fresh = services.bytes_keep(data=b"on its way", mime="application/pdf")
    kept = services.file_store(data=b"kept", mime="application/pdf")
    long_ago = time.time() - 2 * 24 * 3600
    for name in (rowless.name, kept.name):
        os.utime(services.file_path(name), (long_ago, long_ago))
    assert services.files_sweep(now=timezone.now()) == 1
    there = {path.name for path in settings.MEDIA_ROOT.rglob("*") if path.is_file()}
    assert there == {fresh.name, kept.name}
    assert StoredFile.objects.get().name == kept.name


def test_a_disk_that_is_full_leaves_no_row(db, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(services.os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        services.file_store(data=b"bytes", mime="image/png")
    assert not StoredFile.objects.exists()
