//! The demo's script on its site: what it tells in its first lines does happen, and what the plant's
//! transmitters give solves back to the plant's true levels by the balance.

use standpipe::engine::plan::{Hookup, Leg as LegPlan, LegFill, Limit, Source, TankPlan};
use standpipe::physics::balance::{Balance, Leg};
use standpipe::physics::liquid::{Conditions, Gas};
use standpipe::plant::Plant;
use standpipe::quantity::{
    AbsolutePressure, DifferentialPressure, Length, MassDensity, Temperature, kelvin, metres,
};
use standpipe::rehearsal::{Script, Timeline, scenario};
use standpipe::site::Site;
use std::path::Path;
use std::time::Duration;

/// By what true noise, the engine's knowledge of temperatures and the registers' steps may move a level.
const WITHIN_M: f64 = 0.010;

struct Demo {
    site: Site,
    plant: Plant,
    timeline: Timeline,
}

impl Demo {
    fn start() -> Self {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("config/demo.toml");
        let script = Script::read(&path).unwrap_or_else(|problems| panic!("{problems}"));
        let site =
            standpipe::site::read(&script.site).unwrap_or_else(|problems| panic!("{problems}"));
        let scene = scenario::plant(&site, &script).unwrap_or_else(|problems| panic!("{problems}"));
        assert_eq!(scene.notes, Vec::<String>::new());
        Self {
            site,
            plant: Plant::new(scene.plant, script.seed),
            timeline: scene.timeline,
        }
    }

    fn run_to(&mut self, seconds: f64) {
        let by = Duration::from_secs_f64(seconds) - self.plant.time();
        let timeline = &mut self.timeline;
        self.plant.advance_under(by, |plant| {
            timeline.apply(plant);
        });
    }

    fn tank(&self, name: &str) -> usize {
        self.site
            .plan
            .tanks
            .iter()
            .position(|tank| &*tank.name == name)
            .expect(name)
    }

    fn level_m(&self, tank: &str) -> f64 {
        self.plant.level(self.tank(tank)).value
    }

    /// The level that the site's own description makes of what the transmitters tell now.
    fn solved_m(&self, tank: &str) -> f64 {
        let site = Solver {
            demo: self,
            tank: &self.site.plan.tanks[self.tank(tank)],
        };
        site.level().value
    }
}

/// The balance filled in from the site's plan: temperatures and pressures as the transmitters tell them.
struct Solver<'d> {
    demo: &'d Demo,
    tank: &'d TankPlan,
}

impl Solver<'_> {
    fn level(&self) -> Length {
        let leg = |leg: &LegPlan, at: Length| Leg {
            tap: leg.tap,
            diaphragm: at,
            fill: self.fill(&leg.fill),
        };
        let read = |id: standpipe::engine::TransmitterId| {
            let plan = &self.demo.site.plan.transmitters[id.index()];
            self.demo.plant.value(id.index()) - plan.zero
        };
        let gravity = self.demo.site.plan.gravity;
        let (high, low, difference_pa) = match &self.tank.hookups[0].hookup {
            Hookup::Vented {
                transmitter,
                at,
                high,
                vent,
            } => {
                let tap = vent.unwrap_or(self.tank.vessel.top());
                let low = Leg {
                    tap,
                    diaphragm: *at,
                    fill: self.air_density(),
                };
                (leg(high, *at), low, read(*transmitter))
            }
            Hookup::Differential {
                transmitter,
                at,
                high,
                low,
                reversed,
            } => {
                let sign = if *reversed { -1.0 } else { 1.0 };
                (leg(high, *at), leg(low, *at), sign * read(*transmitter))
            }
            Hookup::TwoTransmitter { bottom, headspace } => {
                let between = (headspace.at - bottom.at).value;
                let air_pa = self.air_density().value * gravity.value * between;
                let difference_pa = read(bottom.transmitter) - read(headspace.transmitter) + air_pa;
                (
                    leg(&bottom.leg, bottom.at),
                    leg(&headspace.leg, headspace.at),
                    difference_pa,
                )
            }
            other => panic!("the demo has no {}", other.name()),
        };
        let liquid = &self.tank.liquid;
        let balance = Balance {
            gravity,
            liquid: liquid
                .liquid
                .density(self.at(self.temperature(&liquid.temperature)))
                .value,
            gas: self.gas_density(self.temperature(&self.tank.gas.temperature)),
            high,
            low,
        };
        balance.solve(DifferentialPressure::pascals(difference_pa))
    }

    fn fill(&self, fill: &LegFill) -> MassDensity {
        let outside = self.temperature(&Source::Ambient);
        match fill {
            LegFill::OwnLiquid => self.tank.liquid.liquid.density(self.at(outside)).value,
            LegFill::Gas => self.gas_density(outside),
            LegFill::Filled(fill) => {
                fill.liquid
                    .density(self.at(self.temperature(&fill.temperature)))
                    .value
            }
        }
    }

    fn temperature(&self, source: &Source) -> Temperature {
        match source {
            Source::Fixed(value) => kelvin(*value),
            Source::Tags(tags) => {
                let sum: f64 = tags
                    .iter()
                    .map(|tag| self.demo.plant.value(tag.index()))
                    .sum();
                kelvin(sum / tags.len() as f64)
            }
            Source::Ambient => self.temperature(&self.demo.site.plan.ambient.temperature),
        }
    }

    fn at(&self, temperature: Temperature) -> Conditions {
        Conditions {
            temperature,
            pressure: AbsolutePressure::pascals(100_000.0),
        }
    }

    fn air_density(&self) -> MassDensity {
        Gas::Air
            .density(self.at(self.temperature(&Source::Ambient)))
            .value
    }

    fn gas_density(&self, temperature: Temperature) -> MassDensity {
        let pressure_pa = match &self.tank.gas.pressure {
            Source::Fixed(value) => *value,
            Source::Ambient => 100_000.0,
            Source::Tags(tags) => 100_000.0 + self.demo.plant.value(tags[0].index()),
        };
        let pressure = AbsolutePressure::pascals(pressure_pa);
        self.tank
            .gas
            .gas
            .density(Conditions {
                temperature,
                pressure,
            })
            .value
    }
}

