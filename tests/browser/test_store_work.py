"""Picking, counting back and counting on a phone, with the network going away in the middle: what was said is there
exactly once."""

from contextlib import suppress

import pytest
from django.urls import reverse
from playwright.sync_api import TimeoutError as PlaywrightTimeout
from playwright.sync_api import expect

from decor.studio.models import AppliedCommand
from inventory import ledger, picking, unpromised
from inventory.models import Bin, Count, Latex, Movement, Reservation
from tests import shelf
from tests.browser.conftest import every_second_answer_lost
from tests.browser.test_at_table import phone
from tests.browser.test_every_page import SMALL_TARGETS, faults, overflow
from tests.inventory.conftest import pole, red, sky
from tests.inventory.store_work import here, out, promise, stocked
from tests.inventory.test_pick_commands import puts_on_shift

__all__ = ["phone", "pole", "red", "sky"]

pytestmark = pytest.mark.django_db(transaction=True)

COLOURS = ("ivory", "lilac", "navy", "olive", "peach", "teal")


@pytest.fixture
def colours(db) -> list[Latex]:
    made = [
        Latex.objects.create(
            kind="latex", name=f"5 in {colour}", nominal_in=5, colour=colour, rgb="#7f7fa0", pack_size=100, bin="B2"
        )
        for colour in COLOURS
    ]
    return [stocked(item, 300) for item in made]


@pytest.fixture
def fair(studio, colours, pole) -> Reservation:
    return promise({**dict.fromkeys(colours, 120), stocked(pole, 8): 4})


@pytest.fixture
def over(studio, colours, pole) -> Reservation:
    made = promise({**dict.fromkeys(colours[:3], 120), stocked(pole, 8): 4}, starts_in=-3)
    for line in made.lines.all():
        picking.pick(reservation=made, item=line.item, quantity=line.quantity)
    return made


def at(name: str, *args: object) -> str:
    return reverse(f"inventory:{name}", args=args)


def row(page, item):
    return page.locator(f"#item-{item.pk}")


def all_sent(page) -> None:
    """Patient: ticks go one after the other, and the machine may be busy."""
    expect(page.locator("#signal")).to_have_text("All ticks are in", timeout=30_000)


def tap(page, target) -> None:
    target.tap()
    page.wait_for_timeout(310)  # a finger that bounces counts once


def fewer(page, item, number: int, *, none_left: bool = True) -> None:
    row(page, item).locator("summary").tap()
    row(page, item).locator("[name=total]").fill(str(number))
    if none_left:
        row(page, item).locator("[name=none_left]").check()
    tap(page, row(page, item).get_by_role("button", name="So many"))


def kept(page, number: int) -> None:
    expect(page.locator("#phone")).to_contain_text(f"{number} of {number} pages", timeout=15_000)


def lines_of(kind: str) -> list[tuple[int, int, int]]:
    rows = Movement.objects.filter(kind=kind).order_by("item")
    return [(line.item_id, line.store, line.out) for line in rows]


def test_a_list_picked_without_a_signal_through_a_killed_page(phone, crew_user, fair, colours, pole):
    puts_on_shift(crew_user, fair)
    context = phone(crew_user)
    page = context.new_page()
    page.goto(at("pick", fair.pk))
    kept(page, 3)
    all_sent(page)
    assert not faults(page) and not overflow(page)
    assert page.evaluate(SMALL_TARGETS, "pick") == []
    context.set_offline(True)
    for _ in range(3):  # the one act walks on by itself
        tap(page, page.locator("#next button"))
    fewer(page, colours[3], 40)
    expect(row(page, colours[3]).locator(".stands")).to_have_text("40 picked")
    expect(page.locator("#signal")).to_contain_text("No signal, 4 ticks wait")
    expect(page.locator("#progress")).to_have_text("3 of 7 picked, 1 not all there")
    # Loaded again without a signal, from what the phone keeps.
    page.reload()
    expect(page.locator("#progress")).to_have_text("3 of 7 picked, 1 not all there")
    tap(page, page.locator("#next button"))
    tap(page, row(page, pole).get_by_role("button", name="Picked"))
    row(page, colours[0]).locator("summary").tap()
    tap(page, row(page, colours[0]).get_by_role("button", name="Not picked after all"))
    expect(page.locator("#signal")).to_contain_text("7 ticks wait")
    assert lines_of("picked") == [], "nothing can have arrived"
    page.close()
    context.set_offline(False)
    page = context.new_page()
    page.goto(at("pick", fair.pk))
    all_sent(page)
    expect(page.locator("#progress")).to_have_text("4 of 7 picked, 1 not all there")
    expect(row(page, colours[3]).locator(".short")).to_contain_text("Short: 80 for 0042 Harbour fair")
    expect(row(page, colours[3]).locator(".short")).to_contain_text("260 more were here, which are written off")
    held = {item.pk: (here(item), out(fair, item)) for item in [*colours, pole]}
    assert list(held.values()) == [(300, 0), (180, 120), (180, 120), (0, 40), (180, 120), (300, 0), (4, 4)]
    assert Movement.objects.filter(kind="picked", by=crew_user).count() == 7
    assert Count.objects.get().found == 0
    assert AppliedCommand.objects.count() == 7


