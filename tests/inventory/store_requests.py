"""What phones and pages send to a store: done once however often it comes, at once or days later, and also where the
program died over it and the phone sends it again."""

import uuid
from collections import Counter

from django.db import connection, transaction
from hypothesis import strategies as some
from hypothesis.stateful import precondition, rule

from decor.studio import commands
from decor.studio.commands import Answer
from decor.studio.requests import new_key
from inventory import ledger
from inventory.models import Movement
from tests.conftest import signed_in
from tests.inventory.store_ground import Ground, Plug, PulledPlug, confirmed, dump

which = some.integers(0, 2)
days = some.integers(0, 9)
some_pieces = some.integers(1, 6)
crash = some.integers(0, 9)
"""At which write the program dies before it is tried again; 0: it does not."""
WAYS = some.lists(some.sampled_from(["back", "used", "burst", "thrown", "lost"]), max_size=4)
CAME_BACK = ("back", "used", "burst", "thrown", "lost", "worn")


def something_sent(store) -> bool:
    return bool(store.sent)


def something_counted_back(store) -> bool:
    return any(p.over for p in store.model.promises.values() if p.state != "released")


class Requests(Ground):
    # --- how something is sent

    def sends(self, command: str, plug: int = 0, base: int | None = None, **body) -> Answer:
        """Said for the first time, and once more at once: the same answer, and nothing is written the second time."""
        self.pass_time(seconds=1)  # two things of one moment have no order
        told = {
            "user": self.by,
            "op_id": uuid.uuid4().hex,
            "command": command,
            "entity": f"{command}:{body['item']}",
            "base_version": base,
            "client_time": self.now,
            "body": body,
        }
        before = dump()
        if plug:
            try:
                with transaction.atomic(), connection.execute_wrapper(Plug(plug)):
                    commands.command_apply(**told)
                    raise PulledPlug
            except PulledPlug:
                pass
            assert dump() == before, "half of it was written"
        answer = commands.command_apply(**told)
        self.refusal = answer
        if answer.status != 200:
            assert dump()[:-1] == before[:-1], f"refused, and yet written: {answer}"
        self._sent(lambda: commands.command_apply(**told), answer)
        return answer

    def _sent(self, again, answer) -> None:
        self.sent.append((again, answer))
        self._repeats(again, answer)

    def _repeats(self, again, answer) -> None:
        between = dump()
        assert again() == answer, "a repeat was answered in other words"
        assert dump() == between, "a repeat wrote something"

    @precondition(something_sent)
    @rule(number=some.integers(0, 30))
    def sent_again_much_later(self, number) -> None:
        self._repeats(*self.sent[number % len(self.sent)])

    # --- what is sent

    @rule(number=which, found=some.integers(0, 14), force=some.booleans(), plug=crash)
    def count_sent(self, number, found, force, plug) -> None:
        item = self.items[number]
        self.lowers(item.pk, signed=force)
        if self.sends("item_counted", plug, item=item.pk, found=found, even_if_short=force).status == 200:
            self.model.store[item.pk] = found

    @rule(number=which, quantity=some_pieces)
    def lot_form_sent(self, number, quantity) -> None:
        item, page = self.items[number], signed_in(self.by)
        form = {
            "quantity": quantity,
            "here": "yes",
            "arrives_on": self.now.date().isoformat(),
            "request_key": new_key(),
        }

        def send() -> tuple[int, str]:
            answer = page.post(f"/stock/{item.pk}/lots/new/", form)
            return answer.status_code, answer["Location"]

        first = send()
        assert first[0] == 302 and first[1].startswith("/stock/")
        self._repeats(send, first)
        self.model.store[item.pk] += quantity

    @precondition(confirmed)
    @rule(
        number=days,
        nth=which,
        total=some.none() | some.integers(0, 6),
        knew=some.none() | some.integers(-1, 0),
        none_left=some.booleans(),
        plug=crash,
    )
    def tick_sent(self, number, nth, total, knew, none_left, plug) -> None:
        """So many are picked in all. What the ledger did not know of was found; fewer than before are put back."""
        if not (found := self.line_of(number, nth)):
            return
        pk, item = found
        p = self.model.promises[pk]
        picked = p.picked[item]
        wanted = p.lines[item] if total is None else min(total, p.lines[item])
        more = wanted - picked
        base = None if knew is None else max(0, picked + knew)
        other_hand = total is not None and total < picked and base not in (None, picked)
        if none_left or self.carried_off_untimely(item, p) or more > self.usable(item, p):
            self.may_worsen.add(item)
        answer = self.sends("item_picked", plug, base, reservation=pk, item=item, total=total, none_left=none_left)
        if other_hand or -more > p.out[item]:
            assert answer.status == (409 if other_hand else 422), answer
            return
        assert answer.status == 200, answer
        if more > 0:
            self.model.store[item] = max(self.model.store[item], more)
        self.moved(pk, item, more)
        if none_left:
            self.model.store[item] = 0

    @precondition(confirmed)
    @rule(number=days, nth=which, ways=WAYS, taken=some.booleans(), plug=crash)
    def return_sent(self, number, nth, ways, taken, plug) -> None:
        """What went otherwise than meant; the rest of a consumable is used, of a returnable back in good order."""
        if not (found := self.line_of(number, nth)):
            return
        pk, item = found
        p, said = self.model.promises[pk], Counter(ways)
        if self.model.returnable[item] or self.carried_off_untimely(item, p) or p.ends > self.now:
            self.may_worsen.add(item)
        went = max(0, min(p.lines[item] - p.picked[item], self.model.store[item])) if taken else 0
        answer = self.sends("item_returned", plug, reservation=pk, item=item, ways=dict(said), taken=taken)
        assert (answer.status == 200) == (said.total() <= p.out[item] + went), answer
        if answer.status != 200:
            return
        self.moved(pk, item, went)
        back = said["back"]
        if self.model.returnable[item]:
            back += p.out[item] - said.total()
        if self.model.uses[item] > 1:
            # Those that came back from their last use are worn out, and lie nowhere.
            came = sum(ledger.on_hand([item]).values()) - self.model.store[item]
            assert 0 <= came <= back
            back = came
        self.model.store[item] += back
        p.taken[item] -= back
        p.out[item] = 0
        p.over.add(item)
        if not p.lines.keys() - p.over:
            p.state = "settled"

    @precondition(something_counted_back)
    @rule(number=days, nth=which, plug=crash)
    def undo_sent(self, number, nth, plug) -> None:
        """Counted back by mistake: all that came back is out again, unless it was taken for something else since."""
        lines = [
            (pk, item) for pk, p in self.model.promises.items() if p.state != "released" for item in sorted(p.over)
        ]
        pk, item = lines[(number + nth) % len(lines)]
        p = self.model.promises[pk]
        came = Movement.objects.filter(reservation=pk, item=item, kind__in=CAME_BACK).values_list("lot_id", "store")
        back: Counter = Counter()
        for lot, there in came:
            back[lot] += there
        here = ledger.on_hand_by_lot(item)
        self.lowers(item, signed=False)
        answer = self.sends("return_undone", plug, reservation=pk, item=item)
        if any(there > here.get(lot, 0) for lot, there in back.items()):
            assert answer.status == 422, answer
        if answer.status != 200:
            return
        self.model.store[item] -= back.total()
        p.out[item], p.taken[item] = p.picked[item], p.picked[item]
        p.over.discard(item)
        p.state = "confirmed"
