"""The names that checks from outside call: kept importable, called as they were promised, with their meanings."""

import inspect
import itertools
import math
import threading
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from django.db import connection
from django.utils import timezone

from decor.calc.physics import balloons, gas
from decor.calc.physics.atmosphere import standard_air
from decor.calc.picture import matching
from decor.calc.picture.chart import Chart
from decor.calc.picture.colour import delta_e_2000, srgb_to_lab
from decor.calc.picture.lattice import Lattice
from decor.calc.picture.sampling import sample
from decor.calc.pieces.clusters import layer_spacing_m
from decor.calc.pieces.curves import arc_length_m
from inventory import availability, services
from inventory.models import Hardware, Item, Latex, Lot
from tests.calc.reference import rows

CYLINDER = {"water_volume_m3": 0.05, "gauge_pressure_pa": 200e5 - 101325, "temperature_k": 288.15}


@pytest.mark.parametrize(
    ("call", "promised"),
    [
        (standard_air, "(altitude_m=0.0, temperature_k=None)"),
        (gas.helium_density_kg_per_m3, "(pressure_pa, temperature_k)"),
        (gas.helium_lift_kg_per_m3, "(air)"),
        (
            gas.cylinder_free_gas_m3,
            "(*, water_volume_m3, gauge_pressure_pa, temperature_k, residual_gauge_pa=0.0,"
            " delivered_pressure_pa=101325.0, delivered_temperature_k=288.15)",
        ),
        (balloons.volume_m3, "(diameter_m, elongation=1.0)"),
        (balloons.net_lift_kg, "(*, diameter_m, latex_mass_kg, air, elongation=1.0)"),
        (arc_length_m, "(kind, span_m, height_m)"),
        (layer_spacing_m, "(balloons, diameter_m, squeeze=0.0)"),
        (srgb_to_lab, "(rgb)"),
        (delta_e_2000, "(lab_a, lab_b)"),
        (Lattice, "(kind, rows, columns, pitch_m, row_pitch_m=None)"),
        (sample, "(image_srgb, lattice)"),
        (matching.match, "(cells_srgb, palette_srgb, *, stock=None)"),
        (Chart, "(cells, lattice)"),
        (availability.free, "(item_ids, starts, ends, *, now=None, exclude=None)"),
        (services.reservation_hold, "(*, lines, starts, ends, label, expires)"),
        (services.reservation_confirm, "(*, reservation)"),
        (services.reservation_release, "(*, reservation)"),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_called_as_promised(call, promised):
    """Whatever else a call takes besides, it must be able to do without."""
    names = {name.split("=")[0].strip("(* )") for name in promised.split(",")}
    given = [one.replace(annotation=inspect.Parameter.empty) for one in inspect.signature(call).parameters.values()]
    assert str(inspect.Signature([one for one in given if one.name in names])) == promised
    assert all(one.default is not one.empty for one in given if one.name not in names)


@pytest.mark.parametrize("row", rows("isa1976.csv"), ids=lambda row: row["geometric_m"])
def test_standard_air_from_below_the_sea(row):
    air = standard_air(altitude_m=float(row["geometric_m"]))
    assert air.temperature_k == pytest.approx(float(row["T_K"]), abs=6e-5)
    assert air.pressure_pa == pytest.approx(float(row["P_Pa"]), rel=1e-6)
    assert air.density_kg_per_m3 == pytest.approx(float(row["rho_kg_m3"]), rel=1e-6)


@pytest.mark.parametrize("row", rows("atmosphere_layers.csv"), ids=lambda row: row["geopotential_m"])
def test_standard_air_above_11_km(row):
    """The rows stand at geopotential altitudes; `altitude_m` is the geometric one. They are printed with a gas
    constant of 287.0531 J/(kg K), ours is 287.0529 as in ISO 2533: 8 parts in a million at the highest row."""
    height_m, radius_m = float(row["geopotential_m"]), 6_356_766.0
    air = standard_air(radius_m * height_m / (radius_m - height_m))
    assert air.temperature_k == pytest.approx(float(row["T_K"]), abs=1e-6)
    assert air.pressure_pa == pytest.approx(float(row["P_Pa"]), rel=8e-6)
    assert air.density_kg_per_m3 == pytest.approx(float(row["rho_kg_m3"]), abs=1.1e-6)


def test_standard_air_at_a_given_temperature():
    outside, hall = standard_air(1600.0), standard_air(1600.0, 303.15)
    assert hall.pressure_pa == outside.pressure_pa and hall.temperature_k == 303.15
    assert hall.density_kg_per_m3 == pytest.approx(outside.density_kg_per_m3 * outside.temperature_k / 303.15)
    assert standard_air() == standard_air(0.0, 288.15)


def test_helium_density_over_the_whole_reference():
    for row in rows("helium_reference.csv"):
        got = gas.helium_density_kg_per_m3(float(row["P_Pa"]), float(row["T_K"]))
        assert got == pytest.approx(float(row["rho_he_kg_m3"]), rel=2e-5, abs=6e-7), row


@pytest.mark.parametrize("row", rows("venue_lift.csv"), ids=lambda row: f"{row['altitude_m']} {row['T_K']}")
def test_helium_lift_at_a_venue(row):
    air = standard_air(float(row["altitude_m"]), float(row["T_K"]) if row["T_K"] else None)
    # The hall's reference takes the air as a real gas, up to 0.05 % denser.
    within = 6e-4 if row["T_K"] else 3e-6
    assert gas.helium_lift_kg_per_m3(air) * 1000 == pytest.approx(float(row["lift_g_m3"]), rel=within)


def test_cylinder_with_a_residual():
    for row in rows("cylinders_residual.csv"):
        got = gas.cylinder_free_gas_m3(**CYLINDER, residual_gauge_pa=float(row["residual_bar"]) * 1e5 - 101325)
        assert got == pytest.approx(float(row["free_m3"]), abs=2e-4)
    assert gas.cylinder_free_gas_m3(**CYLINDER, residual_gauge_pa=CYLINDER["gauge_pressure_pa"]) == 0.0


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"water_volume_m3": 0.0}, "water_volume_m3"),
        ({"gauge_pressure_pa": 600e5}, "gauge_pressure_pa"),
        ({"gauge_pressure_pa": math.nan}, "gauge_pressure_pa"),
        ({"temperature_k": 500.0}, "temperature_k"),
        ({"residual_gauge_pa": 201e5}, "residual_gauge_pa"),
        ({"delivered_pressure_pa": 0.0}, "delivered_pressure_pa"),
        ({"delivered_pressure_pa": 600e5}, "delivered_pressure_pa"),
        ({"delivered_temperature_k": 0.0}, "delivered_temperature_k"),
    ],
)
def test_a_bad_cylinder_is_refused_by_the_arguments_own_name(changed, named):
    with pytest.raises(ValueError, match=rf"^{named} must"):
        gas.cylinder_free_gas_m3(**(CYLINDER | changed))


