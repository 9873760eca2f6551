"""What will not work is refused in words that tell what to change."""

from __future__ import annotations

import pytest
from installed import BATTERY, LINE, SINGLE, ZONE, installed

from controller.building.conductors import conductor
from controller.electrics.figures import Finding
from controller.electrics.findings import findings
from controller.electrics.load import Closing, Played
from controller.electrics.runs import lost_bunched
from controller.electrics.wire import ohms

S = 1_000_000_000
DAY = 86_400 * S
FORTY = LINE.replace("dials = 22", "dials = 40")


def found(*texts: str, played: Played | None = None) -> tuple[Finding, ...]:
    return findings(installed(*texts), played)


def only(*texts: str, played: Played | None = None) -> Finding:
    (one,) = found(*texts, played=played)
    return one


def test_forty_dials_at_the_end_of_a_long_thin_cable():
    one = only(BATTERY, FORTY + 'run_metres = 400\nwire = "0.5 mm2"\n')
    assert one == (
        "lines.main",
        "volts",
        "40 dials, 0.48 A, at the end of 400 m of 0.5 mm²: where the supply is down to 21 V, the "
        "last has 6.09 V and needs 18 V. Take 4 mm² or thicker, or a supply no farther than 80 m "
        "of cable away, or no more than 8 dials on this run.",
    )


def test_what_it_tells_to_take_is_enough():
    # 0.48 A in wire of 40 °C: 400 m of 4 mm², and 80 m of 0.5 mm², lose no more than 3 V
    for wire, metres in (("4 mm2", 400), ("0.5 mm2", 80)):
        assert found(BATTERY, FORTY + f'run_metres = {metres}\nwire = "{wire}"\n') == ()
        assert lost_bunched(0.48, 2 * ohms(conductor(wire), metres, 40)) < 3
    for wire, metres in (("2.5 mm2", 400), ("0.5 mm2", 81)):
        assert lost_bunched(0.48, 2 * ohms(conductor(wire), metres, 40)) > 3
    # and 8 dials of 12 mA, where 9 would lose more
    thin = 'run_metres = 400\nwire = "0.5 mm2"\n'
    assert found(BATTERY, FORTY.replace("dials = 40", "dials = 8") + thin) == ()
    assert found(BATTERY, FORTY.replace("dials = 40", "dials = 9") + thin) != ()


def test_fewer_dials_are_told_of_those_spread_along_it_too():
    run = 'run_metres = 400\nwire = "0.5 mm2"\nspread = true\n'
    # by hand: 0.012 A × 31.06 Ω × (n + 1) / 2 is no more than 3 V up to n = 15
    assert "or no more than 15 dials on this run." in only(BATTERY, FORTY + run).says
    assert found(BATTERY, FORTY.replace("dials = 40", "dials = 15") + run) == ()
    assert found(BATTERY, FORTY.replace("dials = 40", "dials = 16") + run) != ()


def test_no_remedy_is_told_that_is_none():
    """One bell alone loses too much: fewer would not do; nor would a metre's reach."""
    bell = ZONE.replace("bells = 6", "bells = 2").replace("0.25", "2.0")
    run = 'run_metres = 100\nwire = "0.75 mm2"\nleast_volts = 20.9\n'
    says = only(BATTERY, bell + run).says
    assert says.endswith("mends that. Feed it from a supply beside it.")
    assert "0 m" not in says.replace("100 m", "")


def test_a_hair_too_little_is_not_told_as_enough():
    # by hand: 21 V − 0.264 A × 2 × 146.5 m × 36.0 Ω/km × 1.0786 / 1000 = 17.9964 V
    says = only(BATTERY, LINE + 'run_metres = 146.5\nwire = "0.5 mm2"\n').says
    assert "the last has 17.996 V and needs 18 V" in says


def test_the_same_dials_spread_along_it_lose_half():
    run = 'run_metres = 130\nwire = "0.5 mm2"\n'
    assert only(BATTERY, FORTY + run).what == "volts"
    assert found(BATTERY, FORTY + run + "spread = true\n") == ()


def test_sizes_by_awg_are_answered_in_awg():
    says = only(BATTERY, FORTY + 'run_metres = 400\nwire = "22 AWG stranded"\n').says
    assert "Take 12 AWG stranded or thicker" in says


