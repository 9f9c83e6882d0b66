//! The timeline: what is due is done to the plant, at the plant's own time.
//!
//! Entries of one moment are done in the order of the script. A ramp is drawn straight, step by step; a
//! later entry for the same setting ends it.

use super::script::Asked;
use crate::plant::{Fault, LinkFault, Plant, Setting};
use std::time::Duration;

/// Something that is done to a plant at a moment, perhaps again and again.
#[derive(Clone, Debug)]
pub(super) struct Due {
    pub time: Duration,
    pub every: Option<Duration>,
    pub deed: Deed,
}

#[derive(Clone, Debug)]
pub(super) enum Deed {
    /// In SI units; `over` a time, or at once.
    Turn {
        tank: usize,
        setting: Setting,
        to: f64,
        over: Duration,
    },
    Inflict {
        transmitter: usize,
        fault: Fault,
    },
    Mend {
        transmitter: usize,
        fault: Fault,
    },
    Disturb {
        link: usize,
        fault: LinkFault,
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
    ramps: Vec<Ramp>,
    last: Option<Duration>,
}

#[derive(Clone, Copy, Debug)]
struct Ramp {
    tank: usize,
    setting: Setting,
    start: Duration,
    over: Duration,
    from: f64,
    to: f64,
}

impl Timeline {
    pub(super) fn new(due: Vec<Due>, last: Option<Duration>) -> Self {
        Self {
            due,
            ramps: Vec::new(),
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
        while let Some((time, deed)) = self.next_due(now) {
            self.carry_out(time, deed, plant, &mut asked);
        }
        self.move_ramps(now, plant);
        asked
    }

    /// The earliest deed that is due, taken out or put forward to its next time.
    fn next_due(&mut self, now: Duration) -> Option<(Duration, Deed)> {
        let earliest = self
            .due
            .iter()
            .enumerate()
            .filter(|(_, due)| due.time <= now)
            .min_by_key(|(_, due)| due.time);
        let place = earliest.map(|(place, _)| place)?;
        let due = &mut self.due[place];
        let (time, deed) = (due.time, due.deed.clone());
        match due.every {
            Some(every) => due.time += every,
            None => drop(self.due.remove(place)),
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
            Deed::Turn {
                tank,
                setting,
                to,
                over,
            } => {
                self.move_ramps(start, plant);
                self.ramps
                    .retain(|ramp| (ramp.tank, ramp.setting) != (tank, setting));
                let from = plant.setting(tank, setting);
                self.ramps.push(Ramp {
                    tank,
                    setting,
                    start,
                    over,
                    from,
                    to,
                });
            }
            Deed::Inflict { transmitter, fault } => plant.inflict(transmitter, fault),
            Deed::Mend { transmitter, fault } => plant.mend(transmitter, fault),
            Deed::Disturb {
                link,
                fault,
                lasting,
            } => plant.disturb(link, fault, start + lasting),
            Deed::Switch { contact, on } => plant.switch(contact, on),
            Deed::Ask(command) => asked.push(Outside::Asked(command)),
            Deed::StepClock(by_s) => asked.push(Outside::Clock(by_s)),
        }
    }

    fn move_ramps(&mut self, now: Duration, plant: &mut Plant) {
        for ramp in &self.ramps {
            plant.set(ramp.tank, ramp.setting, ramp.value(now));
        }
        self.ramps.retain(|ramp| now < ramp.start + ramp.over);
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
    use crate::plant::STEP;
    use crate::plant::tests::dry_leg_model;

    fn seconds(seconds: f64) -> Duration {
        Duration::from_secs_f64(seconds)
    }

    fn plant() -> Plant {
        Plant::new(dry_leg_model(), 1)
    }

    fn turn(time: f64, to: f64, over: f64, every: Option<f64>) -> Due {
        let deed = Deed::Turn {
            tank: 0,
            setting: Setting::Inflow,
            to,
            over: seconds(over),
        };
        Due {
            time: seconds(time),
            every: every.map(seconds),
            deed,
        }
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
        };
        let due = Due {
            time: seconds(1.0),
            every: None,
            deed: Deed::Ask(ask.clone()),
        };
        let (mut plant, mut timeline) = (plant(), Timeline::new(vec![due], None));
        assert!(timeline.has_commands());
        assert_eq!(timeline.apply(&mut plant), []);
        plant.advance(seconds(1.0));
        assert_eq!(timeline.apply(&mut plant), [Outside::Asked(ask)]);
        assert_eq!(timeline.apply(&mut plant), []);
    }
}
