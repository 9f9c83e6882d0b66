//! Column sums by hand, mass balance, faults and determinism.

use super::*;
use crate::physics::liquid::{Gas, Liquid};
use crate::physics::vessel::{Head, Shape, Vessel};
use crate::quantity::AbsolutePressure;
use crate::quantity::unit::{Dimension, find};
use crate::quantity::{
    celsius, cubic_metres_per_second, kilograms_per_cubic_metre, metres, metres_per_second_squared,
};
use approx::assert_abs_diff_eq;

pub(super) const G: f64 = 9.81;
/// Dry air at 15 °C and 101 325 Pa: 1.225 kg/m³ (ISO 2533, sea level), to its printed digits.
pub(super) const AIR: f64 = 1.225;

pub(super) fn fill_of(kilograms: f64) -> Fill {
    Fill::Seal(kilograms_per_cubic_metre(kilograms))
}

pub(super) fn tapped(tap: f64, diaphragm: f64, fill: Fill) -> LineModel {
    LineModel::Tapped {
        tap: metres(tap),
        diaphragm: metres(diaphragm),
        fill,
    }
}

pub(crate) fn level_output() -> OutputModel {
    OutputModel {
        unit: find("m", Dimension::Length).expect("a unit"),
        number: Number::F32,
        ..pascal_output()
    }
}

pub(super) fn pascal_output() -> OutputModel {
    OutputModel {
        link: 0,
        device: 1,
        space: Space::Input,
        address: 0,
        number: Number::F64,
        order: Order::Abcd,
        unit: find("Pa", Dimension::Pressure).expect("a unit"),
        scale: None,
        saturates: None,
        failure: f64::NAN,
        failure_low: None,
    }
}

pub(super) fn transmitter(senses: Senses) -> TransmitterModel {
    TransmitterModel {
        tag: "PDT-1".into(),
        senses,
        noise: 0.0,
        zero_offset: 0.0,
        span_error: 0.0,
        resolution: 0.0,
        damping: Duration::ZERO,
        output: pascal_output(),
    }
}

/// A closed tank of 1 m² and 6 m with water of 1000 kg/m³ at 3 m under a gas of 5 kg/m³ at 250 kPa(a).
pub(super) fn model(senses: Senses) -> PlantModel {
    let side = metres(1.0);
    let shape = Shape::Rectangular {
        length: side,
        width: side,
        height: metres(6.0),
    };
    PlantModel {
        gravity: metres_per_second_squared(G),
        air: AirModel {
            temperature: celsius(15.0),
            pressure: AbsolutePressure::pascals(101_325.0),
            pressure_at: metres(1.0),
        },
        links: vec!["skid".into()],
        tanks: vec![TankModel {
            name: "tank".into(),
            vessel: Vessel::new(shape).expect("a box"),
            zero: metres(0.0),
            level: metres(3.0),
            overflow: None,
            inflow: cubic_metres_per_second(0.0),
            outflow: cubic_metres_per_second(0.0),
            liquid: Liquid::Constant {
                density: kilograms_per_cubic_metre(1000.0),
                uncertainty: None,
            },
            liquid_temperature: celsius(15.0),
            density: None,
            gas: Gas::Density(kilograms_per_cubic_metre(5.0)),
            gas_temperature: celsius(15.0),
            headspace: HeadspaceModel::Closed {
                pressure: AbsolutePressure::pascals(250_000.0),
            },
            sediment_density: kilograms_per_cubic_metre(1200.0),
            foam_share: 0.1,
            tap_in_outlet: None,
            lower: None,
        }],
        transmitters: vec![transmitter(senses)],
        contacts: Vec::new(),
        pipes: Vec::new(),
    }
}

pub(super) fn differential(high: LineModel, low: LineModel) -> PlantModel {
    model(Senses::Differential { tank: 0, high, low })
}

pub(crate) fn dry_leg_model() -> PlantModel {
    differential(
        tapped(0.5, -1.0, Fill::Liquid),
        tapped(5.5, -1.0, Fill::Gas),
    )
}

pub(super) fn wet_leg_model() -> PlantModel {
    differential(
        tapped(0.5, -1.0, Fill::Liquid),
        tapped(5.5, -1.0, fill_of(1070.0)),
    )
}

pub(super) fn start(model: PlantModel) -> Plant {
    Plant::new(model, 7)
}

/// The value after a step.
pub(super) fn next(plant: &mut Plant) -> f64 {
    plant.advance(STEP);
    plant.value(0)
}

