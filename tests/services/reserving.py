"""Eight processes that promise the last stock to each other's dismay, and write down what they were told. They can be
killed, and so can the database under them. Run as `python -m tests.services.reserving WORD FOLDER` with the database's
address in DATABASE_URL: `prepare` fills a store, `work` goes on until a file `stop` is there, `check` compares what is
in the database with what was told; a folder has a line for each thing that was tried and for each that was answered."""

import json
import os
import random
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

PROCESSES = 8
PIECES = 40
"""Of each of three items: enough for a few of eight."""
Promise = dict[str, Any]


def span() -> dict[str, datetime]:
    starts = datetime.now(UTC).replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=40)
    return {"starts": starts, "ends": starts + timedelta(days=2)}


def prepare() -> None:
    from django.core.management import call_command

    from inventory.models import Hardware, Latex
    from inventory.stocking import lot_add

    call_command("migrate", verbosity=0)
    sky = Latex.objects.create(kind="latex", name="5 in sky", nominal_in=5, colour="sky", rgb="#7db3d8")
    red = Latex.objects.create(kind="latex", name="11 in red", nominal_in=11, colour="red", rgb="#c62828")
    pole = Hardware.objects.create(kind="hardware", name="Pole, 2 m", purpose="pole", returnable=True)
    for item in (sky, red, pole):
        lot_add(item=item, quantity=PIECES, arrives_on=datetime.now(UTC).date() - timedelta(days=9))


class Book:
    """What one of them tried and was told; read again by whoever takes its place."""

    def __init__(self, path: Path) -> None:
        self.told: dict[str, Promise] = {}
        self.perhaps: dict[str, list[Promise]] = {}
        self.said: Counter = Counter()
        self.errors: list[str] = []
        self.tried = 0
        self.open: tuple[str, Promise] | None = None
        self.path = path
        for line in path.read_text().splitlines() if path.exists() else ():
            self._read(json.loads(line))

    def _read(self, line: dict[str, Any]) -> None:
        what, label, promise = line["what"], line.get("label", ""), line.get("promise")
        if what == "try":
            self.never_answered()
            self.open, self.tried = (label, promise), self.tried + 1
        elif what == "done":
            self.told[label], self.open = promise, None
            self.perhaps.pop(label, None)  # whatever went unanswered before came to its end before this
        elif what == "read":
            self.never_answered()
            self.told.pop(label, None)
            self.perhaps.pop(label, None)
            if promise is not None:
                self.told[label] = promise
        elif what == "short":
            self.open = None
        elif what == "gone":
            self.never_answered()
        else:
            self.errors.append(line["error"])
        self.said[what] += 1

    def never_answered(self) -> None:
        if self.open is not None:
            label, promise = self.open
            self.perhaps.setdefault(label, []).append(promise)
            self.open = None

    def write(self, what: str, **more: Any) -> None:
        line = {"what": what, **more}
        with self.path.open("a") as book:
            book.write(json.dumps(line) + "\n")
        self._read(line)


def gone(error: Exception) -> bool:
    """Whether the database is not there, or went away; a lock or a conflict is no such thing."""
    state = getattr(error.__cause__, "sqlstate", None)
    return os.environ["DATABASE_URL"].startswith("postgres") and (state is None or state[:2] in ("57", "08"))


