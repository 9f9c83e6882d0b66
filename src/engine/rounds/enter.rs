//! An entry: taken, compared, journalled; and what it says of a jump that stands open.

use super::NewEntry;
use super::entry::{EntryRefusal, Looked, SeenAt};
use super::held::Held;
use crate::engine::Effect;
use crate::engine::checks::jump::JumpVerdict;
use crate::engine::checks::lines::JUST_NOW;
use crate::engine::command::{Done, Refusal};
use crate::engine::event::EventKind;
use crate::engine::memory::{ComparedMemory, EntryMemory, EntryWay, HookupSaidMemory};
use crate::engine::plan::{Gives, Source, TankPlan};
use crate::engine::quality::{Quality, Reason};
use crate::engine::reading::Reading;
use crate::engine::step::Engine;
use crate::engine::tank::{Signals, Working};
use crate::physics::budget::{COVERAGE, rectangular};
use crate::physics::liquid::Conditions;
use crate::quantity::{Length, Timestamp, kelvin, metres};
use std::sync::Arc;
use std::time::Duration;

/// An entry of so short a time ago is one of now; and a clock on the wall may be that far ahead.
const NOW: Duration = Duration::from_secs(10);
const AHEAD: Duration = Duration::from_secs(60);
/// How well the moment of an entry is known: of one made now, and of one whose time was written down.
/// Common practice, no source.
const MOMENT_S: f64 = 10.0;
/// The longest name of who saw it, in characters; longer is a slip.
const LONGEST_NAME: usize = 80;
const WRITTEN: Duration = Duration::from_secs(60);
/// What a reading may be off where its transmitter says no accuracy, as a share of the vessel's height; and the
/// least that is taken of a density. Common practice, no source.
const WITHOUT_ACCURACY: f64 = 0.01;
const LEAST_GAIN: f64 = 0.001;

/// The level of a reading that an entry can be compared with: not one that stands in for the transmitter.
pub(in crate::engine) fn comparable(reading: &Reading) -> Option<Held> {
    let stands_in = [Reason::HandValue, Reason::TestValue, Reason::InsteadTaken];
    if stands_in.iter().any(|reason| reading.reasons.has(*reason)) {
        return None;
    }
    let sigma = reading
        .level_uncertainty
        .map_or(0.0, |expanded| expanded.value / COVERAGE);
    Some(Held {
        level_m: reading.level?.value,
        sigma_m: sigma,
    })
}