#[test]
fn a_vented_tank_by_hand() {
    let mut vented = model(Senses::Gauge {
        tank: 0,
        line: tapped(0.3, -0.5, Fill::Liquid),
    });
    vented.tanks[0].headspace = HeadspaceModel::Vented { at: metres(6.2) };
    // p = g·[ 5·(6.2 − 3) + 1000·(3 − 0.3) + 1000·(0.3 + 0.5) − 1.225·(6.2 + 0.5) ]: gas, liquid, leg, and the
    // air outside over the same height.
    let by_hand = G * (5.0 * 3.2 + 1000.0 * 2.7 + 1000.0 * 0.8 - AIR * 6.7);
    assert_abs_diff_eq!(start(vented).value(0), by_hand, epsilon = 0.02);
}

#[test]
fn a_dry_leg_by_hand() {
    // g·[ 5·(5.5 − 3) + 1000·(3 − 0.5) + 1000·(0.5 + 1) − 5·(5.5 + 1) ]
    let by_hand = G * (5.0 * 2.5 + 1000.0 * 2.5 + 1000.0 * 1.5 - 5.0 * 6.5);
    assert_abs_diff_eq!(start(dry_leg_model()).value(0), by_hand, epsilon = 1e-6);
}

#[test]
fn a_wet_leg_by_hand() {
    // g·[ 5·(5.5 − 3) + 1000·(3 + 1) − 1070·(5.5 + 1) ]
    let by_hand = G * (5.0 * 2.5 + 1000.0 * 4.0 - 1070.0 * 6.5);
    assert_abs_diff_eq!(start(wet_leg_model()).value(0), by_hand, epsilon = 1e-6);
}

#[test]
fn a_headspace_transmitter_by_hand() {
    let headspace = model(Senses::Absolute {
        tank: 0,
        line: tapped(5.8, 6.5, Fill::Gas),
    });
    // 250 000 + g·5·(6 − 5.8) down to the tap, − g·5·(6.5 − 5.8) up to the diaphragm
    assert_abs_diff_eq!(
        start(headspace).value(0),
        250_000.0 + G * 5.0 * (0.2 - 0.7),
        epsilon = 1e-6
    );
    let mut covered = model(Senses::SealedGauge {
        tank: 0,
        line: tapped(2.0, 2.0, Fill::Gas),
        sealed_at: AbsolutePressure::pascals(100_000.0),
    });
    covered.tanks[0].level = metres(3.0);
    // 150 000 + g·[ 5·(6 − 3) + 1000·(3 − 2) ]
    assert_abs_diff_eq!(
        start(covered).value(0),
        150_000.0 + G * (15.0 + 1000.0),
        epsilon = 1e-6
    );
}

#[test]
fn below_the_tap_the_line_stays_full() {
    let mut low = dry_leg_model();
    low.tanks[0].level = metres(0.2);
    // g·[ 5·(5.5 − 0.5) + 1000·(0.5 + 1) − 5·(5.5 + 1) ], whatever stands below the tap
    assert_abs_diff_eq!(
        start(low).value(0),
        G * (25.0 + 1500.0 - 32.5),
        epsilon = 1e-6
    );
}

#[test]
fn liquid_that_passes_the_upper_tap_floods_a_dry_leg_for_good() {
    let mut plant = start(dry_leg_model());
    plant.set_level(0, metres(5.7));
    // Both ports hang in liquid now: only the taps' height and the lines count, 1000·(6.7 − 6.7) = 0.
    assert_abs_diff_eq!(next(&mut plant), 0.0, epsilon = 1e-6);
    plant.set_level(0, metres(3.0));
    // g·[ 5·(5.5 − 3) + 1000·(3 + 1) − 1000·(5.5 + 1) ]
    assert_abs_diff_eq!(
        next(&mut plant),
        G * (12.5 + 4000.0 - 6500.0),
        epsilon = 1e-6
    );
    plant.mend(0, Fault::Condensate(Side::Low, 0.0));
    assert_abs_diff_eq!(next(&mut plant), G * (12.5 + 4000.0 - 32.5), epsilon = 1e-6);
}

#[test]
fn an_overfull_wet_leg_stands_still() {
    let mut plant = start(wet_leg_model());
    for level in [5.6, 5.9] {
        plant.set_level(0, metres(level));
        // g·[ 1000·(5.5 − 0.5) + 1000·(0.5 + 1) − 1070·(5.5 + 1) ]: the liquid above the tap stands on both.
        assert_abs_diff_eq!(
            next(&mut plant),
            G * (5000.0 + 1500.0 - 6955.0),
            epsilon = 1e-6
        );
    }
}

