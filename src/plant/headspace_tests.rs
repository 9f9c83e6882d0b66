//! Closed-in gas by the gas law, and what feeds and relieves it.

use super::tests::{model, tapped};
use super::*;
use crate::quantity::AbsolutePressure;
use crate::quantity::{VolumeRate, cubic_metres_per_second, metres};
use approx::assert_abs_diff_eq;

/// 1 m² and 6 m: 3 m³ of water under 3 m³ of gas at 200 kPa(a), read at the top.
fn closed(gas: GasModel) -> Plant {
    let mut model = model(Senses::Absolute {
        tank: 0,
        line: tapped(6.0, 6.0, Fill::Gas),
    });
    model.tanks[0].headspace = HeadspaceModel::Gas(gas);
    Plant::new(model, 1)
}

fn shut() -> GasModel {
    GasModel::shut(AbsolutePressure::pascals(200_000.0))
}

fn set(pascals: f64, flow: f64) -> Option<(AbsolutePressure, VolumeRate)> {
    Some((
        AbsolutePressure::pascals(pascals),
        cubic_metres_per_second(flow),
    ))
}

fn after(plant: &mut Plant, seconds: u64) -> f64 {
    plant.advance(Duration::from_secs(seconds));
    plant.value(0)
}

#[test]
fn the_liquid_squeezes_it_and_warmth_lifts_it() {
    let mut plant = closed(shut());
    plant.set(0, Setting::Inflow, 0.01);
    after(&mut plant, 100);
    plant.set(0, Setting::Inflow, 0.0);
    // p·V stays: 200 kPa · 3 m³ in 2 m³.
    assert_abs_diff_eq!(after(&mut plant, 1), 300_000.0, epsilon = 1.0);
    let kelvin = plant.setting(0, Setting::GasTemperature);
    plant.set(0, Setting::GasTemperature, 1.1 * kelvin);
    assert_abs_diff_eq!(after(&mut plant, 1), 330_000.0, epsilon = 1.0);
}

#[test]
fn a_blanket_feeds_and_a_vent_relieves_it() {
    let (blanket, vent) = (set(190_000.0, 0.02), set(220_000.0, 0.02));
    let mut plant = closed(GasModel {
        blanket,
        vent,
        ..shut()
    });
    // Drawn at 10 L/s, half of what the blanket can bring: 190 kPa are kept.
    plant.set(0, Setting::Outflow, 0.01);
    assert_abs_diff_eq!(after(&mut plant, 100), 190_000.0, epsilon = 1.0);
    plant.inflict_headspace(0, HeadspaceFault::BlanketLost);
    // Then 4 m³ of it become 4.5.
    let by_hand = 190_000.0 * 4.0 / 4.5;
    assert_abs_diff_eq!(after(&mut plant, 50), by_hand, epsilon = 1.0);
    plant.mend_headspace(0, HeadspaceFault::BlanketLost);
    plant.set(0, Setting::Outflow, 0.0);
    plant.set(0, Setting::Inflow, 0.01);
    assert_abs_diff_eq!(after(&mut plant, 300), 220_000.0, epsilon = 1.0);
    plant.inflict_headspace(0, HeadspaceFault::VentBlocked);
    // 1.5 m³ of 220 kPa in 1 m³.
    assert_abs_diff_eq!(after(&mut plant, 50), 330_000.0, epsilon = 2.0);
}

#[test]
fn a_leak_lets_it_down_to_the_air() {
    let mut plant = closed(shut());
    let air_pa = plant.weather(Weather::Pressure) - 5.0 * 1.225 * 9.81;
    plant.inflict_headspace(0, HeadspaceFault::Leak(60.0));
    // After one time constant 1/e of what it had above the air's pressure is left.
    let by_hand = air_pa + (200_000.0 - air_pa) * (-1.0_f64).exp();
    assert_abs_diff_eq!(after(&mut plant, 60), by_hand, epsilon = 1.0);
}

#[test]
fn a_vent_that_is_blocked_closes_an_open_tank() {
    let mut model = model(Senses::Gauge {
        tank: 0,
        line: tapped(0.0, 0.0, Fill::Liquid),
    });
    model.tanks[0].headspace = HeadspaceModel::Vented { at: metres(6.0) };
    let mut plant = Plant::new(model, 1);
    let sound = plant.value(0);
    plant.inflict_headspace(0, HeadspaceFault::VentBlocked);
    plant.set(0, Setting::Outflow, 0.01);
    let drawn = after(&mut plant, 100) - sound;
    // 3 m³ of gas become 4: the gas falls by a quarter of the air's pressure at 6 m, and 1 m of water less gas of
    // 5 kg/m³ is gone.
    let air_pa = plant.weather(Weather::Pressure) - 5.0 * 1.225 * 9.81;
    assert_abs_diff_eq!(drawn, -air_pa / 4.0 - 9.81 * 995.0, epsilon = 2.0);
    plant.mend_headspace(0, HeadspaceFault::VentBlocked);
    plant.set(0, Setting::Outflow, 0.0);
    assert_abs_diff_eq!(after(&mut plant, 1) - sound, -9.81 * 995.0, epsilon = 1.0);
}
