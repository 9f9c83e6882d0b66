//! The timeline: what is due is done to the plant, at the plant's own time.
//!
//! Entries of one moment are done in the order of the script. A ramp is drawn straight, step by step; a
//! later entry for the same setting ends it.

use super::script::Asked;
use crate::plant::{Disturbance, Fault, HeadspaceFault, LinkFault, Noise, Plant, Setting, Weather};
use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::time::Duration;

/// Something that is done to a plant at a moment, perhaps again and again.
#[derive(Clone, Debug)]
pub(super) struct Due {
    time: Duration,
    /// As the script has it, without what is added by chance.
    base: Duration,
    every: Option<Duration>,
    /// It is later by a share of this.
    jitter: Duration,
    chance: Noise,
    /// What is turned goes to more or less than its value, by a share up to this.
    scatter: f64,
    deed: Deed,
}

impl Due {
    /// Deeds with the same `chance` are late together.
    pub fn new(
        base: Duration,
        every: Option<Duration>,
        (jitter, chance): (Duration, Noise),
        deed: Deed,
    ) -> Self {
        let mut due = Self {
            time: base,
            base,
            every,
            jitter,
            chance,
            scatter: 0.0,
            deed,
        };
        due.draw();
        due
    }

    #[must_use]
    pub fn scattered(mut self, scatter: f64) -> Self {
        self.scatter = scatter;
        self
    }

    /// What is done this time.
    fn deed(&mut self) -> Deed {
        let mut deed = self.deed.clone();
        if let Deed::Turn { to, .. } = &mut deed
            && self.scatter > 0.0
        {
            *to *= 1.0 + self.scatter * (2.0 * self.chance.share() - 1.0);
        }
        deed
    }

    fn draw(&mut self) {
        if !self.jitter.is_zero() {
            self.time = self.base + self.jitter.mul_f64(self.chance.share());
        } else {
            self.time = self.base;
        }
    }
}

#[derive(Clone, Debug)]
pub(super) enum Deed {
    /// In SI units; `over` a time, or at once.
    Turn {
        knob: Knob,
        to: f64,
        over: Duration,
    },
    /// It grows to its size `over` a time.
    Inflict {
        transmitter: usize,
        fault: Fault,
        over: Duration,
    },
    Mend {
        transmitter: usize,
        fault: Fault,
    },
    InflictHeadspace {
        tank: usize,
        fault: HeadspaceFault,
    },
    MendHeadspace {
        tank: usize,
        fault: HeadspaceFault,
    },
    Disturb {
        link: usize,
        fault: LinkFault,
        device: Option<u8>,
        share: f64,
        lasting: Duration,
    },
    Switch {
        contact: usize,
        on: bool,
    },
    Ask(Asked),
    /// By so many seconds.
    StepClock(f64),
}

/// Whatever can be turned in a plant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Knob {
    Tank(usize, Setting),
    Weather(Weather),
    /// A pump or a valve.
    Pipe(usize),
}

impl Knob {
    fn turn(self, plant: &mut Plant, value: f64) {
        match self {
            Knob::Tank(tank, setting) => plant.turn(tank, setting, value),
            Knob::Weather(weather) => plant.turn_weather(weather, value),
            Knob::Pipe(pipe) => plant.set_pipe(pipe, value),
        }
    }

    fn stands_at(self, plant: &Plant) -> f64 {
        match self {
            Knob::Tank(tank, setting) => plant.setting(tank, setting),
            Knob::Weather(weather) => plant.weather(weather),
            Knob::Pipe(pipe) => plant.pipe_share(pipe),
        }
    }
}

/// What is due and is not for the plant.
#[derive(Clone, Debug, PartialEq)]
pub enum Outside {
    Asked(Asked),
    /// The wall clock goes by so many seconds.
    Clock(f64),
}

#[derive(Clone, Debug)]
pub struct Timeline {
    due: Vec<Due>,
    /// When each of them is due next, by its place; what is over is in it no more.
    next: BinaryHeap<Reverse<(Duration, usize)>>,
    ramps: Vec<Ramp>,
    growths: Vec<Growth>,
    last: Option<Duration>,
}

#[derive(Clone, Copy, Debug)]
struct Ramp {
    knob: Knob,
    start: Duration,
    over: Duration,
    from: f64,
    to: f64,
}

/// A fault that grows to its size.
#[derive(Clone, Copy, Debug)]
struct Growth {
    transmitter: usize,
    fault: Fault,
    start: Duration,
    over: Duration,
}

impl Timeline {
    pub(super) fn new(due: Vec<Due>, last: Option<Duration>) -> Self {
        let times = due.iter().map(|due| due.time).zip(0..);
        Self {
            next: times.map(Reverse).collect(),
            due,
            ramps: Vec::new(),
            growths: Vec::new(),
            last,
        }
    }

    /// How long the script lasts; for ever, if it does not say.
    pub fn last(&self) -> Option<Duration> {
        self.last
    }

