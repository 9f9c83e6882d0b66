//! Range, pressure, level and level error of worked examples, by the one balance.
//!
//! Every example of the file is either checked or listed with the reason why it is not.
//!
//! The source of each value stands in the `source` column of its file under `data`.

use crate::examples::{Example, examples};
use standpipe::physics::balance::{Balance, Leg, Seen, UpperTap};
use standpipe::physics::gravity;
use standpipe::physics::ranging::Range;
use standpipe::quantity::{
    AbsolutePressure, DifferentialPressure, Dimension, find, kilograms_per_cubic_metre, metres,
    metres_per_second_squared, parse,
};

/// Relative density in the printed examples counts from conventional water, as their inches of water do.
const WATER_KG_M3: f64 = 1000.0;

type Check = fn(&Example);

const CHECKS: &[(&str, Check)] = &[
    ("R01", oil_column),
    ("R02", castor_oil),
    ("R03", ethanol_in_feet),
    ("R04", heptane),
    ("R05", open_tank_in_inches),
    ("R06", open_tank_in_inches),
    ("R07", open_tank_in_inches),
    ("R08", wet_leg_in_inches),
    ("R09", in_millimetres_of_water),
    ("R10", in_millimetres_of_water),
    ("R11", seal_on_an_open_vessel),
    ("R12", tap_above_the_transmitter),
    ("M01", ethanol),
    ("M02", dam),
    ("D01", ranged),
    ("D02", ranged),
    ("D03", ranged),
    ("D04", ranged),
    ("D05", ranged),
    ("D06", ranged),
    ("D07", ranged),
    ("D08", ranged),
    ("D09", ranged),
    ("D10", ranged),
    ("D18", wrong_density),
    ("D19", hot_water),
    ("D20", wet_leg_half_lost),
    ("D21", condensate_in_a_dry_leg),
    ("D22", warm_wet_leg),
    ("D23", barometer_moved),
    ("D24", wrong_inch_of_water),
];

/// What is checked through the real program, and where.
const ELSEWHERE: &[(&str, &str)] = &[
    ("D11", "hookups::the_gas_column_of_a_dip_tube_counts"),
    ("D12", "hookups::the_gas_column_of_a_dip_tube_counts"),
    ("D13", "hookups::the_boundary_of_two_liquids_is_the_level"),
    ("D14", "hookups::the_boundary_of_two_liquids_is_the_level"),
    (
        "D15",
        "hookups::density_level_and_mass_from_three_pressures",
    ),
    (
        "D16",
        "hookups::density_level_and_mass_from_three_pressures",
    ),
    (
        "D17",
        "hookups::below_the_middle_transmitter_no_density_is_measured",
    ),
];

/// What there is no property for.
const NOT_EXPRESSED: &[(&str, &str)] = &[(
    "D25",
    "a column has one density: the example itself finds 2 mm in 30 m",
)];

#[test]
pub fn worked_examples_come_out() {
    for example in examples() {
        if let Some((_, check)) = CHECKS.iter().find(|(id, _)| *id == example.id) {
            check(&example);
            example.is_done();
        }
    }
}

#[test]
pub fn every_example_is_checked_or_listed() {
    let known: Vec<&str> = (CHECKS.iter().map(|(id, _)| *id))
        .chain(ELSEWHERE.iter().map(|(id, _)| *id))
        .chain(NOT_EXPRESSED.iter().map(|(id, _)| *id))
        .collect();
    let examples = examples();
    for example in &examples {
        let times = known.iter().filter(|id| **id == example.id).count();
        assert_eq!(times, 1, "{} stands in {times} lists", example.place());
    }
    assert_eq!(known.len(), examples.len());
}

/// One side: tap and diaphragm in m, fill in kg/m³.
fn leg(tap_m: f64, diaphragm_m: f64, fill_kg_m3: f64) -> Leg {
    Leg {
        tap: metres(tap_m),
        diaphragm: metres(diaphragm_m),
        fill: kilograms_per_cubic_metre(fill_kg_m3),
    }
}