impl Engine {
    pub(in crate::engine) fn enter(
        &mut self,
        tank: &str,
        entry: &NewEntry,
        (reader, by): (Option<Arc<str>>, &Arc<str>),
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let index = self.tank(tank)?;
        let plan = Arc::clone(&self.plan);
        let tank_plan = &plan.tanks[index];
        let refused = |why| Refusal::Entry {
            tank: tank.to_owned(),
            why,
        };
        let is_name = |name: &Arc<str>| name.chars().count() <= LONGEST_NAME;
        if !reader.as_ref().is_none_or(is_name) {
            return Err(refused(EntryRefusal::Reader {
                at_most: LONGEST_NAME,
            }));
        }
        let sigma_m = entry.sigma_m().map_err(refused)?;
        let denser = self.denser_in_glass(index, tank_plan);
        let level = entry.level(tank_plan, denser).map_err(refused)?;
        let (time, held, moving_m) = self.held_at(index, entry.seen).map_err(refused)?;
        let sigma_m = sigma_m.hypot(moving_m);
        let reading = held.map(|held| self.compared(index, tank_plan, held, level));
        let (water_cut, density) = match entry.looked {
            Looked::Dip {
                water_cut, density, ..
            } => (water_cut, density),
            Looked::Sight { .. } | Looked::Level(_) => (None, None),
        };
        let time_is_now = self.last.utc.duration_since(time).unsigned_abs() <= JUST_NOW;
        let kept = EntryMemory {
            time,
            by: Arc::clone(by),
            reader,
            way: entry.way(),
            level_m: level.value,
            sigma_m,
            blown_down: matches!(
                entry.looked,
                Looked::Sight {
                    blown_down: true,
                    ..
                }
            ),
            water_cut_m: water_cut.map(|cut| cut.value),
            density_kg_m3: density.map(|density| density.value),
            reading,
            hookups: match time_is_now {
                true => self.hookups_say(index, tank_plan),
                false => Vec::new(),
            },
            begins: false,
        };
        let read_by = kept.reader.as_ref();
        let mut text = format!(
            "{}{}: level {:.3} m ± {:.0} mm",
            entry.words(),
            read_by.map_or(String::new(), |reader| format!(", read by {reader}")),
            level.value,
            2e3 * sigma_m
        );
        if time != self.last.utc {
            text += &format!(", seen at {time:.0}");
        }
        text += &against(&kept, tank_plan);
        if let Some(density) = density {
            text += &self.against_density(index, density.value);
        }
        let name = Arc::clone(&tank_plan.name);
        let way = match kept.way {
            EntryWay::Sight => "sight",
            EntryWay::Dip => "dip",
        };
        self.tanks[index].rounds.add(tank_plan, kept.clone());
        if time_is_now {
            let (checks, up) = (&mut self.tanks[index].checks, self.last.up);
            checks.saw_level(tank_plan, up, level.value, sigma_m);
        }
        let said = format!("{tank}: {text}");
        self.person_event(
            EventKind::Entry,
            Some(&name),
            Some(&way.into()),
            Some(by),
            text,
            effects,
        );
        self.remember_rounds(index, effects);
        let of_jump = self.settle_jump(index, tank_plan, &kept, by, effects);
        Ok(Done(format!("{said}{of_jump}")))
    }

    /// (ρ_glass − ρ_gas)/(ρ_tank − ρ_gas)
    fn denser_in_glass(&self, index: usize, tank: &TankPlan) -> f64 {
        let working = self.level_working(index, tank);
        let Some((working, source)) = working.zip(tank.rounds.glass.temperature.as_ref()) else {
            return 1.0;
        };
        let ambient_k = working.surroundings.ambient.value;
        let temperature_k = match source {
            Source::Fixed(fixed_k) => *fixed_k,
            Source::Ambient => ambient_k,
            Source::Tags(tags) => {
                let live = self.live();
                let known = tags.iter().filter_map(|tag| {
                    let said = live.value(*tag);
                    said.value.filter(|_| said.quality() < Quality::Bad)
                });
                let known: Vec<f64> = known.collect();
                match known.len() {
                    0 => ambient_k,
                    count => known.iter().sum::<f64>() / count as f64,
                }
            }
        };
        let in_glass = tank.liquid.liquid.density(Conditions {
            temperature: kelvin(temperature_k),
            pressure: working.surroundings.gas_pressure,
        });
        let gas = working.above.value;
        ((in_glass.value - gas) / (working.liquid.value - gas)).value
    }

    /// When it was seen, the reading that held then, and how far the level may have moved in what is not known
    /// of that moment (k = 1).
    fn held_at(
        &self,
        index: usize,
        seen: SeenAt,
    ) -> Result<(Timestamp, Option<Held>, f64), EntryRefusal> {
        let (now, state) = (self.last, &self.tanks[index]);
        let at = match seen {
            SeenAt::Now => now.utc,
            SeenAt::At(at) => at,
            SeenAt::Ago(ago) => now.utc.checked_sub(ago).unwrap_or(Timestamp::MIN),
        };
        let ago = now.utc.duration_since(at);
        let Ok(ago) = Duration::try_from(ago) else {
            let ahead = Duration::try_from(-ago).unwrap_or(AHEAD);
            return if ahead < AHEAD {
                Ok(self.held_now(index))
            } else {
                Err(EntryRefusal::InFuture { at, now: now.utc })
            };
        };
        if ago < NOW {
            return Ok(self.held_now(index));
        }
        let held = &state.rounds.held;
        let forgotten = EntryRefusal::Forgotten { at, now: now.utc };
        let Some(up) = now.up.checked_sub(ago).filter(|up| held.reaches(*up)) else {
            return Err(forgotten);
        };
        let poll_every = self.plan.tanks[index]
            .transmitters()
            .map(|id| self.plan.transmitters[id.index()].poll_every)
            .max()
            .unwrap_or_default();
        let around = |up: Duration| held.at(up, poll_every).map(|held| held.level_m);
        let moved_m = around(up + WRITTEN)
            .zip(around(up.saturating_sub(WRITTEN)))
            .map_or(0.0, |(after, before)| (after - before).abs() / 2.0);
        Ok((at, held.at(up, poll_every), rectangular(moved_m)))
    }

