//! A tank at rest: what it loses, and what it follows that it should not.

use crate::normal::{Chance, Damped};
use crate::rig::Rig;
use crate::sites::{METERED, vented};
use standpipe::engine::checks::finding::{Confidence, Fault};
use standpipe::engine::checks::follows::{OutsideBlock, OutsideWatch};
use standpipe::engine::checks::idle::{IdleWatch, RestBlock, RestTerms, slope};
use standpipe::engine::memory::Remembered;
use std::f64::consts::TAU;
use std::time::Duration;

/// 10 m² of water.
const TERMS: RestTerms = RestTerms {
    density_kg_m3: 1000.0,
    kg_per_pa: 1.02,
    effect_pa_k: Some(3.0),
    allowed_m3_s: None,
};

/// Hours of rest with a loss in L/h, noise of 10 kg, correlated, and a day's rhythm of ambient that the
/// transmitter follows within its specification.
fn rest(seed: u64, hours: u64, loss_l_h: f64) -> IdleWatch {
    let (mut chance, mut noise, mut watch) =
        (Chance::new(seed), Damped::new(0.9), IdleWatch::default());
    let phase = chance.uniform(0.0, TAU);
    for block in 0..hours * 720 {
        let hour = block as f64 / 720.0;
        let warmth = (TAU * hour / 24.0 + phase).sin();
        let mass_kg =
            20_000.0 - loss_l_h * hour + 10.0 * noise.next(&mut chance) + 5.0 * 1.0 * 1.02 * warmth;
        watch.take(Some(RestBlock {
            up: Duration::from_secs(5 * block),
            hour: (block / 720 % 24) as u8,
            mass_kg,
            ambient_k: Some(285.0 + 5.0 * warmth),
        }));
    }
    watch
}

#[test]
fn a_loss_at_rest_is_found_and_a_tight_tank_is_left_alone() {
    for seed in 0..60 {
        let (fault, _, text) = rest(seed, 8, 20.0)
            .finding(&TERMS)
            .expect("20 L/h in 8 hours");
        assert_eq!(fault, Fault::LosesAtRest, "{text}");
        let (fault, confidence, text) = rest(seed, 24, -40.0)
            .finding(&TERMS)
            .expect("40 L/h in a day");
        assert_eq!(
            (fault, confidence),
            (Fault::GainsAtRest, Confidence::Probable),
            "{text}"
        );
    }
    for seed in 0..200 {
        for hours in [3, 7, 13, 26] {
            assert_eq!(
                rest(seed, hours, 0.0).finding(&TERMS),
                None,
                "seed {seed}, {hours} h"
            );
        }
    }
    // What the site file allows is no loss.
    let allowed = RestTerms {
        allowed_m3_s: Some(30.0 / 3.6e6),
        ..TERMS
    };
    assert_eq!(rest(1, 12, 20.0).finding(&allowed), None);
}

#[test]
fn it_says_what_it_could_find_or_why_it_cannot() {
    let ability = rest(1, 8, 0.0).ability(Some(&TERMS), true);
    assert!(
        ability.diagnosable && ability.text.contains("L/h after 7.7 h"),
        "{}",
        ability.text
    );
    let unknown = IdleWatch::default().ability(None, false);
    assert!(
        unknown.text.contains("nothing says when nothing flows"),
        "{}",
        unknown.text
    );
    // A movement ends the stretch.
    let mut watch = rest(1, 8, 50.0);
    watch.take(None);
    assert_eq!(watch.slope(), None);
}

/// σ√(12/N)/T is the standard error of a least-squares slope of white noise: over many trials the slopes
/// scatter by it.
#[test]
fn the_standard_error_is_what_slopes_scatter_by() {
    let mut chance = Chance::new(9);
    let (mut squares, mut errors, trials) = (0.0, 0.0, 400);
    for _ in 0..trials {
        let points: Vec<(f64, f64)> = (0..100)
            .map(|place| (f64::from(place) * 60.0, chance.normal()))
            .collect();
        let found = slope(&points).expect("a slope");
        squares += found.per_second.powi(2);
        errors += found.standard_error;
    }
    let ratio = (squares / f64::from(trials)).sqrt() / (errors / f64::from(trials));
    assert!((0.85..1.15).contains(&ratio), "{ratio}");
}

/// Days at rest in which the head follows temperature and barometer by so much.
fn outside(seed: u64, per_k: f64, per_pa: f64) -> OutsideWatch {
    outside_but(seed, per_k, per_pa, |_| false)
}