def test_what_could_not_be_promised_stands_at_the_head_also_without_a_signal(phone, planner, fair, pole, monkeypatch):
    """Of a changed design: seven poles more are wanted, and four are free."""
    wanted = [unpromised.Need(pole.pk, 7, fair.starts, fair.ends, fair.label, promise=fair.pk, name=pole.name)]
    monkeypatch.setattr("inventory.unpromised.needs", lambda **_: wanted)
    context = phone(planner)
    page = context.new_page()
    page.goto(at("pick", fair.pk))
    head = page.locator("#beyond")
    words = f"Lacks 3 of {pole.name}: not promised to it, so not on this list."
    expect(head).to_contain_text(words)
    kept(page, 3)
    assert not faults(page) and not overflow(page)
    context.set_offline(True)
    page.reload()
    expect(head).to_contain_text(words)
    # Three come while the phone has no signal: it says so as soon as it hears of it.
    stocked(pole, 3)
    context.set_offline(False)
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(head).to_contain_text(f"It needs 7 of {pole.name} more: free now, and not promised to it yet.")
    wanted.clear()
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(head).to_be_hidden()


def test_every_second_answer_lost_doubles_nothing(phone, planner, fair, colours):
    context = phone(planner, service_workers="block")
    page = context.new_page()
    lost = every_second_answer_lost(context)
    page.goto(at("pick", fair.pk))
    for item in colours:
        tap(page, row(page, item).get_by_role("button", name="Picked"))
    for _ in range(20):
        if "All ticks" in page.locator("#signal").inner_text():
            break
        with suppress(PlaywrightTimeout):  # all may go in under the finger
            page.get_by_role("button", name="Send now").tap(timeout=1_000)
    all_sent(page)
    assert sum(lost) >= 4, "otherwise nothing was lost and this proves nothing"
    assert lines_of("picked") == [(item.pk, -120, 120) for item in colours]


def test_two_who_pick_one_list_merge_and_are_told(phone, crew_user, planner, fair, colours):
    puts_on_shift(crew_user, fair)
    cory = phone(crew_user, service_workers="block")
    one, two = cory.new_page(), phone(planner, service_workers="block").new_page()
    for page in (one, two):
        page.goto(at("pick", fair.pk))
        all_sent(page)
    cory.set_offline(True)
    tap(one, row(one, colours[0]).get_by_role("button", name="Picked"))
    fewer(one, colours[1], 50, none_left=False)
    for item in colours[:2]:  # the same rows, with a signal
        tap(two, row(two, item).get_by_role("button", name="Picked"))
    all_sent(two)
    cory.set_offline(False)
    one.evaluate("() => dispatchEvent(new Event('online'))")
    parked = one.locator("#parked")
    expect(parked).to_contain_text("Somebody else says 120 are picked.", timeout=15_000)
    expect(parked).to_contain_text("5 in lilac, 50 picked, was not taken")
    assert [out(fair, item) for item in colours[:2]] == [120, 120], "one tick of both hands, and nobody's undone"
    parked.get_by_role("button", name="It is 50").tap()
    expect(parked).to_be_empty()
    all_sent(one)
    assert [out(fair, item) for item in colours[:2]] == [120, 50]