class Worker:
    def __init__(self, number: int, folder: Path) -> None:
        from inventory.models import Item

        self.number, self.folder = number, folder
        self.book = Book(folder / f"{number}.book")
        self.book.never_answered()  # what its forerunner was at when it was killed
        self.dice = random.Random()
        self.sure = False
        self.ids = list(Item.objects.order_by("pk").values_list("pk", flat=True))

    def work(self) -> None:
        from django.db import InterfaceError, OperationalError, connection

        while not (self.folder / "stop").exists():
            try:
                connection.ensure_connection()
                self.look_again()
                self.turn()
            except (OperationalError, InterfaceError) as error:
                self.sure = False
                if not gone(error):
                    self.book.write("error", error=traceback.format_exc())
                elif self.book.open is not None:
                    self.book.write("gone")
                time.sleep(0.1)
                connection.close()
            except Exception:
                self.book.write("error", error=traceback.format_exc())

    def look_again(self) -> None:
        """At first, and whenever the database was gone: all that was told must stand there, and of what was never
        answered one reads how it stands. Later acts would cover up what was lost."""
        if self.sure:
            return
        self.book.never_answered()
        for label in [*self.book.told, *(new for new in self.book.perhaps if new not in self.book.told)]:
            row = reservations().filter(label=label).first()
            is_so, told = plain(row) if row else None, self.book.told.get(label)
            may = self.book.perhaps.get(label, [])
            if not any(alike(is_so, one) for one in [told, *may]):
                self.book.write("error", error=f"{label} was told {told}, perhaps {may}, and is {is_so}")
            if may or not alike(is_so, told):
                self.book.write("read", label=label, promise=is_so)
        self.sure = True

    def turn(self) -> None:
        from inventory.services import Shortage

        label, promise, act = self.next()
        self.book.write("try", label=label, promise=promise)
        try:
            pk = act()
        except Shortage:
            self.book.write("short", label=label)
        else:
            self.book.write("done", label=label, promise=promise | {"pk": pk})

    def next(self) -> tuple[str, Promise, Callable[[], int]]:
        mine = [label for label, p in self.book.told.items() if p["state"] != "released"]
        if not mine or self.dice.random() < 0.3:
            asked = self.lines()
            hold = {"pk": None, "state": "hold", "lines": asked, "out": {}}
            return f"{self.number}.{self.book.tried}", hold, lambda: self.hold(hold)
        label = self.dice.choice(mine)
        was = self.book.told[label]
        if was["out"]:
            return label, was | {"out": {}}, lambda: self.back(was)
        act = self.dice.choice(["confirm", "change", "change", "release", "pick"])
        if act == "change":
            asked = self.lines()
            return label, was | {"lines": asked}, lambda: self.change(was, asked)
        if act == "pick" and was["state"] == "confirmed":
            return label, was | {"out": was["lines"]}, lambda: self.pick(was)
        if act == "release":
            return label, was | {"state": "released"}, lambda: self.release(was)
        return label, was | {"state": "confirmed"}, lambda: self.confirm(was)

    def lines(self) -> dict[str, int]:
        return {str(pk): self.dice.randint(1, 4) for pk in self.dice.sample(self.ids, self.dice.randint(1, 3))}

    def hold(self, promise: Promise) -> int:
        from inventory.services import reservation_hold

        lines = [(int(pk), n) for pk, n in promise["lines"].items()]
        expires = datetime.now(UTC) + timedelta(days=1)
        label = f"{self.number}.{self.book.tried - 1}"
        return int(reservation_hold(lines=lines, label=label, expires=expires, **span()).pk)

    def change(self, was: Promise, asked: dict[str, int]) -> int:
        from inventory.services import reservation_change

        lines = [(int(pk), n) for pk, n in asked.items()]
        return int(reservation_change(reservation=self.kept(was), lines=lines, **span()).pk)

    def confirm(self, was: Promise) -> int:
        from inventory.services import reservation_confirm

        return int(reservation_confirm(reservation=self.kept(was)).pk)

    def release(self, was: Promise) -> int:
        from inventory.services import reservation_release

        return int(reservation_release(reservation=self.kept(was)).pk)

    def pick(self, was: Promise) -> int:
        """All of it in one go: half of it is nothing."""
        from django.db import transaction

        from inventory.models import Item
        from inventory.picking import pick

        with transaction.atomic():
            for pk, quantity in sorted(was["lines"].items(), key=lambda line: int(line[0])):
                pick(reservation=self.kept(was), item=Item.objects.get(pk=pk), quantity=quantity)
        return int(was["pk"])

    def back(self, was: Promise) -> int:
        from django.db import transaction

        from inventory.models import Item
        from inventory.picking import put_back

        with transaction.atomic():
            for pk, quantity in sorted(was["out"].items(), key=lambda line: int(line[0])):
                put_back(reservation=self.kept(was), item=Item.objects.get(pk=pk), quantity=quantity)
        return int(was["pk"])

    def kept(self, was: Promise) -> Any:
        from inventory.models import Reservation

        return Reservation.objects.get(pk=was["pk"])