def test_where_no_wire_mends_it_the_supply_must_come_nearer():
    says = only(BATTERY, FORTY + 'run_metres = 3000\nwire = "0.5 mm2"\n').says
    assert "No thicker wire that is to be had mends that" in says
    assert "Take a supply no farther than 80 m of cable away, or no more than 1 dial" in says


def test_where_the_supply_itself_falls_too_low_no_wire_is_blamed():
    says = only(BATTERY, LINE + 'run_metres = 5\nwire = "4 mm2"\nleast_volts = 22.0\n').says
    assert "the supply itself falls too low" in says


def test_a_return_that_zones_share_has_the_sum_of_their_currents():
    south = ZONE.replace("north", "south").replace("17", "18")
    run = 'run_metres = 20\nwire = "1.5 mm2"\nshares_return = "attic"\n'
    back = '[returns.attic]\nmetres = 60\nwire = "1 mm2"\n'
    both = found(BATTERY, ZONE + run, south + run, back)
    assert [one.circuit for one in both] == ["zones.north", "zones.south"]
    assert (
        "The return attic alone, shared by zones.north, zones.south, loses 3.51 V" in both[0].says
    )
    assert found(BATTERY, ZONE + run, back) == (), "one zone alone is carried"


def test_what_it_tells_of_a_shared_return_is_enough():
    south = ZONE.replace("north", "south").replace("17", "18")
    run = 'run_metres = 20\nwire = "1.5 mm2"\n'
    shared, back = run + 'shares_return = "attic"\n', '[returns.attic]\nmetres = 60\nwire = "%s"\n'
    says = found(BATTERY, ZONE + shared, south + shared, back % "1 mm2")[0].says
    assert "Give zones.north a return of its own, both its wires 1.5 mm² or thicker, or " in says
    assert "or make the return 1.5 mm² or thicker." in says
    assert found(BATTERY, ZONE + shared, south + shared, back % "1.5 mm2") == ()
    assert found(BATTERY, ZONE + run, south + shared, back % "1 mm2") == ()


def test_a_run_of_its_own_that_must_be_thicker_is_told_with_its_return():
    run = 'run_metres = 70\nwire = "1 mm2"\n'
    south = ZONE.replace("north", "south").replace("17", "18") + 'run_metres = 5\nwire = "4 mm2"\n'
    share = 'shares_return = "attic"\n'
    back = '[returns.attic]\nmetres = 70\nwire = "0.5 mm2"\n'
    says = found(BATTERY, ZONE + run + share, south + share, back)[0].says
    # by hand: 1.5 A × 2 × 70 m × 1.0786 lose 4.10 V of 1 mm² (18.1 Ω/km), 2.74 V of 1.5 mm² (12.1)
    assert "both its wires 1.5 mm² or thicker" in says
    assert found(BATTERY, ZONE + run.replace("1 mm2", "1.5 mm2")) == ()
    assert found(BATTERY, ZONE + run) != ()


def test_without_length_or_wire_nothing_is_found_of_volts():
    assert found(BATTERY, FORTY) == ()
    assert found(BATTERY, FORTY + "run_metres = 4000\n") == ()


# ── in series ────────────────────────────────────────────────────────────────────────────────────

SERIES = SINGLE + 'wired = "series"\n'
RUN = 'run_metres = 80\nwire = "1 mm2"\n'


def test_a_line_in_series_is_never_put_straight_on_the_supply():
    says = only(SERIES).says
    assert "never put them straight on 24 V" in says
    assert "Measure and set ohms of each dial" in says


def test_its_resistor_is_told():
    one = only(SERIES + RUN + "ohms_each = 15.0\n")
    assert one.what == "series"
    # by hand: 120 Ω for 0.2 A of 24 V, less 60 Ω of coils and 2.896 Ω of wire
    assert "straight on 24 V they would take 0.382 A instead of 0.2 A. Fit 57.1 Ω for" in one.says


def test_with_it_nothing_is_found():
    assert found(SERIES + RUN + "ohms_each = 15.0\nresistor_ohms = 57.0\n") == ()