#[test]
fn every_tank_solves_back_to_its_true_level() {
    let mut demo = Demo::start();
    for seconds in [0.0, 12.0, 30.0, 34.0] {
        demo.run_to(seconds);
        for tank in demo
            .site
            .plan
            .tanks
            .iter()
            .map(|tank| tank.name.to_string())
        {
            let (solved, truth) = (demo.solved_m(&tank), demo.level_m(&tank));
            assert!(
                (solved - truth).abs() < WITHIN_M,
                "{tank} at {seconds} s: {solved} m, truly {truth} m"
            );
        }
    }
}

#[test]
fn the_clearwell_passes_its_alarm_and_comes_back() {
    let mut demo = Demo::start();
    let alarms = &demo.site.plan.tanks[demo.tank("clearwell")].alarms;
    let alarm = alarms
        .iter()
        .find(|alarm| &*alarm.code == "LAH")
        .expect("the clearwell has one");
    let Limit::Above(limit) = alarm.limit else {
        panic!("{:?}", alarm.limit)
    };
    let back = limit - alarm.deadband;
    demo.run_to(18.0);
    assert!(demo.solved_m("clearwell") < limit);
    demo.run_to(23.0);
    assert!(demo.solved_m("clearwell") > limit);
    demo.run_to(65.0);
    assert!(demo.solved_m("clearwell") > back);
    demo.run_to(75.0);
    assert!(demo.solved_m("clearwell") < back);
    demo.run_to(600.0);
    let rest = demo.level_m("clearwell");
    assert!(rest > 4.0 && rest < back, "{rest}");
}

#[test]
fn the_degasser_seems_to_jump_while_its_low_side_is_plugged() {
    let mut demo = Demo::start();
    let error = |demo: &Demo| demo.solved_m("degasser") - demo.level_m("degasser");
    demo.run_to(44.5);
    assert!(error(&demo).abs() < WITHIN_M);
    demo.run_to(50.0);
    // 5 kPa are 5000/(9.81·999) m of water.
    assert!((error(&demo) - 0.51).abs() < 0.02, "{}", error(&demo));
    demo.run_to(70.0);
    assert!(error(&demo).abs() < WITHIN_M);
}

#[test]
fn all_that_is_asked_for_stays_within_the_vessels() {
    let mut demo = Demo::start();
    demo.run_to(1800.0);
    for (place, tank) in demo.site.plan.tanks.iter().enumerate() {
        let level = demo.plant.level(place);
        let (low, high) = (
            tank.marks.working_low.unwrap_or(metres(0.0)),
            tank.marks.working_high,
        );
        assert!(
            level > low && high.is_none_or(|high| level < high),
            "{} at {} m",
            tank.name,
            level.value
        );
        assert_eq!(
            demo.plant.overflowed(place).value.to_bits(),
            0.0_f64.to_bits()
        );
    }
}