fn balance(g_m_s2: f64, liquid_kg_m3: f64, gas_kg_m3: f64, high: Leg, low: Leg) -> Balance {
    Balance {
        gravity: metres_per_second_squared(g_m_s2),
        liquid: kilograms_per_cubic_metre(liquid_kg_m3),
        gas: kilograms_per_cubic_metre(gas_kg_m3),
        high,
        low,
    }
}

/// Open to air whose weight is left out, as the printed examples do.
fn open(g_m_s2: f64, liquid_kg_m3: f64, tap_m: f64, at_m: f64) -> Balance {
    let high = leg(tap_m, at_m, liquid_kg_m3);
    balance(g_m_s2, liquid_kg_m3, 0.0, high, leg(at_m, at_m, 0.0))
}

fn standard() -> f64 {
    gravity::standard().value
}

fn pa(balance: &Balance, level_m: f64) -> f64 {
    balance.differential_pressure(metres(level_m)).0.value
}

fn level_m(balance: &Balance, difference_pa: f64) -> f64 {
    balance
        .solve(DifferentialPressure::pascals(difference_pa))
        .value
}

/// A quantity as the site file would write it, in SI units.
fn si(number: f64, unit: &str, dimension: Dimension) -> f64 {
    parse(&format!("{number} {unit}"), dimension)
        .unwrap_or_else(|error| panic!("{number} {unit}: {error}"))
        .si
}

fn feet(number: f64) -> f64 {
    si(number, "ft", Dimension::Length)
}

fn inches(number: f64) -> f64 {
    si(number, "in", Dimension::Length)
}

fn shown_in(pascals: f64, unit: &str) -> f64 {
    find(unit, Dimension::Pressure)
        .unwrap_or_else(|| panic!("no unit {unit}"))
        .from_si(pascals)
}

/// LRV and URV in Pa for two levels in m.
fn ends(balance: &Balance, zero_m: f64, full_m: f64) -> (f64, f64) {
    let range = Range::new(balance, metres(zero_m), metres(full_m), false);
    (range.lower.0.value, range.upper.0.value)
}

fn oil_column(example: &Example) {
    let rho = si(
        example.input("weight_density_lb_ft3"),
        "lb/ft3",
        Dimension::Density,
    );
    let bottom = pa(
        &open(standard(), rho, 0.0, 0.0),
        feet(example.input("height_ft")),
    );
    example.check("pa", bottom);
    example.check("psi", shown_in(bottom, "psi"));
    // 144 in² = 1 ft²
    example.check("psf", shown_in(bottom, "psi") * 144.0);
}

fn castor_oil(example: &Example) {
    // The weight density that the print implies, 1.68 · 144 / 4 lb/ft³.
    let rho = si(60.5, "lb/ft3", Dimension::Density);
    let balance = open(standard(), rho, 0.0, 0.0);
    let (zero, full) = (example.input("lrv_level_ft"), example.input("urv_level_ft"));
    let (lower, upper) = ends(&balance, feet(zero), feet(full));
    example.check("lrv_psi", shown_in(lower, "psi"));
    example.check("urv_psi", shown_in(upper, "psi"));
    example.check("lrv_inWC", shown_in(lower, "inH2O@conventional"));
    example.check("urv_inWC", shown_in(upper, "inH2O@conventional"));
}

fn ethanol_in_feet(example: &Example) {
    // Counted in its own column, the density does not matter.
    let rho = 789.0;
    let below = -feet(example.input("below_ft"));
    let balance = open(standard(), rho, 0.0, below);
    let (zero, full) = (example.input("level_min_ft"), example.input("level_max_ft"));
    let (lower, upper) = ends(&balance, feet(zero), feet(full));
    let column_ft = |pressure: f64| pressure / (standard() * rho) / feet(1.0);
    example.check("column_at_empty_ft_of_ethanol", column_ft(lower));
    example.check("column_at_full_ft_of_ethanol", column_ft(upper));
}