def test_a_resistor_that_sets_another_current_is_found():
    says = only(SERIES + RUN + "ohms_each = 15.0\nresistor_ohms = 20.0\n").says
    assert "with its 20 Ω it takes 0.29 A on float instead of 0.2 A. Fit 57.1 Ω" in says


def test_more_dials_than_the_supply_drives():
    says = only(SERIES + RUN + "ohms_each = 40.0\n").says
    assert "24 V drive no more than 0.147 A" in says
    assert "Split the line in two, or give it a supply of 32.6 V" in says


def test_a_line_in_series_that_is_weak_at_the_batterys_end():
    says = only(BATTERY, SERIES + RUN + "ohms_each = 15\nresistor_ohms = 73\nleast_volts = 2.6\n")
    assert "each of its 4 dials has 2.31 V and needs 2.6 V" in says.says


# ── fuses ────────────────────────────────────────────────────────────────────────────────────────


def test_a_fuse_that_does_not_protect_its_wire():
    says = only(ZONE + 'wire = "18 AWG"\nfuse_amps = 10\n').says
    assert says.startswith("a fuse of 10 A does not protect 18 AWG. Fit 7 A or less")


def test_a_fuse_that_would_open_by_itself():
    says = only(ZONE + "fuse_amps = 1.6\n").says
    assert "it draws 1.5 A, more than three quarters of its fuse of 1.6 A" in says
    assert "Fit 2 A, if the wire bears it" in says


def test_a_short_at_the_end_of_thin_wire_that_no_fuse_sees():
    run = 'run_metres = 220\nwire = "0.75 mm2"\nspread = true\n'
    says = only(BATTERY, LINE + run + "fuse_amps = 1.0\n").says
    assert "draws only 1.81 A" in says
    assert "needs 2 A to open within 5 s. Fit 0.8 A." in says
    assert found(BATTERY, LINE + run + "fuse_amps = 0.8\n") == ()


def test_a_return_thinner_than_the_fuses_that_share_it():
    south = ZONE.replace("north", "south").replace("17", "18")
    run = 'run_metres = 5\nwire = "1.5 mm2"\nshares_return = "attic"\nfuse_amps = 5\n'
    back = '[returns.attic]\nmetres = 5\nwire = "18 AWG"\n'
    one = only(ZONE + run, south + run, back)
    assert one.circuit == "returns.attic"
    assert "let 10 A through, and 18 AWG may have 7 A" in one.says
    main = BATTERY + "fuse_amps = 6.3\n"
    assert found(main, ZONE + run, south + run, back) == (), "the main fuse protects it"


# ── contacts ─────────────────────────────────────────────────────────────────────────────────────


def test_a_contact_rated_for_less_than_the_boost_charge():
    says = only(BATTERY, ZONE, "[relays]\nvolts = 24.0\n").says
    assert "may break 24 V DC, and the supply gives up to 29.4 V" in says


def test_a_contact_rated_for_less_than_its_zone_draws():
    says = only(BATTERY, ZONE, "[relays]\namps = 1.5\n").says
    assert "it draws up to 1.84 A, and its contact may break 1.5 A" in says


def test_a_contact_that_closes_on_a_capacitor():
    says = only(BATTERY, ZONE, "[relays]\nmake_amps = 2.5\n").says
    assert "closes on up to 3.06 A" in says
    fitted = ZONE + 'suppressor = "varistor"\n'
    assert found(BATTERY, fitted, "[relays]\nmake_amps = 2.5\n") == ()


# ── suppressors ──────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("fitted", ["diode", "zener"])
def test_a_diode_across_an_alternating_line(fitted):
    says = only(BATTERY, LINE + f'suppressor = "{fitted}"\n').says
    assert "short-circuits every second impulse. Take it out; fit: bidirectional" in says


def test_a_diode_at_a_tremblers_terminals():
    says = only(BATTERY, ZONE + 'suppressor = "diode"\n').says
    assert "does not clamp the coil behind its interrupter" in says


def test_a_diode_suits_a_single_line_and_a_single_stroke_bell():
    gong = ZONE + 'kind = "single-stroke"\nsuppressor = "diode"\n'
    assert found(BATTERY, gong, SINGLE + 'suppressor = "diode"\n') == ()