def begin(number: int, folder: Path) -> None:
    from django.db import InterfaceError, OperationalError, connection

    while True:
        try:
            worker = Worker(number, folder)
        except (OperationalError, InterfaceError):  # the server was not there yet
            time.sleep(0.1)
            connection.close()
        else:
            return worker.work()


def work(folder: Path) -> None:
    """Forks all of them: one process group, which a test may kill at once."""
    from django.db import connections

    connections.close_all()
    children = []
    for number in range(PROCESSES):
        if pid := os.fork():
            children.append(pid)
            continue
        try:
            begin(number, folder)
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(0)
    for pid in children:
        os.waitpid(pid, 0)


def check(folder: Path) -> None:
    from django.db.models import Sum
    from django.utils import timezone

    from inventory.availability import stock_of
    from inventory.models import Item, Movement

    wrong: list[str] = []
    books = [Book(path) for path in sorted(folder.glob("*.book"))]
    kept: dict[str, Promise] = {}
    for row in reservations():
        if row.label in kept:
            wrong.append(f"{row.label} is there twice")
        kept[row.label] = plain(row)
        if {line.counts for line in row.lines.all()} != {row.state != "released"}:
            wrong.append(f"{row.label} is half released")
    for book in books:
        book.never_answered()
        wrong += book.errors
        for label in book.told.keys() | book.perhaps.keys():
            may = [book.told.get(label), *book.perhaps.get(label, ())]
            is_so = kept.pop(label, None)
            if not any(alike(is_so, one) for one in may):
                wrong.append(f"{label} was told {may} and is {is_so}")
    wrong += [f"nobody ever asked for {label}" for label in kept]
    for item in Item.objects.all():
        lines = item.reserved.filter(counts=True)
        promised = lines.aggregate(n=Sum("quantity", default=0))["n"]
        ledger = Movement.objects.filter(item=item).aggregate(store=Sum("store"), out=Sum("out"))
        if promised > PIECES or ledger["store"] + ledger["out"] != PIECES or ledger["store"] < 0:
            wrong.append(f"{item}: {promised} promised of {PIECES}, the ledger says {ledger}")
        now = timezone.now()
        if stock_of([item.pk], now=now, starts=now)[item.pk].lacking():
            wrong.append(f"{item} is promised twice")
    said = sum((book.said for book in books), Counter())
    standing = sum(p["state"] != "released" for book in books for p in book.told.values())
    unanswered = sum(len(promises) for book in books for promises in book.perhaps.values())
    print(json.dumps({**said, "standing": standing, "unanswered": unanswered, "wrong": wrong}))


def reservations() -> Any:
    from inventory.models import Reservation

    return Reservation.objects.prefetch_related("lines")


def plain(row: Any) -> Promise:
    from inventory.ledger import out_with

    lines = {str(line.item_id): line.quantity for line in row.lines.all()}
    out = {str(pk): away for pk, away in out_with(row).items()}
    return {"pk": row.pk, "state": row.state, "lines": lines, "out": out}


def alike(kept: Promise | None, told: Promise | None) -> bool:
    if kept is None or told is None:
        return kept is told
    return {**kept, "pk": 0} == {**told, "pk": 0} and told["pk"] in (None, kept["pk"])


def main() -> None:
    import django

    word, folder = sys.argv[1], Path(sys.argv[2])
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "decor.settings")
    django.setup()
    if word == "prepare":
        prepare()
    elif word == "work":
        work(folder)
    else:
        check(folder)


if __name__ == "__main__":
    main()