fn ethanol(example: &Example) {
    let rho = si(
        example.input("weight_density_lb_ft3"),
        "lb/ft3",
        Dimension::Density,
    );
    let balance = open(standard(), rho, 0.0, -feet(example.input("below_ft")));
    for level_ft in [0, 10, 20, 30, 40] {
        let pressure = pa(&balance, feet(level_ft.into()));
        example.check(&format!("pa_at_{level_ft}_ft"), pressure);
        example.check(&format!("psi_at_{level_ft}_ft"), shown_in(pressure, "psi"));
    }
}

fn heptane(example: &Example) {
    let balance = open(standard(), example.input("sg") * WATER_KG_M3, 0.0, 0.0);
    let (zero_ft, full_ft) = (example.input("level_min_ft"), example.input("level_max_ft"));
    let (lower, upper) = ends(&balance, feet(zero_ft), feet(full_ft));
    example.check("lrv_inWC", shown_in(lower, "inH2O@conventional"));
    example.check("urv_inWC", shown_in(upper, "inH2O@conventional"));
    // I = 4 mA + 16 mA · (Δp − LRV)/(URV − LRV)
    let current_ma = 4.0 + 16.0 * (pa(&balance, feet(8.0)) - lower) / (upper - lower);
    example.check("ma_at_8_ft", current_ma);
    let felt = lower + (5.7 - 4.0) / 16.0 * (upper - lower);
    example.check("level_at_5.7_mA_ft", level_m(&balance, felt) / feet(1.0));
}

fn open_tank_in_inches(example: &Example) {
    let rho = example.input("sg") * WATER_KG_M3;
    let (below_in, zero_in, full_in) = match example.id.as_str() {
        "R06" => (
            0.0,
            example.input("level_min_in"),
            example.input("level_max_in"),
        ),
        "R07" => (
            example.input("below_in"),
            0.0,
            example.input("level_max_in"),
        ),
        _ => (0.0, 0.0, example.input("level_max_in")),
    };
    let balance = open(standard(), rho, 0.0, -inches(below_in));
    let (lower, upper) = ends(&balance, inches(zero_in), inches(full_in));
    example.check("lrv", shown_in(lower, "inH2O@conventional"));
    example.check("urv", shown_in(upper, "inH2O@conventional"));
}

fn wet_leg_in_inches(example: &Example) {
    let (rho, fill) = (
        example.input("sg") * WATER_KG_M3,
        example.input("sg_leg") * WATER_KG_M3,
    );
    let low = leg(inches(example.input("leg_in")), 0.0, fill);
    let balance = balance(standard(), rho, 0.0, leg(0.0, 0.0, rho), low);
    let (lower, upper) = ends(&balance, 0.0, inches(example.input("level_max_in")));
    example.check("lrv", shown_in(lower, "inH2O@conventional"));
    example.check("urv", shown_in(upper, "inH2O@conventional"));
}

fn in_millimetres_of_water(example: &Example) {
    let rho = example.input("sg") * WATER_KG_M3;
    let mut arranged = open(standard(), rho, 0.0, 0.0);
    if example.id == "R10" {
        let fill = example.input("sg_leg") * WATER_KG_M3;
        arranged.low = leg(example.input("leg_mm") / 1000.0, 0.0, fill);
    }
    let zero_m = example.input("offset_mm") / 1000.0;
    let full_m = zero_m + example.input("span_mm") / 1000.0;
    let range = Range::new(&arranged, metres(zero_m), metres(full_m), false);
    let shown = |pressure: DifferentialPressure| shown_in(pressure.0.value, "mmH2O");
    example.check("lrv", shown(range.lower));
    example.check("urv", shown(range.upper));
    let points = range.points();
    example.check("at_25_percent", shown(points[1].difference));
    example.check("at_75_percent", shown(points[3].difference));
}

