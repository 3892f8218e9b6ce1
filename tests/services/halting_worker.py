"""A real worker that stands still at one moment of what it does to a promise, tells so by a file, and goes no further:
it is there to be killed. Run as `python -m tests.services.halting_worker MOMENT FILE worker …`; `dawdling` stands
nowhere for long and is slow wherever a kill would hurt. The program itself knows nothing of it."""

import os
import random
import sys
import time
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

MOMENTS = {
    # its row is taken and counted as done, nothing is written yet, nothing is committed
    "begun": ("jobs.desk.following", "event_follow", "before"),
    # the promise's old lines are deleted and its new ones are written, nothing is committed
    "half written": ("jobs.desk.following", "reservation_change", "after"),
    # all is committed, the broker was not told yet
    "not yet acknowledged": ("decor.studio.background", "job_run", "after"),
    # the figures are committed, the promise and the hours have not followed them yet
    "estimated": ("jobs.desk.following", "estimate_follow", "before"),
}
SLOW = ("begun", "half written", "not yet acknowledged")


def patched(moment: str, wait: Callable[[], None]) -> None:
    where, name, when = MOMENTS[moment]
    module = import_module(where)
    real = getattr(module, name)

    def standing(*given: Any, **named: Any) -> Any:
        if when == "before":
            wait()
        done = real(*given, **named)
        if when == "after":
            wait()
        return done

    setattr(module, name, standing)


def main() -> None:
    import django

    moment, here = sys.argv[1], Path(sys.argv[2])
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "decor.settings")
    django.setup()
    from decor.celery import app

    def stand() -> None:
        here.touch()
        time.sleep(600)

    def dawdle() -> None:
        here.touch()
        time.sleep(random.uniform(0, 0.3))

    if moment == "dawdling":
        for one in SLOW:
            patched(one, dawdle)
    else:
        patched(moment, stand)
    app.worker_main(sys.argv[3:])


if __name__ == "__main__":
    main()