@pytest.mark.parametrize("row", rows("spheres.csv"), ids=lambda row: row["d_in"])
def test_volume_and_net_lift(row):
    diameter_m, air = float(row["d_in"]) * 0.0254, standard_air(0.0, 293.15)
    assert balloons.volume_m3(diameter_m) * 1000 == pytest.approx(float(row["volume_l"]), abs=6e-5)
    assert balloons.volume_m3(diameter_m, 1.25) == pytest.approx(1.25 * balloons.volume_m3(diameter_m))
    lift_kg = balloons.net_lift_kg(diameter_m=diameter_m, latex_mass_kg=0.0, air=air)
    assert lift_kg * 1000 == pytest.approx(float(row["lift_20C_g"]), rel=5e-4, abs=6e-5)
    longer = balloons.net_lift_kg(diameter_m=diameter_m, latex_mass_kg=0.001, air=air, elongation=1.2)
    assert longer == pytest.approx(1.2 * lift_kg - 0.001)


def test_five_inches_do_not_lift_themselves_high_up_in_the_warm():
    """A ball of 0.127 m weighing 1.0 g has a tenth of a gram to spare at the sea's level, and none at 1,600 m."""
    sea, high = standard_air(0.0, 293.15), standard_air(1600.0, 303.15)
    assert 0 < balloons.net_lift_kg(diameter_m=0.127, latex_mass_kg=0.001, air=sea) < 0.0002
    assert balloons.net_lift_kg(diameter_m=0.127, latex_mass_kg=0.001, air=high) < 0


@pytest.mark.parametrize("row", rows("arcs.csv"), ids=lambda row: f"{row['kind']}-{row['span_m']}-{row['height_m']}")
def test_arcs(row):
    got = arc_length_m(row["kind"], float(row["span_m"]), float(row["height_m"]))
    assert got == pytest.approx(float(row["length_m"]), abs=6e-10)