/// The same, but for the blocks that are missing.
fn outside_but(seed: u64, per_k: f64, per_pa: f64, missing: fn(u64) -> bool) -> OutsideWatch {
    let (mut chance, mut watch) = (Chance::new(seed), OutsideWatch::default());
    let (mut noise, mut weather) = (Damped::new(0.95), Damped::new(0.9998));
    let phase = chance.uniform(0.0, TAU);
    for block in 0..3 * 17_280_u64 {
        let ambient_k = 285.0 + 6.0 * (TAU * block as f64 / 17_280.0 + phase).sin();
        let barometer_pa = 100_000.0 + 900.0 * weather.next(&mut chance);
        let head_pa = 30_000.0
            + per_k * (ambient_k - 285.0)
            + per_pa * (barometer_pa - 100_000.0)
            + 10.0 * noise.next(&mut chance);
        if missing(block) {
            continue;
        }
        watch.take(Some(OutsideBlock {
            up: Duration::from_secs(5 * block),
            head_pa,
            ambient_k: Some(ambient_k),
            barometer_pa: Some(barometer_pa),
        }));
    }
    watch
}

#[test]
fn what_follows_the_air_is_found_and_what_does_not_is_left_alone() {
    let faults = |watch: &OutsideWatch| -> Vec<Fault> {
        watch
            .findings(Some(3.0), true)
            .map(|(fault, ..)| fault)
            .collect()
    };
    for seed in 0..60 {
        assert_eq!(
            faults(&outside(seed, 40.0, 0.0)),
            [Fault::FollowsTemperature],
            "seed {seed}"
        );
        assert_eq!(
            faults(&outside(seed, 0.0, 1.0)),
            [Fault::FollowsWeather],
            "seed {seed}"
        );
        assert_eq!(faults(&outside(seed, 0.0, 0.0)), [], "seed {seed}");
        // Within what the transmitter is specified for.
        assert_eq!(faults(&outside(seed, 2.0, 0.0)), [], "seed {seed}");
        // A transmitter between two ports does not know the air outside.
        let closed = outside(seed, 0.0, 1.0);
        assert_eq!(closed.findings(Some(3.0), false).count(), 0);
    }
}

/// Single blocks, and an hour and a half each day, are not read; five hours of the last day are too many.
#[test]
fn readings_that_are_missing_for_a_while_take_nothing_away() {
    fn minute(block: u64) -> u64 {
        block % 17_280 / 12
    }
    for seed in 0..10 {
        let holes = outside_but(seed, 40.0, 0.0, |block| {
            block % 700 == 0 || (300..390).contains(&minute(block))
        });
        let found: Vec<Fault> = holes.findings(Some(3.0), true).map(|one| one.0).collect();
        assert_eq!(found, [Fault::FollowsTemperature], "seed {seed}");
        let whole = outside_but(seed, 40.0, 0.0, |block| {
            block > 2 * 17_280 && minute(block) < 300
        });
        assert_eq!(whole.findings(Some(3.0), true).count(), 0, "seed {seed}");
    }
}

/// Polls that are not answered for some minutes end no rest; after ten of them anything may have flowed.
#[test]
fn a_poll_without_an_answer_ends_no_rest() {
    for (silent_minutes, goes_on) in [(1, true), (4, true), (10, false)] {
        let (mut rig, mut chance) = (Rig::start(&vented(METERED)), Chance::new(4));
        for minute in 0..8 * 60 {
            rig.pass(60.0);
            let level_pa = 19_620.0 + 2.0 * chance.normal();
            let all = [("FT-201", 0.0), ("FT-202", 0.0), ("LT", level_pa)];
            if minute % 100 < 100 - silent_minutes {
                rig.read(&all);
            }
        }
        let tank = rig.tank("day");
        let mut abilities = tank.abilities.iter();
        let at_rest = abilities.find(|one| one.check == "movement at rest");
        let text = &at_rest.expect("it is told").text;
        let hours = text.split(" h of rest").next().expect("a word");
        let hours = hours
            .rsplit(' ')
            .next()
            .and_then(|hours| hours.parse().ok());
        let hours: f64 = hours.unwrap_or(0.0);
        assert_eq!(hours > 7.0, goes_on, "{text}");
    }
}

