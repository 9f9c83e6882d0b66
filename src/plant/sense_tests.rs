//! What transmitters of two liquids, of levels, densities and flows show, by hand.

use super::tests::{G, fill_of, model, next, start, tapped, transmitter};
use super::*;
use crate::quantity::{cubic_metres_per_second, kilograms_per_cubic_metre, metres};
use approx::assert_abs_diff_eq;

/// 1100 kg/m³ up to 1.2 m under the 1000 kg/m³ that reach to 3 m, in a tank of 1 m².
fn two_liquids(senses: Senses) -> PlantModel {
    let mut two = model(senses);
    two.tanks[0].lower = Some(LowerLiquid {
        density: kilograms_per_cubic_metre(1100.0),
        boundary: metres(1.2),
    });
    two
}

#[test]
fn a_boundary_between_its_taps_by_hand() {
    let high = tapped(0.4, -0.5, fill_of(1100.0));
    let low = tapped(2.0, -0.5, fill_of(1000.0));
    let mut plant = start(two_liquids(Senses::Differential { tank: 0, high, low }));
    // Upper leg full of the upper liquid, lower leg of the lower: Δp = (ρ₁ − ρ₂)·g·(z_b + 0.5), what is above the
    // boundary cancels.
    assert_abs_diff_eq!(plant.value(0), G * 100.0 * (1.2 + 0.5), epsilon = 1e-6);
    plant.set(0, Setting::Interface, 0.7);
    assert_abs_diff_eq!(next(&mut plant), G * 100.0 * (0.7 + 0.5), epsilon = 1e-6);
    assert_abs_diff_eq!(plant.boundary(0).expect("two liquids").value, 0.7);
    // It is no higher than the liquid stands; mud below takes its place.
    plant.set(0, Setting::Interface, 4.0);
    plant.advance(STEP);
    assert_abs_diff_eq!(plant.boundary(0).expect("two liquids").value, 3.0);
    plant.set(0, Setting::Interface, 1.2);
    plant.set(0, Setting::Sediment, 0.6);
    // The tap at 0.4 m is under 0.2 m of 1200 kg/m³ now, instead of the lower liquid.
    let by_hand = G * (100.0 * (1.2 + 0.5) + 100.0 * 0.2);
    assert_abs_diff_eq!(next(&mut plant), by_hand, epsilon = 1e-6);
}

#[test]
fn a_tank_of_one_liquid_has_no_boundary() {
    let one = start(model(Senses::LiquidDensity { tank: 0 }));
    assert_eq!(one.boundary(0), None);
}

#[test]
fn a_transmitter_ranged_in_level_takes_the_liquid_for_the_one_that_it_was_ranged_for() {
    let ranged = |full: Option<f64>, ranged_for: Option<f64>| {
        let ranging = Ranging {
            zero: metres(0.5),
            full: full.map(metres),
            ranged_for: ranged_for.map(kilograms_per_cubic_metre),
        };
        start(model(Senses::Level { tank: 0, ranging })).value(0)
    };
    assert_abs_diff_eq!(ranged(None, None), 3.0, epsilon = 1e-12);
    // 2.5 m of the range of 5 m
    assert_abs_diff_eq!(ranged(Some(5.5), None), 0.5, epsilon = 1e-12);
    // 2.5 m of 1000 kg/m³ less as much gas of 5 kg/m³ weigh as 1.99 m of 1250 kg/m³.
    assert_abs_diff_eq!(
        ranged(None, Some(1250.0)),
        0.5 + 2.5 * 995.0 / 1250.0,
        epsilon = 1e-12
    );
    assert_abs_diff_eq!(
        ranged(Some(5.5), Some(1250.0)),
        0.5 * 0.796,
        epsilon = 1e-12
    );
}

#[test]
fn a_density_transmitter_shows_the_true_one() {
    let mut plant = start(model(Senses::LiquidDensity { tank: 0 }));
    assert_abs_diff_eq!(plant.value(0), 1000.0);
    plant.set(0, Setting::Density, 1010.0);
    assert_abs_diff_eq!(next(&mut plant), 1010.0, epsilon = 1e-9);
}

#[test]
fn flow_transmitters_show_what_comes_in_and_what_is_really_drawn() {
    let flow = cubic_metres_per_second;
    let mut model = model(Senses::Inflow { tank: 0 });
    let drawn = transmitter(Senses::Outflow { tank: 0 });
    let pumped = transmitter(Senses::PipeFlow { pipe: 0 });
    model.transmitters.extend([drawn, pumped]);
    model.tanks[0].inflow = flow(0.01);
    model.tanks[0].outflow = flow(0.002);
    let (rate, at) = (flow(0.03), metres(0.1));
    model.pipes = vec![PipeModel {
        name: "P-1".into(),
        from: Some(End { tank: 0, at }),
        to: None,
        drive: Drive::Pump {
            rate,
            shut_off: None,
        },
        share: 0.5,
        switch: None,
        contact: None,
    }];
    let mut plant = start(model);
    plant.advance(STEP);
    assert_abs_diff_eq!(plant.value(0), 0.01, epsilon = 1e-12);
    assert_abs_diff_eq!(plant.value(1), 0.002 + 0.015, epsilon = 1e-12);
    assert_abs_diff_eq!(plant.value(2), 0.015, epsilon = 1e-12);
    // Empty, with nothing but the inflow to draw from; the pump's nozzle lies free.
    plant.set_level(0, metres(0.0));
    plant.set(0, Setting::Outflow, 0.05);
    plant.advance(STEP * 2);
    assert_abs_diff_eq!(plant.value(1), 0.01, epsilon = 1e-9);
    assert_abs_diff_eq!(plant.value(2), 0.0);
}

#[test]
fn damping_follows_whatever_it_senses() {
    let ranging = Ranging {
        zero: metres(0.0),
        full: None,
        ranged_for: Some(kilograms_per_cubic_metre(1000.0)),
    };
    for senses in [
        Senses::Level { tank: 0, ranging },
        Senses::LiquidDensity { tank: 0 },
        Senses::Outflow { tank: 0 },
    ] {
        let mut damped = model(senses);
        damped.transmitters[0].damping = Duration::from_secs(2);
        let mut plant = start(damped);
        plant.advance(Duration::from_secs(10));
        let before = plant.value(0);
        plant.set(0, Setting::Density, 1010.0);
        plant.set(0, Setting::Outflow, 0.01);
        plant.advance(Duration::from_secs(30));
        let after = plant.value(0);
        assert!((after - before).abs() > 0.005, "{before} to {after}");
    }
}