@pytest.mark.parametrize("kind", ["parabola", "catenary", "half-ellipse", "circular"])
def test_arcs_flat_barely_risen_and_higher_than_wide(kind):
    assert arc_length_m(kind, 4.0, 0.0) == 4.0
    heights = [0.0, 1e-9, 1e-6, 1e-3, 0.1, 2.0, 4.0, 40.0, 4e5]
    lengths = [arc_length_m(kind, 4.0, height_m) for height_m in heights]
    # A nanometre of height is lost in the last digit of a double, and no more than that.
    assert all(shorter <= longer * (1 + 1e-15) for shorter, longer in itertools.pairwise(lengths))
    assert lengths[1] == pytest.approx(4.0, rel=1e-12) and lengths[3] > 4.0
    assert all(
        length >= 2 * math.hypot(2.0, height_m) * (1 - 1e-14) for length, height_m in zip(lengths, heights, strict=True)
    )
    with pytest.raises(ValueError, match=r"^height_m"):
        arc_length_m(kind, 4.0, -1.0)
    with pytest.raises(ValueError, match=r"^kind"):
        arc_length_m("spline", 4.0, 1.0)


@pytest.mark.parametrize("row", rows("antiprisms.csv"), ids=lambda row: row["corners"])
def test_layer_spacing(row):
    balloons_in_it, unit = int(row["corners"]), float(row["distance"])
    assert layer_spacing_m(balloons_in_it, 0.25) == pytest.approx(0.25 * unit, rel=1e-11)
    for squeeze in (0.0, 0.1, 0.5, 1.0):
        assert layer_spacing_m(balloons_in_it, 1.0, squeeze) == pytest.approx(unit * (1 - squeeze), rel=1e-11)


@pytest.mark.parametrize("balloons_in_it", [1, 3.5, math.nan, math.inf, True])
def test_layer_spacing_names_a_bad_cluster(balloons_in_it):
    with pytest.raises(ValueError, match=r"^balloons"):
        layer_spacing_m(balloons_in_it, 0.25)


def test_lab_and_its_shape():
    known = rows("srgb_lab.csv")
    rgb = np.array([list(bytes.fromhex(row["hex"])) for row in known]) / 255
    lab = np.array([[float(row[axis]) for axis in "Lab"] for row in known])
    np.testing.assert_allclose(srgb_to_lab(rgb), lab, rtol=0, atol=0.03)
    assert srgb_to_lab(rgb.reshape(1, -1, 1, 3)).shape == (1, len(known), 1, 3)
    np.testing.assert_allclose(srgb_to_lab([1.0, 1.0, 1.0]), [100, 0, 0], atol=0.01)


def test_delta_e_on_the_published_pairs_and_its_broadcasting():
    pairs = rows("ciede2000_sharma2005.csv")
    assert len(pairs) == 34
    one, other = ([[float(row[axis + number]) for axis in "Lab"] for row in pairs] for number in "12")
    published = [float(row["dE"]) for row in pairs]
    np.testing.assert_allclose(delta_e_2000(one, other), published, rtol=0, atol=1e-4)
    table = delta_e_2000(np.array(one)[:, None], np.array(other)[None])
    assert table.shape == (34, 34)
    np.testing.assert_allclose(np.diag(table), published, rtol=0, atol=1e-4)


@pytest.mark.parametrize("kind", ["square", "offset", "hex"])
@pytest.mark.parametrize(("rows_in_it", "columns"), [(1, 1), (1, 5), (5, 1), (4, 3)])
def test_lattice(kind, rows_in_it, columns):
    lattice = Lattice(kind, rows_in_it, columns, 0.2)
    step_m = 0.2 * math.sqrt(3) / 2 if kind == "hex" else 0.2
    shift_m = 0.0 if kind == "square" else 0.1
    expected = [(c * 0.2 + (r % 2) * shift_m, r * step_m) for r in range(rows_in_it) for c in range(columns)]
    np.testing.assert_allclose(lattice.centres_m(), expected, atol=1e-12)
    across, down = np.ptp(lattice.centres_m(), axis=0)
    assert lattice.width_m == pytest.approx(across + 0.2) and lattice.height_m == pytest.approx(down + step_m)
    assert Lattice(kind, rows_in_it, columns, 0.2, 0.3).height_m == pytest.approx(rows_in_it * 0.3)


