//! Each fault of lines, liquids, transmitters and links, against a number worked out by hand.

use super::tests::{G, dry_leg_model, model, next, start, tapped, wet_leg_model};
use super::*;
use crate::physics::liquid::Liquid;
use crate::quantity::{celsius, kilograms_per_cubic_metre, metres, per_kelvin_of};
use approx::assert_abs_diff_eq;

/// Water of a vented tank, 3 m deep, under a transmitter 1 m below a tap at 0.5 m.
fn open_tank() -> PlantModel {
    let mut model = model(Senses::Gauge {
        tank: 0,
        line: tapped(0.5, -0.5, Fill::Liquid),
    });
    model.tanks[0].headspace = HeadspaceModel::Vented { at: metres(6.0) };
    model
}

fn after(plant: &mut Plant, seconds: f64) -> f64 {
    plant.advance(Duration::from_secs_f64(seconds));
    plant.value(0)
}

fn si(celsius_degrees: f64) -> f64 {
    celsius(celsius_degrees).value
}

#[test]
fn a_partial_plug_is_a_lag_and_no_gain() {
    let mut plant = start(dry_leg_model());
    let before = plant.value(0);
    plant.inflict(0, Fault::Lag(Side::High, 60.0));
    plant.set_level(0, metres(4.0));
    // After one time constant 1 − 1/e of g·(1000 − 5)·1 m is there, after twenty of them all of it.
    let share = (after(&mut plant, 60.0) - before) / (G * 995.0);
    assert_abs_diff_eq!(share, 1.0 - (-1.0_f64).exp(), epsilon = 1e-9);
    let all = (after(&mut plant, 1140.0) - before) / (G * 995.0);
    assert_abs_diff_eq!(all, 1.0, epsilon = 1e-8);
}

#[test]
fn liquid_behind_a_plug_follows_the_ambient() {
    let mut with_expanding = dry_leg_model();
    with_expanding.tanks[0].liquid = Liquid::Expanding {
        density: kilograms_per_cubic_metre(1000.0),
        at: celsius(15.0),
        coefficient: per_kelvin_of(2e-4),
        uncertainty: None,
    };
    let mut plant = start(with_expanding);
    let before = plant.value(0);
    plant.inflict(0, Fault::PluggedStiff(Side::High, 5e6));
    plant.inflict(0, Fault::Plugged(Side::Low));
    assert_abs_diff_eq!(next(&mut plant), before, epsilon = 1e-6);
    plant.set_weather(Weather::Temperature, si(25.0));
    // The liquid would grow by 2e-4 · 10; held by a stiffness of 5 MPa that is 10 kPa. The gas behind the other
    // plug, 250 kPa less or more its own weight, goes up by 10/288.15 of it.
    let gas_pa = 250_000.0 + 5.0 * G * (6.0 - 5.5) + 5.0 * G * 6.5;
    let by_hand = 10_000.0 - gas_pa * 10.0 / 288.15;
    assert_abs_diff_eq!(next(&mut plant) - before, by_hand, epsilon = 1e-3);
}

#[test]
fn a_line_freezes_and_thaws_with_the_air() {
    let mut plant = start(open_tank());
    let before = plant.value(0);
    plant.inflict(0, Fault::Freezes(Side::High, si(0.0)));
    plant.set_weather(Weather::Temperature, si(-3.0));
    next(&mut plant);
    plant.set_level(0, metres(4.0));
    // The line does not follow; the air outside is denser by 291/270, which is a pascal or two over its column.
    assert_abs_diff_eq!(next(&mut plant), before, epsilon = 10.0);
    plant.set_weather(Weather::Temperature, si(15.0));
    assert_abs_diff_eq!(
        next(&mut plant) - before,
        G * (1000.0 - 5.0),
        epsilon = 1e-6
    );
}

#[test]
fn an_equaliser_that_passes_takes_its_share() {
    let mut plant = start(dry_leg_model());
    let sound = plant.value(0);
    plant.inflict(0, Fault::Equaliser(0.3));
    assert_abs_diff_eq!(next(&mut plant), 0.7 * sound, epsilon = 1e-6);
    plant.mend(0, Fault::Equaliser(0.0));
    assert_abs_diff_eq!(next(&mut plant), sound, epsilon = 1e-6);
}