#[test]
fn a_plug_holds_its_pressure_and_the_other_side_goes_on() {
    let mut plant = start(dry_leg_model());
    let before = plant.value(0);
    plant.inflict(0, Fault::Plugged(Side::Low));
    plant.set(0, Setting::Headspace, 255_000.0);
    assert_abs_diff_eq!(next(&mut plant), before + 5_000.0, epsilon = 1e-6);
    plant.inflict(0, Fault::Plugged(Side::High));
    plant.set(0, Setting::Headspace, 270_000.0);
    assert_abs_diff_eq!(next(&mut plant), before + 5_000.0, epsilon = 1e-6);
    plant.mend(0, Fault::Plugged(Side::Low));
    plant.mend(0, Fault::Plugged(Side::High));
    assert_abs_diff_eq!(next(&mut plant), before, epsilon = 1e-6);
}

#[test]
fn faults_of_legs_by_hand() {
    let mut wet = start(wet_leg_model());
    let sound = wet.value(0);
    wet.inflict(0, Fault::LegLost(Side::Low, 0.3));
    // 0.3 m of 1070 kg/m³ became gas of 5 kg/m³ on the low side.
    assert_abs_diff_eq!(
        next(&mut wet),
        sound + G * 0.3 * (1070.0 - 5.0),
        epsilon = 1e-6
    );
    wet.set_level(0, metres(5.8));
    next(&mut wet);
    wet.set_level(0, metres(3.0));
    // The gap filled with the tank's liquid.
    assert_abs_diff_eq!(
        next(&mut wet),
        sound + G * 0.3 * (1070.0 - 1000.0),
        epsilon = 1e-6
    );

    let mut dry = start(dry_leg_model());
    let sound = dry.value(0);
    dry.inflict(0, Fault::Condensate(Side::Low, 0.4));
    assert_abs_diff_eq!(
        next(&mut dry),
        sound - G * 0.4 * (1000.0 - 5.0),
        epsilon = 1e-6
    );
}

#[test]
fn faults_of_the_transmitter() {
    let mut model = dry_leg_model();
    model.transmitters[0].zero_offset = 200.0;
    let mut plant = start(model);
    let sound = plant.value(0);
    plant.inflict(0, Fault::EQUALISER_OPEN);
    assert_abs_diff_eq!(next(&mut plant), 200.0, epsilon = 1e-9);
    plant.mend(0, Fault::EQUALISER_OPEN);
    plant.inflict(0, Fault::Drift(10.0));
    plant.advance(Duration::from_secs(2));
    assert_abs_diff_eq!(plant.value(0), sound + 20.0, epsilon = 1e-6);
    plant.mend(0, Fault::Drift(0.0));
    plant.inflict(0, Fault::Scaled(10.0));
    assert_abs_diff_eq!(next(&mut plant), 10.0 * sound, epsilon = 1e-6);
    plant.mend(0, Fault::Scaled(1.0));
    plant.inflict(0, Fault::Frozen);
    plant.set_level(0, metres(4.0));
    assert_abs_diff_eq!(next(&mut plant), 10.0 * sound, epsilon = 1e-6);
    plant.inflict(0, Fault::Failed);
    assert_eq!(plant.words(0, 1, Space::Input, 0, 1), Some(vec![0x7FF8]));
}

#[test]
fn damping_is_first_order() {
    let mut model = dry_leg_model();
    model.transmitters[0].damping = Duration::from_secs(2);
    let mut plant = start(model);
    let before = plant.value(0);
    plant.set_level(0, metres(4.0));
    plant.advance(Duration::from_secs(2));
    // After one time constant 1 − 1/e of the step of g·(1000 − 5)·1 m is there.
    let share = (plant.value(0) - before) / (G * 995.0);
    assert_abs_diff_eq!(share, 1.0 - (-1.0_f64).exp(), epsilon = 1e-9);
}

#[test]
fn volume_changes_by_flow_times_time() {
    let cylinder = Shape::HorizontalCylinder {
        diameter: metres(2.4),
        length: metres(6.0),
        left: Head::Hemisphere,
        right: Head::Ellipsoid { depth: metres(0.6) },
    };
    let mut model = dry_leg_model();
    model.tanks[0].vessel = Vessel::new(cylinder).expect("a drum");
    model.tanks[0].level = metres(0.8);
    let mut plant = start(model);
    let before = plant.volume(0).value;
    plant.set(0, Setting::Inflow, 3.0e-3);
    plant.set(0, Setting::Outflow, 0.5e-3);
    plant.advance(Duration::from_secs(3600));
    assert_abs_diff_eq!(
        plant.volume(0).value - before,
        2.5e-3 * 3600.0,
        epsilon = 1e-9
    );
    assert_abs_diff_eq!(plant.overflowed(0).value, 0.0);
}