@pytest.mark.parametrize("kind", ["square", "offset", "hex"])
@pytest.mark.parametrize(("rows_in_it", "columns"), [(1, 1), (1, 5), (5, 1), (5, 4)])
def test_neighbours_once_each_the_low_number_first(kind, rows_in_it, columns):
    """Two cells touch when their centres are no further apart than the pitch, on a lattice stretched to hex."""
    lattice = Lattice(kind, rows_in_it, columns, 1.0)
    even = Lattice("square" if kind == "square" else "hex", rows_in_it, columns, 1.0).centres_m()
    apart = np.hypot(*np.moveaxis(even[:, None] - even[None], -1, 0))
    near = {(low, high) for low, high in np.argwhere(apart < 1.001).tolist() if low < high}
    found = [tuple(pair) for pair in lattice.neighbours().tolist()]
    assert lattice.neighbours().shape == (len(near), 2)
    assert len(found) == len(set(found)) and set(found) == near


def test_sample_averages_light_and_not_codes():
    linear = {int(row["code"]): float(row["linear"]) for row in rows("srgb_linear.csv")}
    for code, light in linear.items():
        image = np.array([[[0, 0, 0], [code, code, code]]], dtype=np.uint8)
        mixed = float(sample(image, Lattice("square", 1, 1, 0.1))[0, 0])
        back = ((mixed + 0.055) / 1.055) ** 2.4 if mixed > 0.04045 else mixed / 12.92
        assert back == pytest.approx(light / 2, abs=1e-7)


@pytest.mark.parametrize("kind", ["square", "offset", "hex"])
@pytest.mark.parametrize("size", [(1, 1), (1, 7), (7, 1), (13, 5)])
@pytest.mark.parametrize("cells", [(1, 1), (1, 6), (6, 1), (9, 4)])
def test_sample_of_pictures_and_lattices_of_any_size(kind, size, cells):
    one_colour = np.full((*size, 3), (200, 11, 254), dtype=np.uint8)
    got = sample(one_colour, Lattice(kind, *cells, 0.1))
    assert got.shape == (cells[0] * cells[1], 3)
    np.testing.assert_allclose(got, np.array([[200, 11, 254]] * len(got)) / 255, atol=2e-6)


def test_match_with_stock_for_every_cell_and_not_one_more():
    rng = np.random.default_rng(5)
    cells, palette = rng.random((6, 3)), rng.random((3, 3))
    cost = delta_e_2000(srgb_to_lab(cells)[:, None], srgb_to_lab(palette)[None])
    ways = set(itertools.permutations([0, 0, 1, 1, 1, 2]))
    got = matching.match(cells, palette, stock=[2, 3, 1])
    assert got.shape == (6,) and np.bincount(got).tolist() == [2, 3, 1]
    assert cost[range(6), got].sum() == pytest.approx(min(cost[range(6), way].sum() for way in ways), abs=6e-4)


def test_match_to_one_colour_and_with_nothing_scarce():
    cells = np.random.default_rng(6).random((20, 3))
    assert matching.match(cells, [[0.2, 0.3, 0.4]]).tolist() == [0] * 20
    assert matching.match(cells, [[0.2, 0.3, 0.4]], stock=[20]).tolist() == [0] * 20
    assert matching.match(cells, cells).tolist() == list(range(20))


def test_too_little_stock_says_by_how_much():
    with pytest.raises(matching.NotEnoughStock) as refused:
        matching.match(np.zeros((10, 3)), [[0, 0, 0], [1, 1, 1]], stock=[4, 3])
    assert refused.value.short_by == 3


def test_chart_counts_and_runs():
    chart = Chart(np.array([[-1, -1, 0], [1, 1, 1], [-1, -1, -1]]), Lattice("offset", 3, 3, 0.1))
    assert chart.counts() == {0: 1, 1: 3}
    assert [chart.runs(row) for row in range(3)] == [[(-1, 2), (0, 1)], [(1, 3)], [(-1, 3)]]
    for row in (-1, 3):
        with pytest.raises(ValueError, match=r"^row"):
            chart.runs(row)


def moment(day: int, hour: int = 0) -> datetime:
    """An hour of a day far enough ahead that every hold below is still alive, counted from 1 May 2041."""
    return datetime(2041, 5, 1, hour, tzinfo=UTC) + timedelta(days=day)


LATER = datetime(2041, 1, 1, tzinfo=UTC)


@pytest.fixture
def poles(db) -> Hardware:
    poles = Hardware.objects.create(kind=Item.Kind.HARDWARE, name="Pole, 2 m", purpose="pole", returnable=True)
    Lot.objects.create(item=poles, quantity=10, arrives_on=date(2024, 1, 10))
    return poles