#[test]
fn gas_in_a_leg_reads_low_on_the_high_side_and_high_on_the_low() {
    // 0.2 m of 1000 or 1070 kg/m³ became gas of 5 kg/m³.
    for (side, by_hand) in [
        (Side::High, -G * 0.2 * 995.0),
        (Side::Low, G * 0.2 * 1065.0),
    ] {
        let mut plant = start(wet_leg_model());
        let sound = plant.value(0);
        plant.inflict(0, Fault::Gas(side, 0.2));
        assert_abs_diff_eq!(next(&mut plant) - sound, by_hand, epsilon = 1e-6);
        // It stays, though the liquid covers the tap.
        plant.set_level(0, metres(5.8));
        plant.set_level(0, metres(3.0));
        assert_abs_diff_eq!(next(&mut plant) - sound, by_hand, epsilon = 1e-6);
    }
}

#[test]
fn a_wet_leg_that_is_too_full_reads_low() {
    let mut plant = start(wet_leg_model());
    let sound = plant.value(0);
    plant.inflict(0, Fault::Overfilled(Side::Low, 0.1));
    // 0.1 m more of 1070 kg/m³, in place of gas of 5 kg/m³.
    assert_abs_diff_eq!(next(&mut plant) - sound, -G * 0.1 * 1065.0, epsilon = 1e-6);
}

#[test]
fn a_hot_wet_leg_reads_high() {
    let mut model = wet_leg_model();
    let Senses::Differential { low, .. } = &mut model.transmitters[0].senses else {
        panic!("it is a differential transmitter");
    };
    let fill = Fill::Expanding(kilograms_per_cubic_metre(1070.0), 5e-4);
    *low = tapped(5.5, -1.0, fill);
    let mut plant = start(model);
    let sound = plant.value(0);
    plant.set(0, Setting::LineTemperature, si(35.0));
    // 6.5 m of a liquid that is lighter by 1/(1 + 5e-4·20); the gas and the water of the example do not change.
    let lighter = 1070.0 * (1.0 - 1.0 / 1.01);
    assert_abs_diff_eq!(next(&mut plant) - sound, G * 6.5 * lighter, epsilon = 1e-6);
}

#[test]
fn foam_weighs_and_its_liquid_is_missed_below() {
    let mut plant = start(open_tank());
    let sound = plant.value(0);
    plant.set(0, Setting::Foam, 1.0);
    // A tenth of a metre of liquid went into a metre of foam of 100 kg/m³: the same weight, but for the gas of
    // 5 kg/m³ that 0.9 m of it took the place of. The level is a tenth lower.
    assert_abs_diff_eq!(next(&mut plant) - sound, -G * 5.0 * 0.9, epsilon = 1e-6);
    assert_abs_diff_eq!(plant.level(0).value, 2.9, epsilon = 1e-9);
}

#[test]
fn sediment_over_the_tap_weighs_and_stays() {
    let mut plant = start(open_tank());
    let sound = plant.value(0);
    plant.set(0, Setting::Sediment, 0.4);
    assert_abs_diff_eq!(next(&mut plant), sound, epsilon = 1e-6);
    plant.set(0, Setting::Sediment, 0.8);
    // 0.3 m above the tap are 1200 instead of 1000 kg/m³.
    assert_abs_diff_eq!(next(&mut plant) - sound, G * 0.3 * 200.0, epsilon = 1e-6);
    plant.set(0, Setting::Outflow, 1.0);
    after(&mut plant, 5.0);
    assert_abs_diff_eq!(plant.level(0).value, 0.8, epsilon = 1e-9);
}