    /// What each hookup of several says of the level now, before its correction.
    fn hookups_say(&self, index: usize, tank: &TankPlan) -> Vec<HookupSaidMemory> {
        if tank.hookups.len() < 2 || comparable(&self.tanks[index].reading).is_none() {
            return Vec::new();
        }
        let each = tank.hookups.iter().zip(self.tanks[index].workings());
        let each = each.filter(|(plan, _)| plan.gives == Gives::Level);
        each.filter_map(|(plan, working)| {
            let usable = working.reasons.quality() < Quality::Bad;
            let level = working.level.filter(|_| usable)?;
            let own = &plan.correction;
            Some(HookupSaidMemory {
                name: Arc::clone(&plan.name),
                uncorrected_m: (level - own.offset).value / own.gain,
            })
        })
        .collect()
    }

    fn held_now(&self, index: usize) -> (Timestamp, Option<Held>, f64) {
        let reading = &self.tanks[index].reading;
        let moved_m = reading.rate.map_or(0.0, |rate| rate.value.abs() * MOMENT_S);
        (self.last.utc, comparable(reading), rectangular(moved_m))
    }

    fn compared(&self, index: usize, tank: &TankPlan, held: Held, level: Length) -> ComparedMemory {
        let uncorrected_m = match super::correction(tank) {
            Some(own) => (held.level_m - own.offset.value) / own.gain,
            None => held.level_m,
        };
        let working = self.level_working(index, tank);
        let hookups = tank.hookups.iter();
        let hookup = hookups.clone().find(|plan| plan.gives == Gives::Level);
        let tap = hookup.and_then(|plan| plan.hookup.lower_tap());
        let head_m = tap.map_or(level.value, |tap| {
            (tank.vessel.elevation(level) - tap).value
        });
        let gain_sigma = working.map_or(0.0, |working| {
            let apart = (working.liquid.value - working.above.value).value;
            working.liquid.uncertainty.value / COVERAGE / apart
        });
        let says_accuracy = hookup.is_none_or(|plan| {
            let mut all = plan.hookup.transmitters();
            all.all(|id| self.plan.transmitters[id.index()].accuracy.is_some())
        });
        let height_m = (tank.vessel.top() - tank.vessel.bottom()).value;
        let unsaid_m = if says_accuracy {
            0.0
        } else {
            rectangular(WITHOUT_ACCURACY * height_m)
        };
        ComparedMemory {
            level_m: held.level_m,
            uncorrected_m,
            sigma_m: held.sigma_m.hypot(unsaid_m),
            gain_sigma: gain_sigma.max(LEAST_GAIN),
            head_m: head_m.max(0.0),
        }
    }

    fn level_working(&self, index: usize, tank: &TankPlan) -> Option<&Working> {
        let mut workings = tank.hookups.iter().zip(self.tanks[index].workings());
        let of_level = workings.find(|(plan, _)| plan.gives == Gives::Level);
        of_level.map(|(_, working)| working)
    }