@pytest.fixture
def sky(db) -> Latex:
    sky = Latex.objects.create(kind=Item.Kind.LATEX, name="5 in sky", nominal_in=5, colour="sky", rgb="#7db3d8")
    Lot.objects.create(item=sky, quantity=100, arrives_on=date(2024, 1, 10))
    return sky


def hold(item, quantity, starts, ends, expires=LATER):
    return services.reservation_hold(
        lines=[(item.pk, quantity)], starts=starts, ends=ends, label="Quay fair", expires=expires
    )


def free(item, starts, ends):
    return availability.free([item.pk], starts, ends)[item.pk]


def test_free_is_what_is_left_at_the_peak_and_not_after_the_sum(poles):
    hold(poles, 4, moment(0), moment(1))
    hold(poles, 3, moment(2), moment(3))
    assert free(poles, moment(0), moment(3)) == 6
    hold(poles, 5, moment(0, 12), moment(2, 12))
    assert free(poles, moment(0), moment(3)) == 1
    assert free(poles, moment(1), moment(2)) == 5


def test_spans_are_half_open(poles):
    hold(poles, 10, moment(1), moment(2))
    assert free(poles, moment(0), moment(1)) == free(poles, moment(2), moment(3)) == 10
    assert free(poles, moment(1), moment(2)) == 0
    assert free(poles, moment(2) - timedelta(seconds=1), moment(3)) == 0
    assert hold(poles, 10, moment(2), moment(3)) and hold(poles, 10, moment(0), moment(1))


def test_a_consumable_is_used_up_for_good(sky):
    hold(sky, 60, moment(1), moment(2))
    assert free(sky, moment(5), moment(6)) == 40
    assert free(sky, moment(0), moment(1)) == 40  # what is promised for tomorrow can't be used up today


def test_free_of_several_items_and_of_none(poles, sky):
    assert availability.free([sky.pk, poles.pk], moment(0), moment(1)) == {sky.pk: 100, poles.pk: 10}
    assert availability.free([], moment(0), moment(1)) == {}
    with pytest.raises(ValueError, match=r"^item_ids"):
        availability.free([sky.pk + 999], moment(0), moment(1))


@pytest.mark.parametrize(
    ("starts", "ends", "named"),
    [
        (datetime(2041, 5, 1), moment(1), "starts"),
        (moment(0), datetime(2041, 5, 2), "ends"),
        (moment(1), moment(1), "ends"),
        (moment(1), moment(0), "ends"),
    ],
)
def test_spans_without_a_zone_or_a_length_are_refused(poles, starts, ends, named):
    with pytest.raises(ValueError, match=f"^{named}"):
        availability.free([poles.pk], starts, ends)
    with pytest.raises(ValueError, match=f"^{named}"):
        hold(poles, 1, starts, ends)


def test_all_or_nothing_and_every_short_line_is_named(poles, sky):
    with pytest.raises(services.Shortage) as refused:
        services.reservation_hold(
            lines=[(sky.pk, 100), (poles.pk, 12)], starts=moment(0), ends=moment(1), label="Quay fair", expires=LATER
        )
    [line] = refused.value.lines
    assert (line.item_id, line.asked, line.free, line.short) == (poles.pk, 12, 10, 2)
    assert free(sky, moment(0), moment(1)) == 100


def test_confirmed_stays_released_and_lapsed_do_not(poles):
    held = hold(poles, 10, moment(0), moment(1), expires=timezone.now() + timedelta(hours=1))
    assert services.reservation_confirm(reservation=held).state == "confirmed"
    assert free(poles, moment(0), moment(1)) == 0
    assert services.reservation_release(reservation=held).state == "released"
    assert free(poles, moment(0), moment(1)) == 10
    lapsed = hold(poles, 10, moment(0), moment(1), expires=timezone.now() - timedelta(seconds=1))
    assert free(poles, moment(0), moment(1)) == 10
    hold(poles, 1, moment(0), moment(1))
    with pytest.raises(services.Shortage):
        services.reservation_confirm(reservation=lapsed)


@pytest.mark.django_db(transaction=True)
def test_two_at_once_on_the_last_ones(poles):
    start, got = threading.Barrier(2), []

    def ask():
        start.wait()
        try:
            got.append(hold(poles, 6, moment(0), moment(1)).state)
        except services.Shortage as refused:
            got.append(refused.lines[0].short)
        finally:
            connection.close()

    both = [threading.Thread(target=ask) for _ in range(2)]
    for act in (threading.Thread.start, threading.Thread.join):
        list(map(act, both))
    assert sorted(map(str, got)) == ["2", "hold"]
    assert free(poles, moment(0), moment(1)) == 4