fn seal_on_an_open_vessel(example: &Example) {
    let flange_m = example.input("h3_hp_flange_above_transmitter_m");
    let zero_m = flange_m + example.input("h2_min_above_hp_flange_m");
    let mut arranged = open(example.input("g"), example.input("rho"), flange_m, 0.0);
    arranged.high.fill = kilograms_per_cubic_metre(example.input("rho_fill"));
    let (lower, upper) = ends(&arranged, zero_m, zero_m + example.input("h1_span_m"));
    example.check("zero_suppression", shown_in(lower, "kPa"));
    example.check("span", shown_in(upper - lower, "kPa"));
}

fn tap_above_the_transmitter(example: &Example) {
    let (tap_m, at_m) = (example.input("tap_m"), example.input("transmitter_m"));
    let balance = open(standard(), WATER_KG_M3, tap_m, at_m);
    let (lower, upper) = ends(&balance, tap_m, example.input("tank_m"));
    example.check("lrv", shown_in(lower, "mmH2O") / 1000.0);
    example.check("urv", shown_in(upper, "mmH2O") / 1000.0);
    let seen = balance.seen(
        DifferentialPressure::pascals(lower),
        metres(0.001),
        UpperTap::Open,
    );
    assert!(
        matches!(seen, Seen::AtOrBelowTap(_)),
        "{}: {seen:?}",
        example.place()
    );
}

fn dam(example: &Example) {
    let balance = open(example.input("g"), example.input("rho"), 0.0, 0.0);
    let mean = pa(&balance, example.input("average_depth_m"));
    example.check("p_avg", mean);
    example.check(
        "force",
        mean * example.input("depth_m") * example.input("width_m"),
    );
}

/// The derived examples with one set of inputs: range, a level and its current, there and back, both ways round.
fn ranged(example: &Example) {
    let at = |name: &str| example.input(name);
    let high = leg(at("z_lo"), at("z_tx"), at("rho_hleg"));
    let low = leg(at("z_hi"), at("z_tx"), at("rho_lleg"));
    let balance = balance(at("g"), at("rho_liq"), at("rho_gas"), high, low);
    let (zero, full) = (
        metres(at("level_0_percent_m")),
        metres(at("level_100_percent_m")),
    );
    let range = Range::new(&balance, zero, full, false);
    let (lower, upper) = (range.lower.0.value, range.upper.0.value);
    example.check("lrv", lower);
    example.check("urv", upper);
    let difference = pa(&balance, at("check_level_m"));
    example.check("dp_at_check_level", difference);
    example.check(
        "ma_at_check_level",
        4.0 + 16.0 * (difference - lower) / (upper - lower),
    );
    let (difference, tolerance) = example.expected("dp_at_check_level");
    // ∂h/∂Δp = 1 / (g·(ρl − ρv))
    let tolerance_m = tolerance / (at("g") * (at("rho_liq") - at("rho_gas")));
    let off = level_m(&balance, difference) - at("check_level_m");
    assert!(
        off.abs() <= tolerance_m,
        "{}: level off by {off} m",
        example.place()
    );
    let turned = Range::new(&balance, zero, full, true);
    example.check("lrv", -turned.lower.0.value);
    example.check("urv", -turned.upper.0.value);
}

fn wrong_density(example: &Example) {
    let (configured, actual) = (example.input("rho_configured"), example.input("rho_actual"));
    let (g, level) = (example.input("g"), example.input("level_m"));
    let difference = pa(&open(g, actual, 0.0, 0.0), level);
    example.check("dp", difference);
    let indicated = level_m(&open(g, configured, 0.0, 0.0), difference);
    example.check("indicated_level", indicated);
    example.check("error", indicated - level);
    example.check("mass_is_right", configured * indicated);
}