    fn against_density(&self, index: usize, sample_kg_m3: f64) -> String {
        match self.tanks[index].reading.density {
            Some(taken) => format!(
                "; the reading takes {:.1} kg/m3, {:+.2} % from the sample",
                taken.value,
                (taken.value / sample_kg_m3 - 1.0) * 1e2
            ),
            None => String::new(),
        }
    }

    /// The glass decides a jump: it has moved with the reading, or it has not moved at all.
    fn settle_jump(
        &mut self,
        index: usize,
        tank: &TankPlan,
        entry: &EntryMemory,
        by: &Arc<str>,
        effects: &mut Vec<Effect>,
    ) -> &'static str {
        let state = &self.tanks[index];
        let is_after = state.jump_since.is_some_and(|since| since <= entry.time);
        let (Some(jump), true) = (state.jump.open().copied(), is_after) else {
            return "";
        };
        let Some(check) = tank.jump.as_ref() else {
            return "";
        };
        let temperature = state.workings().first();
        let temperature = temperature.map(|working| working.surroundings.liquid_temperature);
        let bounds = state
            .jump
            .bounds(check, tank.vessel.at(temperature), tank.zero, self.last.up);
        let slack_m = allowed_m(entry, tank);
        if slack_m > jump.size.value.abs() / 2.0 {
            return "; the jump stays open: that is too uncertain to decide it";
        }
        let was_seen = jump.verdict == JumpVerdict::GlassUnmoved;
        let is_real = entry.reading.is_some_and(|reading| {
            (super::corrected_m(tank, &reading) - entry.level_m).abs() <= slack_m
        });
        let is_unmoved = bounds.is_some_and(|known| {
            known
                .at_least
                .is_some_and(|least| entry.level_m >= least - slack_m)
                && known
                    .at_most
                    .is_some_and(|most| entry.level_m <= most + slack_m)
        });
        let text = if is_real {
            self.tanks[index].confirm_level();
            match was_seen {
                true => "jump is over: the reading is back at the sight glass",
                false => "jump is over: the sight glass moved with the reading, so the liquid did",
            }
        } else if is_unmoved {
            let level = metres(entry.level_m);
            self.tanks[index].jump.hold_at_glass(level, self.last.up);
            if was_seen {
                return "; the liquid has still not moved with the reading";
            }
            "jump was an artefact: the sight glass did not move, so the liquid did not; find what did at the transmitter and its lines. The reading stays uncertain until it is back"
        } else {
            return "; the jump stays open: the glass agrees neither with the reading nor with the level before it. Look again";
        };
        self.person_event(
            EventKind::Jump,
            Some(&tank.name),
            None,
            Some(by),
            text.to_owned(),
            effects,
        );
        if is_real && was_seen {
            "; the jump is over"
        } else if is_real {
            "; the jump is real and closed"
        } else {
            "; the jump is an artefact: the liquid did not move"
        }
    }
}

/// How far entry and reading may be apart, k = 2.
fn allowed_m(entry: &EntryMemory, tank: &TankPlan) -> f64 {
    let reading_m = entry.reading.map_or(0.0, |reading| reading.sigma_m);
    let own_m = COVERAGE * entry.sigma_m.hypot(reading_m);
    tank.rounds.tolerance.map_or(own_m, |tolerance| {
        tolerance.value.max(COVERAGE * entry.sigma_m)
    })
}

fn against(entry: &EntryMemory, tank: &TankPlan) -> String {
    let Some(reading) = entry.reading else {
        return "; there is no reading of that moment to compare it with".to_owned();
    };
    let apart_m = reading.level_m - entry.level_m;
    let allowed_m = allowed_m(entry, tank);
    let side = if apart_m < 0.0 { "below" } else { "above" };
    let mut words = format!(
        "; the reading was {:.3} m, {:.0} mm {side} it",
        reading.level_m,
        apart_m.abs() * 1e3
    );
    if apart_m.abs() > allowed_m {
        words += &format!(
            ", which is MORE than the {:.0} mm that they may be apart: look again",
            allowed_m * 1e3
        );
    }
    words
}