/// Days that lose 30 L/h from 0 to 8 h, when it rests, and on the last of them so much more.
fn nights(seed: u64, days: u64, more_l_h: f64) -> Option<(Confidence, String)> {
    let (mut chance, mut watch) = (Chance::new(seed), IdleWatch::default());
    let mut found = None;
    for block in 0..days * 17_280 {
        let (day, hour) = (block / 17_280, block / 720 % 24);
        if hour >= 9 {
            watch.take(None);
            continue;
        }
        let more_l_h = if day + 1 == days { more_l_h } else { 0.0 };
        let lost_kg = (30.0 + more_l_h) * (block % 17_280) as f64 / 720.0;
        watch.take(Some(RestBlock {
            up: Duration::from_secs(5 * block),
            hour: hour as u8,
            mass_kg: 20_000.0 - lost_kg + 2.0 * chance.normal(),
            ambient_k: Some(285.0),
        }));
        if day + 1 == days
            && let Some((_, confidence, text)) = watch.finding(&TERMS)
        {
            found = Some((confidence, text));
        }
    }
    found
}

/// What comes again each night is told, but as possible only; what is more than that may become probable.
#[test]
fn a_loss_that_is_usual_at_its_hours_stays_possible() {
    for seed in 0..10 {
        let (first, text) = nights(seed, 1, 0.0).expect("30 L/h");
        assert_eq!(first, Confidence::Probable, "{text}");
        assert!(!text.contains("usual"), "{text}");
        let (usual, text) = nights(seed, 6, 0.0).expect("30 L/h");
        assert_eq!(usual, Confidence::Possible, "{text}");
        assert!(text.contains("is usual at these hours"), "{text}");
        let (more, text) = nights(seed, 6, 60.0).expect("90 L/h");
        assert_eq!(more, Confidence::Probable, "{text}");
    }
}

/// So many minutes: at rest from 0 to 8 h of the day, when it loses 30 L/h; then as much comes as goes.
fn live(rig: &mut Rig, chance: &mut Chance, minutes: u32) {
    for _ in 0..minutes {
        rig.pass(60.0);
        let minute_of_day = rig.now.utc.as_second().rem_euclid(86_400) / 60;
        let (lost_m3, flow_m3_h) = match minute_of_day {
            minute @ 0..480 => (0.030 * minute as f64 / 60.0, 0.0),
            _ => (0.24, 1.0),
        };
        let level_pa = 9810.0 * (2.0 - lost_m3 / 10.0) + 2.0 * chance.normal();
        rig.read(&[
            ("FT-201", flow_m3_h),
            ("FT-202", flow_m3_h),
            ("LT", level_pa),
        ]);
    }
}

fn movement_at_rest(rig: &Rig) -> String {
    let findings = rig.tank("day").findings;
    let found = findings.iter().map(|open| &open.finding);
    let mut found = found.filter(|finding| finding.fault == Fault::LosesAtRest);
    found.next().expect("30 L/h").evidence.clone()
}

/// The engine gives away what is usual at rest once it changes, and a new one takes it up.
#[test]
fn what_is_usual_outlives_a_restart_of_the_engine() {
    let (mut rig, mut chance) = (Rig::start(&vented(METERED)), Chance::new(4));
    // To the evening of the fifth day.
    live(&mut rig, &mut chance, 4 * 1440 + 900);
    let Some((of, Remembered::Rest(rest))) = (rig.kept.iter())
        .find(|(_, kept)| matches!(kept, Remembered::Rest(_)))
        .cloned()
    else {
        panic!("it is kept: {:?}", rig.kept);
    };
    assert_eq!(of, "day");
    let known = rest.hours.iter().filter(|days| days.len() >= 3).count();
    assert_eq!(known, 8, "{:?}", rest.hours);
    // 30 L/h are 30 kg/h.
    let night: Vec<f32> = rest.hours[1..7].concat();
    assert!(
        night.iter().all(|kg_s| (kg_s * 3600.0 + 30.0).abs() < 3.0),
        "{night:?}"
    );

    // To 7 h of the next morning.
    let mut next_morning = |kept: &[(String, Remembered)]| {
        let mut rig = rig.restarted(kept);
        live(&mut rig, &mut chance, 660);
        movement_at_rest(&rig)
    };
    let knows = next_morning(&rig.kept);
    assert!(knows.contains("is usual at these hours"), "{knows}");
    let knows_not = next_morning(&[]);
    assert!(!knows_not.contains("usual"), "{knows_not}");
}