    /// Whether any entry asks for something that the plant alone cannot do.
    pub fn has_commands(&self) -> bool {
        let outside = |due: &Due| matches!(due.deed, Deed::Ask(_) | Deed::StepClock(_));
        self.due.iter().any(outside)
    }

    /// Do what is due. What people ask and what the clock does is handed back: it is not for the plant.
    pub fn apply(&mut self, plant: &mut Plant) -> Vec<Outside> {
        let now = plant.time();
        let mut asked = Vec::new();
        if self.is_due(now) {
            // What is done now is done to the plant as it was before anything was turned.
            plant.sense();
            while let Some((time, deed)) = self.next_due(now) {
                self.carry_out(time, deed, plant, &mut asked);
            }
        }
        self.move_ramps(now, plant);
        asked
    }

    fn is_due(&self, now: Duration) -> bool {
        let next = self.next.peek();
        next.is_some_and(|Reverse((time, _))| *time <= now)
    }

    /// The earliest deed that is due, of those of one moment the first in the script; put forward to its next time.
    fn next_due(&mut self, now: Duration) -> Option<(Duration, Deed)> {
        if !self.is_due(now) {
            return None;
        }
        let Reverse((time, place)) = self.next.pop()?;
        let due = &mut self.due[place];
        let deed = due.deed();
        if let Some(every) = due.every {
            due.base += every;
            due.draw();
            self.next.push(Reverse((due.time, place)));
        }
        Some((time, deed))
    }

    fn carry_out(
        &mut self,
        start: Duration,
        deed: Deed,
        plant: &mut Plant,
        asked: &mut Vec<Outside>,
    ) {
        match deed {
            Deed::Turn { knob, to, over } => {
                self.move_ramps(start, plant);
                self.ramps.retain(|ramp| ramp.knob != knob);
                let from = knob.stands_at(plant);
                self.ramps.push(Ramp {
                    knob,
                    start,
                    over,
                    from,
                    to,
                });
            }
            Deed::Inflict {
                transmitter,
                fault,
                over,
            } => match over.is_zero() {
                true => plant.inflict(transmitter, fault),
                false => self.growths.push(Growth {
                    transmitter,
                    fault,
                    start,
                    over,
                }),
            },
            Deed::Mend { transmitter, fault } => {
                let is_it = |one: &Growth| (one.transmitter, one.fault) == (transmitter, fault);
                self.growths.retain(|one| !is_it(one));
                plant.mend(transmitter, fault);
            }
            Deed::InflictHeadspace { tank, fault } => plant.inflict_headspace(tank, fault),
            Deed::MendHeadspace { tank, fault } => plant.mend_headspace(tank, fault),
            Deed::Disturb {
                link,
                fault,
                device,
                share,
                lasting,
            } => {
                let by = Disturbance {
                    fault,
                    device,
                    share,
                    until: start + lasting,
                };
                plant.disturb_some(link, by);
            }
            Deed::Switch { contact, on } => plant.switch(contact, on),
            Deed::Ask(command) => asked.push(Outside::Asked(command)),
            Deed::StepClock(by_s) => asked.push(Outside::Clock(by_s)),
        }
    }

    fn move_ramps(&mut self, now: Duration, plant: &mut Plant) {
        if self.ramps.is_empty() && self.growths.is_empty() {
            return;
        }
        if !self.growths.is_empty() {
            plant.sense();
        }
        for ramp in &self.ramps {
            ramp.knob.turn(plant, ramp.value(now));
        }
        self.ramps.retain(|ramp| now < ramp.start + ramp.over);
        for growth in &self.growths {
            let share = now
                .saturating_sub(growth.start)
                .div_duration_f64(growth.over);
            plant.inflict(growth.transmitter, growth.fault.grown(share.min(1.0)));
        }
        self.growths
            .retain(|growth| now < growth.start + growth.over);
    }
}