fn hot_water(example: &Example) {
    let (g, level) = (example.input("g"), example.input("level_m"));
    let difference = pa(&open(g, example.input("rho_80c"), 0.0, 0.0), level);
    let indicated = level_m(&open(g, example.input("rho_20c"), 0.0, 0.0), difference);
    example.check("indicated_level", indicated);
    example.check("error_mm", (indicated - level) * 1000.0);
}

fn wet_leg_half_lost(example: &Example) {
    let at = |name: &str| example.input(name);
    // The lost part holds the same gas as the vessel: the leg then ends where its liquid does.
    let leg_to = |top_m: f64| {
        let high = leg(0.0, 0.0, at("rho_liq"));
        let low = leg(top_m, 0.0, at("rho_leg"));
        balance(at("g"), at("rho_liq"), at("rho_gas"), high, low)
    };
    let (full, half) = (leg_to(at("tap_span_m")), leg_to(at("leg_height_m")));
    example.check("dp_leg_full", pa(&full, at("level_m")));
    let felt = pa(&half, at("level_m"));
    example.check("dp_leg_half", felt);
    example.check("indicated_level_if_unaware", level_m(&full, felt));
}

fn condensate_in_a_dry_leg(example: &Example) {
    let at = |name: &str| example.input(name);
    // Any level below the condensate and any upper tap above it.
    let (level, upper_tap) = (0.3, 4.0);
    let high = leg(0.0, 0.0, at("rho_liq"));
    let low = |top_m: f64, fill: f64| {
        balance(
            at("g"),
            at("rho_liq"),
            at("rho_gas"),
            high,
            leg(top_m, 0.0, fill),
        )
    };
    let dry = low(upper_tap, at("rho_gas"));
    let wetted = low(at("condensate_m"), at("rho_cond"));
    let felt = pa(&wetted, level);
    example.check("dp_error", felt - pa(&dry, level));
    example.check("level_error", level_m(&dry, felt) - level);
}

fn warm_wet_leg(example: &Example) {
    let at = |name: &str| example.input(name);
    let filled = |fill: f64| {
        let high = leg(0.0, 0.0, at("rho_liq"));
        let low = leg(at("leg_m"), 0.0, fill);
        balance(at("g"), at("rho_liq"), at("rho_gas"), high, low)
    };
    let (cold, warm) = (filled(at("rho_20")), filled(at("rho_50")));
    // The shift is the same at every level.
    for level in [0.5, 3.0] {
        let felt = pa(&warm, level);
        example.check("dp_shift", felt - pa(&cold, level));
        example.check("level_error", level_m(&cold, felt) - level);
    }
}

fn barometer_moved(example: &Example) {
    let at = |name: &str| example.input(name);
    let balance = open(at("g"), at("rho"), 0.0, 0.0);
    let bottom = AbsolutePressure::pascals(at("p_bottom_abs"));
    let top = AbsolutePressure::pascals(at("p_top_abs"));
    let level = balance.solve(bottom - top).value;
    example.check("level", level);
    let assumed = AbsolutePressure::pascals(101_325.0);
    let moved = assumed + DifferentialPressure::pascals(at("barometer_change_pa"));
    let taken = bottom.gauge(moved).absolute(assumed);
    example.check(
        "level_error_if_bottom_is_gauge_with_fixed_101325",
        balance.solve(taken - top).value - level,
    );
}

fn wrong_inch_of_water(example: &Example) {
    let at = |name: &str| example.input(name);
    let shown = (at("ma") - 4.0) / 16.0 * at("urv_inH2O");
    let felt = si(shown, "inH2O@68degF", Dimension::Pressure);
    let misread = si(shown, "inH2O@conventional", Dimension::Pressure);
    example.check("true_pa", felt);
    example.check("misread_pa", misread);
    let balance = open(at("g"), at("rho"), 0.0, 0.0);
    let off = level_m(&balance, misread) - level_m(&balance, felt);
    example.check("level_error_mm", off * 1000.0);
}