#[test]
fn agitation_is_noise_at_the_tap_that_damping_and_plugs_take_away() {
    let spread = |damping_s: f64, fault: Option<Fault>| {
        let mut model = open_tank();
        model.transmitters[0].damping = Duration::from_secs_f64(damping_s);
        let mut plant = start(model);
        plant.set(0, Setting::Agitation, 0.02);
        fault.into_iter().for_each(|fault| plant.inflict(0, fault));
        let values: Vec<f64> = (0..60_000).map(|_| next(&mut plant)).collect();
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        (values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / values.len() as f64).sqrt()
    };
    // 20 mm of 1000 kg/m³; 6000 s of a correlation of 0.3 s are 10 000 independent values, so 1 % (2 σ 1.4 %).
    let sound = G * 1000.0 * 0.02;
    assert_abs_diff_eq!(spread(0.0, None), sound, epsilon = 0.03 * sound);
    // First order behind an Ornstein–Uhlenbeck process: the variance is that times τ/(τ + T), here 0.3/(0.3 + 2.7);
    // steps of 0.1 s make that a few per cent more.
    let damped = sound * (0.1_f64).sqrt();
    assert_abs_diff_eq!(spread(2.7, None), damped, epsilon = 0.1 * damped);
    assert_abs_diff_eq!(
        spread(0.0, Some(Fault::Plugged(Side::High))),
        0.0,
        epsilon = 1e-6
    );
}

#[test]
fn flow_past_the_tap_takes_pressure() {
    let mut model = open_tank();
    model.tanks[0].tap_in_outlet = Some(metres(0.1));
    model.tanks[0].inflow = crate::quantity::cubic_metres_per_second(0.02);
    let mut plant = start(model);
    let before = plant.value(0);
    plant.set(0, Setting::Outflow, 0.02);
    // 20 L/s through a bore of 100 mm: v = 0.02/(π/4·0.01) = 2.5465 m/s; ½·1000·v² = 3242.3 Pa.
    let velocity: f64 = 2.546_479_089_470_325;
    let by_hand = -0.5 * 1000.0 * velocity * velocity;
    assert_abs_diff_eq!(next(&mut plant) - before, by_hand, epsilon = 1e-6);
}

#[test]
fn density_and_its_temperature_go_together() {
    let mut model = open_tank();
    model.tanks[0].liquid = Liquid::Expanding {
        density: kilograms_per_cubic_metre(1000.0),
        at: celsius(15.0),
        coefficient: per_kelvin_of(1e-3),
        uncertainty: None,
    };
    let mut plant = start(model);
    let sound = plant.value(0);
    plant.set(0, Setting::Density, 1050.0);
    // 2.5 m in the tank and 1 m in the leg, each 50 kg/m³ heavier.
    assert_abs_diff_eq!(next(&mut plant) - sound, G * 3.5 * 50.0, epsilon = 1e-6);
    plant.set(0, Setting::LiquidTemperature, si(25.0));
    // What stands in the tank is lighter by 1/1.01 then and its 3 m rise by 1.01, 0.5 m of it below the tap, in place of
    // gas; what stands in the leg is as before.
    let by_hand = (3.0 * 1.01 - 0.5) * 1050.0 / 1.01 - 2.5 * 1000.0 + 50.0 - 0.03 * 5.0;
    assert_abs_diff_eq!(next(&mut plant) - sound, G * by_hand, epsilon = 1e-6);
}

#[test]
fn a_shut_reference_follows_the_weather() {
    let mut plant = start(open_tank());
    let sound = plant.value(0);
    plant.inflict(0, Fault::ReferenceBlocked);
    plant.set_weather(Weather::Pressure, 101_325.0 - 3_000.0);
    // 3 kPa less stand on the liquid, and the reference does not follow: −3 kPa, 0.31 m of water. The air's own
    // column of 6.5 m is a few pascals lighter.
    assert_abs_diff_eq!(next(&mut plant) - sound, -3_000.0, epsilon = 3.0);
    plant.mend(0, Fault::ReferenceBlocked);
    assert_abs_diff_eq!(next(&mut plant), sound, epsilon = 3.0);
}

/// A dip tube that ends at 0.5 m in a closed tank's liquid, its transmitter at 7 m.
fn dip_tube() -> PlantModel {
    model(Senses::Absolute {
        tank: 0,
        line: tapped(0.5, 7.0, super::tests::fill_of(0.0)),
    })
}