impl Ramp {
    fn value(&self, now: Duration) -> f64 {
        let gone = now.saturating_sub(self.start);
        if gone >= self.over {
            return self.to;
        }
        self.from + (self.to - self.from) * gone.div_duration_f64(self.over)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::Command;
    use crate::plant::tests::dry_leg_model;
    use crate::plant::{STEP, Side};

    fn seconds(seconds: f64) -> Duration {
        Duration::from_secs_f64(seconds)
    }

    fn plant() -> Plant {
        Plant::new(dry_leg_model(), 1)
    }

    fn turn(time: f64, to: f64, over: f64, every: Option<f64>) -> Due {
        let deed = Deed::Turn {
            knob: Knob::Tank(0, Setting::Inflow),
            to,
            over: seconds(over),
        };
        let never_late = (Duration::ZERO, Noise::new(1, 1));
        Due::new(seconds(time), every.map(seconds), never_late, deed)
    }

    /// The inflow that the plant has been given at each of some moments.
    fn inflows(due: Vec<Due>, moments: &[f64]) -> Vec<f64> {
        let (mut plant, mut timeline) = (plant(), Timeline::new(due, None));
        let inflow_at = |moment: &f64| {
            plant.advance_under(seconds(*moment) + STEP - plant.time(), |plant| {
                timeline.apply(plant);
            });
            plant.setting(0, Setting::Inflow)
        };
        moments.iter().map(inflow_at).collect()
    }

    #[test]
    fn a_ramp_is_straight_and_a_later_entry_ends_it() {
        let due = vec![turn(1.0, 8.0, 4.0, None), turn(4.0, 1.0, 0.0, None)];
        assert_eq!(
            inflows(due, &[0.5, 1.0, 2.0, 3.0, 4.0, 9.0]),
            [0.0, 0.0, 2.0, 4.0, 1.0, 1.0]
        );
    }

    #[test]
    fn what_repeats_comes_again() {
        let due = vec![
            turn(1.0, 3.0, 0.0, Some(10.0)),
            turn(2.0, 0.0, 0.0, Some(10.0)),
        ];
        assert_eq!(
            inflows(due, &[1.5, 2.5, 11.5, 12.5, 101.5]),
            [3.0, 0.0, 3.0, 0.0, 3.0]
        );
    }

    #[test]
    fn entries_of_one_moment_go_in_their_order() {
        assert_eq!(
            inflows(
                vec![turn(1.0, 3.0, 0.0, None), turn(1.0, 5.0, 0.0, None)],
                &[1.0]
            ),
            [5.0]
        );
    }

    #[test]
    fn what_people_ask_is_handed_back_once() {
        let ask = Asked {
            command: Command::ConfirmLevel {
                tank: "a".into(),
                by: "Ada".into(),
            },
            refused: false,
            reads: None,
            said: "confirm \"a level\"".into(),
            place: 0..0,
        };
        let never_late = (Duration::ZERO, Noise::new(1, 1));
        let due = Due::new(seconds(1.0), None, never_late, Deed::Ask(ask.clone()));
        let (mut plant, mut timeline) = (plant(), Timeline::new(vec![due], None));
        assert!(timeline.has_commands());
        assert_eq!(timeline.apply(&mut plant), []);
        plant.advance(seconds(1.0));
        assert_eq!(timeline.apply(&mut plant), [Outside::Asked(ask)]);
        assert_eq!(timeline.apply(&mut plant), []);
    }

    #[test]
    fn jitter_puts_each_time_off_by_another_share_of_it() {
        let times = |seed: u64| {
            let jitter = (seconds(3.0), Noise::new(seed, 1));
            let deed = Deed::StepClock(1.0);
            let due = Due::new(seconds(10.0), Some(seconds(10.0)), jitter, deed);
            let (mut plant, mut timeline) = (plant(), Timeline::new(vec![due], None));
            let mut times = Vec::new();
            plant.advance_under(seconds(200.0), |plant| {
                if !timeline.apply(plant).is_empty() {
                    times.push(plant.time().as_secs_f64());
                }
            });
            times
        };
        let first = times(1);
        assert_eq!(first.len(), 19);
        let late: Vec<f64> = (1..)
            .zip(&first)
            .map(|(count, time)| time - 10.0 * f64::from(count))
            .collect();
        // Done at the step after it is due.
        assert!(
            late.iter().all(|late| (0.0..3.1).contains(late)),
            "{late:?}"
        );
        assert!(late.iter().any(|late| *late < 1.0) && late.iter().any(|late| *late > 2.0));
        assert_eq!(first, times(1));
        assert_ne!(first, times(2));
    }

    #[test]
    fn a_fault_that_grows_comes_to_its_size_and_is_mended_on_the_way() {
        let fault = Fault::Condensate(Side::Low, 0.8);
        let never_late = || (Duration::ZERO, Noise::new(1, 1));
        let (transmitter, over) = (0, seconds(10.0));
        let deed = Deed::Inflict {
            transmitter,
            fault,
            over,
        };
        let mend = Deed::Mend { transmitter, fault };
        let due = vec![
            Due::new(seconds(1.0), None, never_late(), deed),
            Due::new(seconds(9.0), None, never_late(), mend),
        ];
        let (mut plant, mut timeline) = (plant(), Timeline::new(due, None));
        let sound = plant.value(0);
        let mut at = |moment: f64| {
            let by = seconds(moment) + STEP - plant.time();
            plant.advance_under(by, |plant| drop(timeline.apply(plant)));
            plant.value(0) - sound
        };
        // A tenth of 0.8 m a second of 1000 instead of 5 kg/m³, g 9.81 m/s².
        for (moment, height) in [(1.0, 0.0), (3.0, 0.16), (6.0, 0.4), (9.0, 0.0), (12.0, 0.0)] {
            let by_hand = -9.81 * 995.0 * height;
            let found = at(moment);
            assert!((found - by_hand).abs() < 1e-6, "{moment} s: {found}");
        }
    }
}
