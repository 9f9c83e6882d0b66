//! Pumps and valves against flows worked out by hand.

use super::tests::{G, level_output, model};
use super::*;
use crate::quantity::{cubic_metres_per_second, metres};
use approx::assert_abs_diff_eq;

/// Two open tanks of 1 m² with 3 m and 1 m of water, and gas without weight.
fn two(pipe: PipeModel) -> Plant {
    let mut model = model(Senses::Level {
        tank: 0,
        ranging: Ranging::of_the_surface(),
    });
    model.transmitters[0].output = level_output();
    model.tanks[0].headspace = HeadspaceModel::Vented { at: metres(6.0) };
    let mut second = model.tanks[0].clone();
    second.level = metres(1.0);
    model.tanks.push(second);
    model.pipes = vec![pipe];
    Plant::new(model, 1)
}

fn end(tank: usize, at: f64) -> Option<End> {
    let at = metres(at);
    Some(End { tank, at })
}

fn pipe(from: Option<End>, to: Option<End>, drive: Drive) -> PipeModel {
    PipeModel {
        name: "P-1".into(),
        from,
        to,
        drive,
        share: 1.0,
        switch: None,
        contact: None,
    }
}

/// m³/s out of the first tank over the next second, m³/s into the second.
fn flows(plant: &mut Plant) -> (f64, f64) {
    let before = (plant.volume(0).value, plant.volume(1).value);
    plant.advance(STEP);
    let seconds = STEP.as_secs_f64();
    (
        (before.0 - plant.volume(0).value) / seconds,
        (plant.volume(1).value - before.1) / seconds,
    )
}

#[test]
fn a_valve_passes_by_the_root_of_the_difference() {
    let kv = cubic_metres_per_second(36.0 / 3600.0);
    let drive = Drive::Valve { kv, outside: None };
    let mut plant = two(pipe(end(0, 0.0), end(1, 0.0), drive));
    // 2 m of 1000 kg/m³, less 2 m of gas of 5 kg/m³ that stand on the other side: Kv·√(Δp/1 bar).
    let by_hand = 0.01 * (G * 2.0 * 995.0 / 1e5).sqrt();
    let (out, into) = flows(&mut plant);
    assert_abs_diff_eq!(out, by_hand, epsilon = 1e-12);
    assert_abs_diff_eq!(into, by_hand, epsilon = 1e-12);
    plant.set_pipe(0, 0.25);
    plant.set_level(0, metres(1.0));
    plant.set_level(1, metres(3.0));
    plant.advance(STEP);
    // The other way, a quarter open. (The heads of the step before count.)
    let (out, _) = flows(&mut plant);
    assert_abs_diff_eq!(out, -0.25 * by_hand, epsilon = 1e-5);
}

#[test]
fn a_nozzle_above_the_surface_gives_nothing() {
    let kv = cubic_metres_per_second(0.01);
    let drive = Drive::Valve { kv, outside: None };
    let mut plant = two(pipe(end(0, 3.5), None, drive));
    assert_abs_diff_eq!(flows(&mut plant).0, 0.0);
    let mut plant = two(pipe(end(0, 2.0), None, drive));
    // 1 m of water under 3 m of gas, against the air at the nozzle: 4 m of air of 1.225 kg/m³ stand outside.
    let driving = G * (1000.0 * 1.0 + 5.0 * 3.0 - 1.225 * 4.0);
    let by_hand = 0.01 * (driving / 1e5).sqrt();
    assert_abs_diff_eq!(flows(&mut plant).0, by_hand, epsilon = 1e-6);
}

#[test]
fn a_pump_meets_its_head() {
    let rate = cubic_metres_per_second(0.01);
    let shut_off = Some(metres(8.0));
    let drive = Drive::Pump { rate, shut_off };
    // It lifts from 3 m to 5 m above the zero, into the gas there.
    let mut plant = two(pipe(end(0, 0.0), end(1, 5.0), drive));
    let lift = 5.0 - 3.0 + 5.0 * (1.0 - 3.0) / 1000.0;
    let (out, into) = flows(&mut plant);
    assert_abs_diff_eq!(out, 0.01 * (1.0 - lift / 8.0_f64).sqrt(), epsilon = 1e-9);
    assert_abs_diff_eq!(into, out, epsilon = 1e-12);
    // Just under half speed its shut-off head is less than a quarter, 2 m: it lifts nothing.
    plant.set_pipe(0, 0.49);
    assert_abs_diff_eq!(flows(&mut plant).0, 0.0);
}

#[test]
fn a_level_switch_starts_and_stops_it_and_its_contact_tells() {
    let rate = cubic_metres_per_second(0.02);
    let drive = Drive::Pump {
        rate,
        shut_off: None,
    };
    let mut model = model(Senses::Level {
        tank: 0,
        ranging: Ranging::of_the_surface(),
    });
    model.contacts = vec![ContactModel {
        tag: "P-1".into(),
        link: 0,
        device: 1,
        space: Space::Coil,
        address: 0,
        bit: None,
        inverted: false,
        on: false,
    }];
    model.pipes = vec![PipeModel {
        switch: Some(LevelSwitch {
            tank: 0,
            starts: metres(3.5),
            stops: metres(2.5),
        }),
        contact: Some(0),
        ..pipe(end(0, 0.0), None, drive)
    }];
    model.tanks[0].inflow = cubic_metres_per_second(0.01);
    let mut plant = Plant::new(model, 1);
    let runs = |plant: &Plant| plant.answer(0, 1, Space::Coil, 0, 1) == Answer::Bits(vec![true]);
    // It fills from 3 m at 10 mm/s, so it starts after 50 s; it falls at 10 mm/s then, and stops after 100 s more.
    for (seconds, expected) in [(49, false), (51, true), (149, true), (153, false)] {
        plant.advance(Duration::from_secs(seconds) - plant.time());
        assert_eq!(runs(&plant), expected, "after {seconds} s");
    }
}