def test_whoever_picks_weeks_before_is_asked_first_also_without_a_signal(phone, planner, pole, colours):
    later = promise({colours[0]: 50, stocked(pole, 4): 4}, starts_in=30)
    promise({pole: 2}, starts_in=10, label="0043 Regatta")
    context = phone(planner)
    page = context.new_page()
    page.goto(at("pick", later.pk))
    kept(page, 3)
    context.set_offline(True)
    place = row(page, pole)
    expect(place.locator(".early")).to_contain_text("Taken now, missing elsewhere: 2 for 0043 Regatta")
    tap(page, place.get_by_role("button", name="Picked"))
    expect(place.locator(".early-ask")).to_contain_text("Take them now all the same?")
    assert not faults(page)
    tap(page, place.get_by_role("button", name="Leave them"))
    expect(place.locator(".early-ask")).to_have_count(0)
    expect(place).to_have_attribute("data-state", "open")
    expect(page.locator("#next button")).to_contain_text("5 in ivory picked")
    fewer(page, pole, 2, none_left=False)
    expect(place.locator(".early-ask")).to_have_count(0)
    expect(place.locator(".stands")).to_have_text("2 picked")
    tap(page, page.locator("#next button"))
    tap(page, page.locator("#next button"))
    expect(place.locator(".early-ask")).to_be_visible()
    tap(page, place.get_by_role("button", name="Take them now"))
    expect(place).to_have_attribute("data-state", "done")
    context.set_offline(False)
    all_sent(page)
    expect(place.locator(".short")).to_contain_text("Short: 2 for 0043 Regatta")
    assert (out(later, pole), out(later, colours[0])) == (4, 50)


def test_what_came_back_told_without_a_signal(phone, planner, over, colours, pole):
    context = phone(planner)
    page = context.new_page()
    page.goto(at("return", over.pk))
    kept(page, 3)
    all_sent(page)
    assert not faults(page) and not overflow(page)
    assert page.evaluate(SMALL_TARGETS, "return") == []
    context.set_offline(True)
    first, every = row(page, colours[0]), page.locator("#next button")
    expect(every).to_have_text("All of it went as planned")
    first.locator("summary").tap()
    first.get_by_label("Back unused").fill("30")
    first.get_by_label("Burst").fill("5")
    tap(page, first.get_by_role("button", name="Count it back so"))
    expect(first.locator(".became")).to_have_text("85 used, 30 back, 5 burst")
    expect(every).to_have_text("The rest went as planned")
    tap(page, row(page, colours[1]).get_by_role("button", name="All 120 used"))
    tap(page, row(page, colours[1]).get_by_role("button", name="That was wrong"))
    page.reload()
    expect(first.locator(".became")).to_have_text("85 used, 30 back, 5 burst")
    tap(page, page.get_by_role("button", name="The rest went as planned"))
    expect(page.locator("#settled")).to_be_visible()
    expect(page.locator("#signal")).to_contain_text("6 ticks wait")
    assert Movement.objects.filter(kind__in=("back", "used")).count() == 0
    page.close()
    context.set_offline(False)
    page = context.new_page()
    page.goto(at("store-work"))
    page.goto(at("return", over.pk))
    all_sent(page)
    page.reload()
    expect(page.locator("#settled")).to_be_visible()
    expect(row(page, colours[0]).locator(".became")).to_have_text("30 back, 85 used, 5 burst")
    assert [here(item) for item in [*colours[:3], pole]] == [210, 180, 180, 8]
    assert ledger.out_with(over) == {}
    assert Reservation.objects.get(pk=over.pk).state == "settled"


def test_a_bin_counted_without_a_signal_while_somebody_picks(phone, planner, owner, fair, colours):
    shelf.came_earlier(days=9)
    context = phone(planner)
    page = context.new_page()
    page.goto(at("count"))
    kept(page, 3)
    page.goto(at("count-bin", colours[0].pk))
    kept(page, 2)
    all_sent(page)
    assert not faults(page) and not overflow(page)
    assert page.evaluate(SMALL_TARGETS, "count") == []
    context.set_offline(True)
    assert "300" not in row(page, colours[0]).inner_text(), "what the ledger says is told when a number is typed"
    for item, found in ((colours[0], 300), (colours[1], 290)):
        row(page, item).locator("[name=found]").fill(str(found))
        tap(page, row(page, item).get_by_role("button", name="Count"))
    explained = row(page, colours[1]).locator(".explain")
    expect(explained).to_contain_text("The ledger says 300: 10 fewer.")
    explained.get_by_label("Why, if you know").fill("a torn bag")
    tap(page, explained.get_by_role("button", name="It is so"))
    expect(page.locator("#signal")).to_contain_text("2 ticks wait")
    page.reload()
    expect(row(page, colours[1]).locator(".became")).to_have_text("290 counted")
    assert not Count.objects.exists()
    # Meanwhile, with a signal, somebody picks what was counted.
    picking.pick(reservation=fair, item=colours[1], quantity=120, by=owner)
    context.set_offline(False)
    page.evaluate("() => dispatchEvent(new Event('online'))")
    all_sent(page)
    expect(row(page, colours[1]).locator(".became")).to_contain_text(
        "Since you counted 120 went out, so 170 are here now"
    )
    assert [here(item) for item in colours[:2]] == [300, 170]
    assert [(one.item_id, one.found, one.said, one.by) for one in Count.objects.order_by("item")] == [
        (colours[0].pk, 300, 300, planner), (colours[1].pk, 290, 300, planner),
    ]  # fmt: skip
    assert Movement.objects.get(kind="counted").why == "a torn bag"


