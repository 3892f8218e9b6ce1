"""A real worker that is slow in the middle of an estimate: it tells that it is there, and goes on only when a file
appears. Run as `python -m tests.services.slow_worker FILE worker …`; the program itself knows nothing of it."""

import os
import sys
import time
from pathlib import Path

MARK = "written by the worker that was too slow"


def main() -> None:
    import django

    go_on = Path(sys.argv[1])
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "decor.settings")
    django.setup()
    from decor.calc.estimate import to_json
    from decor.celery import app
    from jobs.estimates import services

    real = services.compute

    def slow(given, progress=None):
        progress(0.5, "half way")
        while not go_on.exists():
            time.sleep(0.05)
        return real(given, progress)

    services.compute = slow
    services.to_json = lambda estimate: {**to_json(estimate), "mark": MARK}
    app.worker_main(sys.argv[2:])


if __name__ == "__main__":
    main()