#[test]
fn a_purge_that_is_lost_reads_empty_and_one_that_finds_no_way_out_creeps_up() {
    let mut plant = start(dip_tube());
    let gas_pa = 250_000.0 - 5.0 * G * 1.0;
    let sound = 250_000.0 + G * (5.0 * 3.0 + 1000.0 * 2.5);
    assert_abs_diff_eq!(plant.value(0), sound, epsilon = 1e-6);
    plant.inflict(0, Fault::PurgeLost(30.0));
    // After one time constant 1/e of what the tube had above the gas is left.
    let left = (after(&mut plant, 30.0) - gas_pa) / (sound - gas_pa);
    assert_abs_diff_eq!(left, (-1.0_f64).exp(), epsilon = 1e-9);
    let mut plant = start(dip_tube());
    plant.inflict(0, Fault::TubePlugged(100.0));
    assert_abs_diff_eq!(after(&mut plant, 60.0) - sound, 6_000.0, epsilon = 1e-6);
}

#[test]
fn span_error_resolution_and_failure_currents() {
    let mut model = dry_leg_model();
    model.transmitters[0].span_error = 0.02;
    model.transmitters[0].zero_offset = 100.0;
    let sound = start(dry_leg_model()).value(0);
    assert_abs_diff_eq!(
        start(model.clone()).value(0),
        1.02 * sound + 100.0,
        epsilon = 1e-6
    );
    model.transmitters[0].resolution = 250.0;
    // The nearest of 0, 250, 500 …
    let steps = ((1.02 * sound + 100.0) / 250.0).round();
    assert_abs_diff_eq!(start(model.clone()).value(0), 250.0 * steps, epsilon = 1e-6);
    let output = &mut model.transmitters[0].output;
    (output.number, output.failure, output.failure_low) = (Number::U16, 21_500.0, Some(3_500.0));
    let mut plant = start(model);
    let counts = |plant: &Plant| plant.words(0, 1, Space::Input, 0, 1).expect("a link")[0];
    for (fault, expected) in [(Fault::FailedLow, 3_500), (Fault::Failed, 21_500)] {
        plant.inflict(0, fault);
        assert_eq!(counts(&plant), expected);
        plant.mend(0, fault);
    }
}

#[test]
fn what_comes_through_a_bad_gateway() {
    let mut model = dry_leg_model();
    model.transmitters[0].output.number = Number::F32;
    let mut plant = start(model);
    let words = |plant: &Plant| plant.words(0, 1, Space::Input, 0, 2).expect("a sound link");
    let before = words(&plant);
    let ends = Duration::from_secs(60);
    plant.disturb(0, LinkFault::Swapped, ends);
    assert_eq!(words(&plant), [before[1], before[0]]);
    plant.disturb(0, LinkFault::Torn(Duration::from_secs(10)), ends);
    plant.set_level(0, metres(5.0));
    plant.advance(Duration::from_secs(1));
    let now = words::encode(plant.value(0), Number::F32, Order::Abcd);
    // The old first word, the new second one: a number that was never measured.
    assert_ne!(now[0], before[0]);
    assert_eq!(words(&plant), [before[0], now[1]]);
    plant.advance(Duration::from_secs(10));
    assert_eq!(words(&plant), now);
}

#[test]
fn a_link_fault_befalls_its_share_of_the_moments_by_the_seed() {
    let silent = |seed: u64| {
        let mut plant = Plant::new(dry_leg_model(), seed);
        let by = Disturbance {
            fault: LinkFault::Silent,
            device: Some(1),
            share: 0.2,
            until: Duration::from_secs(1000),
        };
        plant.disturb_some(0, by);
        let silent = (0..10_000).map(|_| {
            plant.advance(STEP);
            plant.words(0, 1, Space::Input, 0, 4).is_none()
        });
        silent.collect::<Vec<bool>>()
    };
    let of = |silent: &[bool]| silent.iter().filter(|one| **one).count() as f64 / 10_000.0;
    // Standard error of a share: √(0.2·0.8/10 000) = 0.004.
    assert_abs_diff_eq!(of(&silent(1)), 0.2, epsilon = 0.02);
    assert_eq!(silent(1), silent(1));
    assert_ne!(silent(1), silent(2));
}