def test_a_count_that_breaks_a_promise_waits_for_a_word(phone, planner, fair, colours):
    page = phone(planner, service_workers="block").new_page()
    page.goto(at("count-bin", colours[0].pk))
    first = row(page, colours[0])
    first.locator("[name=found]").fill("100")
    tap(page, first.get_by_role("button", name="Count"))
    tap(page, first.get_by_role("button", name="It is so"))
    parked = page.locator("#parked")
    expect(parked).to_contain_text("This leaves promises short", timeout=15_000)
    expect(parked).to_contain_text("0042 Harbour fair")
    # Its row does not look as if it were done, and leads to what is said at the head.
    assert first.get_attribute("data-state") == "open"
    expect(first.locator(".became")).to_have_text("Never counted")
    expect(first.locator(".is-done")).not_to_be_visible()
    page.reload()
    expect(parked).to_contain_text("0042 Harbour fair")
    assert first.get_attribute("data-state") == "open"
    page.evaluate("() => scrollTo(0, document.body.scrollHeight)")
    first.get_by_role("link", name="Not taken: see why").tap()
    expect(parked.get_by_role("button", name="It is so all the same")).to_be_in_viewport()
    assert here(colours[0]) == 300
    parked.get_by_role("button", name="It is so all the same").tap()
    expect(parked).to_be_empty()
    expect(first.locator(".not-taken")).to_have_count(0)
    all_sent(page)
    assert here(colours[0]) == 100


def test_a_code_leads_there_without_a_signal(phone, planner, fair, colours, pole):
    pole.bin = "C3"
    pole.save()
    numbers = {name: Bin.objects.create(name=name, position=at).pk for at, name in enumerate(("B2", "C3"), 1)}
    context = phone(planner)
    page = context.new_page()
    page.goto(at("pick", fair.pk))
    kept(page, 3)
    context.set_offline(True)
    expect(page.locator("#no-scan")).to_contain_text("Type the code")
    for code, item in (("c3", pole), (f"/b/{numbers['B2']}/", colours[0]), (f"no. {colours[4].pk}", colours[4])):
        page.get_by_label("A bin's or an item's code").fill(code)
        tap(page, page.get_by_role("button", name="Go there"))
        expect(row(page, item)).to_have_attribute("data-found", "")
        expect(row(page, item)).to_be_in_viewport()
    page.get_by_label("A bin's or an item's code").fill("Q7")
    tap(page, page.get_by_role("button", name="Go there"))
    expect(page.locator("#found")).to_have_text("Nothing of this list lies at “Q7”.")


CAMERA = """
  self.BarcodeDetector = class {
    static async getSupportedFormats() { return ["qr_code"]; }
    async detect() { return [{ rawValue: "https://store.example/i/ITEM/" }]; }
  };
  Object.defineProperty(HTMLVideoElement.prototype, "readyState", { get: () => 4 });
  HTMLVideoElement.prototype.play = async () => {};
  const canvas = document.createElement("canvas");
  canvas.getContext("2d");
  const camera = async () => { self.asked = true; return canvas.captureStream(); };
  if (navigator.mediaDevices) navigator.mediaDevices.getUserMedia = camera;
"""


def test_a_label_is_scanned_where_the_browser_can(phone, planner, fair, colours):
    context = phone(planner, service_workers="block")
    context.add_init_script(CAMERA.replace("ITEM", str(colours[4].pk)))
    page = context.new_page()
    page.goto(at("pick", fair.pk))
    page.get_by_role("button", name="Scan a label").tap()
    expect(row(page, colours[4])).to_have_attribute("data-found", "")
    expect(page.locator("#scanner")).to_be_hidden()
    assert page.evaluate("self.asked") and lines_of("picked") == [], "scanning leads somewhere and changes nothing"