def test_a_suppressor_that_the_boost_charge_would_heat():
    fitted = LINE + 'suppressor = "bidirectional"\nstand_off_volts = '
    says = only(BATTERY, fitted + "28\n").says
    assert "conducts from above 28 V, and the supply gives up to 29.4 V on boost" in says
    assert found(BATTERY, fitted + "30\n") == ()


def test_nothing_fitted():
    assert "Fit: diode, 400 V reverse" in only(BATTERY, SINGLE + 'suppressor = "none"\n').says


def test_coils_that_hold_on_longer_than_the_gap():
    slow = SINGLE + 'gap = "200ms"\nimpulse = "200ms"\nohms_each = 100.0\nhenries_each = 20.0\n'
    says = only(BATTERY, slow + 'suppressor = "diode"\n').says
    # by hand: τ = 0.2 s; ln((27.24 + 0.7) / (2.724 + 0.7)) = 2.099
    assert "hold on for 0.42 s" in says
    assert "Set a gap of 0.42 s or more, or fit a diode and a zener in series." in says
    zener = slow + 'suppressor = "zener"\nstand_off_volts = 30.0\n'
    assert found(BATTERY, zener) == ()


# ── supply, coils and battery ────────────────────────────────────────────────────────────────────


def test_a_gap_shorter_than_the_impulse_heats_coils_that_are_driven():
    says = only(LINE + 'impulse = "2s"\ngap = "1s"\n').says
    assert "their coils are on 67% of the time" in says


def test_above_a_published_limit_the_local_code_is_to_be_asked():
    says = [one.says for one in found(ZONE, "[supply]\nvolts = 48.0\n")]
    assert len(says) == 2
    assert all("Your local code decides" in one for one in says)


def test_cells_that_are_not_the_supplys_voltage():
    says = only(BATTERY, ZONE, "[supply]\nvolts = 12.0\n").says
    assert "12 cells are 24 V, and the supply is 12 V. Set cells to 6" in says


def test_a_main_fuse_that_opens_with_a_zones():
    says = only(BATTERY + "fuse_amps = 2.0\n", ZONE + "fuse_amps = 2.0\n").says
    assert "would put the whole house out" in says


def day_of(*closings: Closing) -> Played:
    return Played(0, DAY, closings)


RING = Closing("zones.north", 0, 10 * S)


def test_a_supply_that_does_not_give_what_is_always_on_beside_the_bells():
    says = only(BATTERY, ZONE, "[supply]\namps = 1.6\n", played=day_of(RING)).says
    assert "1.8 A are asked of it, with the 0.3 A that are always on, and it gives 1.6 A" in says
    assert "Set its amps to 1.3 A" in says


def test_a_main_fuse_smaller_than_the_worst_second():
    says = only(BATTERY + "fuse_amps = 2.0\n", ZONE, played=day_of(RING)).says
    assert "in its worst second it gives 1.8 A" in says
    assert "Fit 2.5 A" in says


def test_a_battery_that_does_not_last():
    small = BATTERY.replace("amp_hours = 26", "amp_hours = 7")
    one = only(small, ZONE, played=day_of(RING))
    assert one.circuit == "battery"
    # by hand, aged 5.6 Ah: 20 h × (0.28 / 0.3002)^1.2 = 18.4 h. 0.3 A, and 1.5 A for 10 s, are
    # 7.204 Ah a day; × 1.25 = 9.005 Ah
    assert "once aged, its 7 Ah carry 0.3 A for 18.4 h, and 24 h are wanted" in one.says
    assert "Take 9.01 Ah or more" in one.says
    assert found(BATTERY, ZONE, played=day_of(RING)) == ()


def test_what_is_not_known_is_not_found_wanting():
    unknown = ZONE.replace("amps_each = 0.25\n", "")
    assert found(BATTERY, unknown, played=day_of(RING)) == ()
    assert found(ZONE) == ()


def test_findings_are_in_the_order_of_the_file():
    bad = 'suppressor = "none"\n'
    south = ZONE.replace("north", "south").replace("17", "18")
    main, zone = BATTERY + "fuse_amps = 1\n", ZONE + bad + "fuse_amps = 2\n"
    order = [one.circuit for one in found(main, LINE + bad, zone, south + bad)]
    assert order == ["zones.north", "zones.south", "lines.main", "battery"]