#[test]
fn what_rises_above_the_overflow_is_lost_and_counted() {
    let mut model = dry_leg_model();
    model.tanks[0].overflow = Some(metres(5.0));
    let mut plant = start(model);
    plant.set(0, Setting::Inflow, 0.1);
    plant.advance(Duration::from_secs(30));
    // 3 m³ came, 2 m³ had room.
    assert_abs_diff_eq!(plant.level(0).value, 5.0, epsilon = 1e-9);
    assert_abs_diff_eq!(plant.overflowed(0).value, 1.0, epsilon = 1e-9);
    plant.set(0, Setting::Inflow, 0.0);
    plant.set(0, Setting::Outflow, 0.2);
    plant.advance(Duration::from_secs(30));
    // 6 m³ were to be drawn, 5 m³ were there.
    assert_abs_diff_eq!(plant.level(0).value, 0.0, epsilon = 1e-9);
    assert_abs_diff_eq!(plant.not_drawn(0).value, 1.0, epsilon = 1e-9);
}

/// Density of water at 101 325 Pa: 998.2 kg/m³ at 20 °C and 977.8 at 70 °C (IAPWS-95; Kell 1975).
#[test]
fn a_liquid_that_is_warmed_keeps_its_mass_and_rises() {
    let mut model = dry_leg_model();
    model.tanks[0].liquid = Liquid::Water { uncertainty: None };
    model.tanks[0].liquid_temperature = celsius(20.0);
    let mut plant = start(model);
    let before = plant.level(0).value;
    let pressure_pa = plant.value(0);
    for tenth in 1..=500 {
        let warmer = celsius(20.0 + f64::from(tenth) / 10.0);
        plant.set(0, Setting::LiquidTemperature, warmer.value);
        plant.advance(STEP);
    }
    assert_abs_diff_eq!(plant.level(0).value, before * 998.2 / 977.8, epsilon = 1e-3);
    // In straight walls the weight on the bottom stays. The tap is 0.5 m above it: what lies below weighs less, so that
    // much more stands above the tap, in place of gas.
    let risen_m = before * (998.2 / 977.8 - 1.0);
    let by_hand_pa = G * (0.5 * (998.2 - 977.8) - risen_m * 5.0);
    assert_abs_diff_eq!(plant.value(0) - pressure_pa, by_hand_pa, epsilon = 0.5);
    plant.set(0, Setting::LiquidTemperature, celsius(20.0).value);
    assert_abs_diff_eq!(plant.level(0).value, before, epsilon = 1e-9);
}

#[test]
fn what_swells_above_the_overflow_runs_off() {
    let mut model = dry_leg_model();
    model.tanks[0].liquid = Liquid::Water { uncertainty: None };
    model.tanks[0].liquid_temperature = celsius(20.0);
    model.tanks[0].overflow = Some(model.tanks[0].level);
    let mut plant = start(model);
    let before = plant.volume(0).value;
    plant.set(0, Setting::LiquidTemperature, celsius(70.0).value);
    assert_abs_diff_eq!(plant.volume(0).value, before, epsilon = 1e-12);
    assert_abs_diff_eq!(
        plant.overflowed(0).value,
        before * (998.2 / 977.8 - 1.0),
        epsilon = 1e-3
    );
}

#[test]
fn the_seed_settles_every_word_however_time_is_cut() {
    let words = |seed: u64, cut: Duration| {
        let mut model = wet_leg_model();
        model.transmitters[0].noise = 25.0;
        model.transmitters[0].damping = Duration::from_millis(400);
        let mut plant = Plant::new(model, seed);
        plant.set(0, Setting::Inflow, 1e-3);
        while plant.time() < Duration::from_secs(60) {
            plant.advance(cut);
        }
        plant.words(0, 1, Space::Input, 0, 4).expect("a sound link")
    };
    let reference = words(7, Duration::from_secs(1));
    assert_eq!(words(7, Duration::from_secs(1)), reference);
    assert_eq!(words(7, Duration::from_millis(30)), reference);
    assert_ne!(words(8, Duration::from_secs(1)), reference);
}

#[test]
fn a_loop_current_is_scaled_back_and_saturates() {
    let mut model = dry_leg_model();
    let output = &mut model.transmitters[0].output;
    output.number = Number::U16;
    output.scale = Some([(4000.0, 0.0), (20_000.0, 50_000.0)]);
    output.saturates = Some((3800.0, 20_500.0));
    let mut plant = start(model);
    // 4000 + p · 16 000 / 50 000 Pa, counts of 1 µA
    let counts =
        |plant: &Plant| f64::from(plant.words(0, 1, Space::Input, 0, 1).expect("a sound link")[0]);
    assert_abs_diff_eq!(
        counts(&plant),
        4000.0 + plant.value(0) * 0.32,
        epsilon = 0.5
    );
    plant.inflict(0, Fault::Drift(1e6));
    plant.advance(Duration::from_secs(1));
    assert_abs_diff_eq!(counts(&plant), 20_500.0);
}