def test_all_of_it_without_script(phone, planner, fair, colours, pole):
    page = phone(planner, java_script_enabled=False).new_page()
    page.goto(at("pick", fair.pk))
    page.locator("#next button").tap()
    expect(page.locator(".outcome").first).to_contain_text("5 in ivory: 120 of 120 picked.")
    row(page, pole).get_by_role("button", name="Picked").tap()
    row(page, colours[1]).locator("summary").tap()
    row(page, colours[1]).locator("[name=total]").fill("40")
    row(page, colours[1]).locator("[name=none_left]").check()
    row(page, colours[1]).get_by_role("button", name="So many").tap()
    expect(row(page, colours[1]).locator(".short")).to_contain_text("Short: 80")
    page.goto(at("return", fair.pk))
    row(page, pole).locator("summary").tap()
    row(page, pole).get_by_label("Lost").fill("1")
    row(page, pole).get_by_role("button", name="Count it back so").tap()
    page.locator("#next button").tap()
    for item in colours[2:]:
        row(page, item).get_by_role("button", name="Not taken").tap()
    expect(page.locator("#settled")).to_be_visible()
    page.goto(at("count-bin", colours[0].pk))
    row(page, colours[0]).locator("[name=found]").fill("179")
    row(page, colours[0]).get_by_role("button", name="Count").tap()
    expect(page.locator("#form")).to_contain_text("179 counted, the ledger says 180: 1 fewer.")
    page.get_by_role("button", name="It is so").tap()
    expect(page.locator(".outcome").first).to_contain_text("1 fewer")
    assert [here(item) for item in [*colours[:3], pole]] == [179, 0, 300, 7]
    assert Reservation.objects.get().state == "settled"


def test_whoever_picks_weeks_before_is_asked_first_without_script(phone, planner, pole, colours):
    later = promise({stocked(pole, 4): 4}, starts_in=30)
    promise({pole: 2}, starts_in=10, label="0043 Regatta")
    page = phone(planner, java_script_enabled=False).new_page()
    page.goto(at("pick", later.pk))
    page.locator("#next button").tap()
    expect(row(page, pole)).to_contain_text("Take them now all the same?")
    assert out(later, pole) == 0
    row(page, pole).get_by_role("button", name="Take them now").tap()
    expect(page.locator(".outcome").first).to_contain_text("4 of 4 picked.")
    assert out(later, pole) == 4


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_pages_are_accessible_and_fit_a_narrow_phone(phone, planner, over, colours, scheme):
    promise({colours[4]: 10}, label="0043 Regatta with a long name that does not end soon")
    promise({colours[5]: 10}, label="0044 Untold", starts_in=-4)
    page = phone(planner, color_scheme=scheme, service_workers="block").new_page()
    fresh = Reservation.objects.get(label__startswith="0043")
    paths = [at("store-work"), at("pick", fresh.pk), at("pick", over.pk), at("return", over.pk), at("settle", over.pk)]
    paths += [at("count"), at("count-bin", colours[0].pk), at("ledger", colours[0].pk)]
    paths += [at("ledger-correct", colours[0].pk), at("item", colours[0].pk)]
    wrong = []
    for path in paths:
        page.set_viewport_size({"width": 390, "height": 844})
        page.goto(path)
        for summary in page.locator("main details:not([open]) > summary").all()[:2]:
            summary.tap()
        wrong += [f"{path}: {fault}" for fault in faults(page)]
        for width in (390, 320):
            page.set_viewport_size({"width": width, "height": 640})
            if overflow(page):
                wrong.append(f"{path}: wider than {width}")
        assert page.locator(".btn:not(.second):not(.harm):not(.quiet):visible").count() <= 1, path
    assert not wrong, "\n".join(wrong)


def test_the_list_on_paper_has_boxes_to_tick(phone, planner, fair, colours):
    page = phone(planner, service_workers="block").new_page()
    picking.pick(reservation=fair, item=colours[0], quantity=120)
    page.goto(at("pick", fair.pk))
    page.emulate_media(media="print")
    boxes = page.locator(".box")
    sizes = boxes.evaluate_all("all => all.map(box => box.getBoundingClientRect().width)")
    assert len(sizes) == 7 and all(abs(size - 6 / 25.4 * 96) < 0.6 for size in sizes), "6 mm"
    assert page.locator(".box .mk").evaluate_all("all => all.filter(mark => mark.checkVisibility()).length") == 1
    for hidden in (".tabs", ".act", ".pick-acts", "#find-form", "#phone"):
        expect(page.locator(hidden).first).to_be_hidden()
