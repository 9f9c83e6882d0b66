//! Transfers as people ask for them, and the events that tell how they go.

use super::{Transfer, TransferChange};
use crate::engine::command::{Done, Refusal, TransferTo};
use crate::engine::event::EventKind;
use crate::engine::memory::{Memory, Remembered, RememberedKind, TransferMemory, TransferStart};
use crate::engine::plan::{TankPlan, Watch};
use crate::engine::step::Engine;
use crate::engine::tank::{level_range, visible_levels};
use crate::engine::{Effect, Reading};
use crate::quantity::{Length, Volume, metres, span};
use std::sync::Arc;
use std::time::Duration;

impl Engine {
    pub(in crate::engine) fn start_transfer(
        &mut self,
        tank: &str,
        to: TransferTo,
        (tell, stop_within): (Duration, Duration),
        by: &Arc<str>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let index = self.tank(tank)?;
        let named = || tank.to_owned();
        if self.tanks[index].transfer.is_some() {
            return Err(Refusal::TransferUnderWay { tank: named() });
        }
        let (plan, state) = (&self.plan.tanks[index], &self.tanks[index]);
        let reading = &state.reading;
        let target = target(plan, to, reading)
            .ok_or(Refusal::LevelUnknown { tank: named() })?
            .ok_or_else(|| {
                let (low, high) = level_range(plan);
                Refusal::TargetOutside {
                    tank: named(),
                    low: height(low),
                    high: height(high),
                }
            })?;
        let fills = direction(target, reading).ok_or_else(|| match reading.level {
            Some(_) => Refusal::TargetHere { tank: named() },
            None => Refusal::LevelUnknown { tank: named() },
        })?;
        let start = reading.level.zip(reading.volume);
        let memory = TransferMemory {
            target_m: target.value,
            fills,
            start: start.map(|(level, volume)| TransferStart {
                level_m: level.value,
                volume_m3: volume.value,
                uncertainty_m3: reading.volume_uncertainty.map(|volume| volume.value),
            }),
            since: self.last.utc,
            by: Arc::clone(by),
            product: plan.product().map(|product| Arc::clone(&product.name)),
            tell,
            stop_within,
            soon_told: false,
            reached: false,
        };
        let mut transfer = Transfer::new(memory, self.last);
        transfer.count(plan, reading);
        let text = format!(
            "begun: {}{}; told {} before, to be stopped within {}{}",
            way(&transfer, reading),
            of_product(&transfer),
            span(tell),
            span(stop_within),
            unseen(plan, state.leading, target)
        );
        let no_alarm = match plan.alarms.iter().any(|plan| plan.watch == Watch::Transfer) {
            true => "",
            false => {
                ". If it is not stopped that is an event and no alarm: the site file has no [tank.transfer]"
            }
        };
        let said = format!("{tank}: transfer {text}{no_alarm}");
        self.tanks[index].transfer = Some(transfer);
        self.tell_transfer(index, Some(by), text, effects);
        Ok(Done(said))
    }

    pub(in crate::engine) fn end_transfer(
        &mut self,
        tank: &str,
        by: &Arc<str>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let index = self.tank(tank)?;
        let Some(transfer) = self.tanks[index].transfer.take() else {
            return Err(Refusal::NoTransfer {
                tank: tank.to_owned(),
            });
        };
        let text = format!("ended by a person: {}", amounts(&transfer));
        let said = format!("{tank}: transfer {text}");
        self.tell_transfer(index, Some(by), text, effects);
        let plan = Arc::clone(&self.plan);
        self.observe_alarms(index, &plan.tanks[index], effects);
        Ok(Done(said))
    }

    /// Shows a tank's transfer its newest reading.
    pub(in crate::engine) fn follow_transfer(
        &mut self,
        index: usize,
        tank: &TankPlan,
        effects: &mut Vec<Effect>,
    ) {
        let now = self.last;
        let state = &mut self.tanks[index];
        let Some(transfer) = &mut state.transfer else {
            return;
        };
        for change in transfer.follow(tank, &state.reading, now) {
            let state = &mut self.tanks[index];
            let Some(transfer) = &state.transfer else {
                break;
            };
            let text = told(change, transfer, state.reading.level.is_some());
            if change.is_end() {
                state.transfer = None;
            }
            self.tell_transfer(index, None, text, effects);
        }
    }

    /// Takes up transfers that were under way before a restart.
    pub(in crate::engine) fn take_up_transfers(&mut self, memory: &Memory) {
        for (tank, remembered) in &memory.remembered {
            if let (Remembered::Transfer(kept), Ok(index)) = (remembered, self.tank(tank)) {
                self.tanks[index].transfer = Some(Transfer::new(kept.clone(), self.last));
            }
        }
    }

    /// Another product was chosen while a transfer is under way.
    pub(in crate::engine) fn transfer_holds_other(
        &mut self,
        index: usize,
        was: &Reading,
        by: &Arc<str>,
        effects: &mut Vec<Effect>,
    ) {
        let product = self.plan.tanks[index].product();
        let product = product.map(|product| Arc::clone(&product.name));
        let (plan, state) = (&self.plan.tanks[index], &mut self.tanks[index]);
        let Some(transfer) = &mut state.transfer else {
            return;
        };
        transfer.hold_other(product, was, &state.reading);
        transfer.count(plan, &state.reading);
        let text = format!(
            "goes on to the target {}; the step of the level is not counted as moved: {}",
            height(transfer.target()),
            amounts(transfer)
        );
        self.tell_transfer(index, Some(by), text, effects);
    }

    fn tell_transfer(
        &mut self,
        index: usize,
        by: Option<&Arc<str>>,
        text: String,
        effects: &mut Vec<Effect>,
    ) {
        let name = Arc::clone(&self.plan.tanks[index].name);
        self.person_event(EventKind::Transfer, Some(&name), None, by, text, effects);
        let transfer = self.tanks[index].transfer.as_ref();
        effects.push(Effect::Remember {
            kind: RememberedKind::Transfer,
            of: name,
            memory: transfer.map(|transfer| Remembered::Transfer(transfer.memory.clone())),
        });
    }
}

/// The level that a transfer ends at; none where that hangs on a volume that is not known, and none within
/// where the vessel has no such level.
fn target(plan: &TankPlan, to: TransferTo, reading: &Reading) -> Option<Option<Length>> {
    let (low, high) = level_range(plan);
    let vessel = plan.vessel.at(reading.temperature);
    let holds = vessel.volume(low + plan.zero)..=vessel.volume(high + plan.zero);
    let of_volume = |volume: Volume| {
        holds
            .contains(&volume)
            .then(|| vessel.height(volume) - plan.zero)
    };
    let level = match to {
        TransferTo::Level(level) => Some(level),
        TransferTo::Volume(volume) => of_volume(volume),
        TransferTo::ByVolume(change) => of_volume(reading.volume? + change),
    };
    Some(level.filter(|level| (low..=high).contains(level)))
}

/// Whether it fills (true) or draws; none where the level is at the target, or not known well enough to tell.
fn direction(target: Length, reading: &Reading) -> Option<bool> {
    let margin = reading.level_uncertainty.unwrap_or(metres(0.0));
    let (least, most) = match reading.level {
        Some(level) => (Some(level - margin), Some(level + margin)),
        None => (reading.level_at_least, reading.level_at_most),
    };
    if most.is_some_and(|most| target > most) {
        Some(true)
    } else if least.is_some_and(|least| target < least) {
        Some(false)
    } else {
        None
    }
}

/// From where to where, and how much that is.
fn way(transfer: &Transfer, reading: &Reading) -> String {
    let target = height(transfer.target());
    match reading.level.zip(transfer.left) {
        Some((level, left)) => format!(
            "from {} to {target}, {:+.2} m3",
            height(level),
            left.value * transfer.sign()
        ),
        None if transfer.fills() => format!("filling to {target}, from a level that is not seen"),
        None => format!("drawing to {target}, from a level that is not seen"),
    }
}

/// What to expect where the hookup in use does not see as far as the target.
fn unseen(plan: &TankPlan, leading: usize, target: Length) -> String {
    let (low, high) = visible_levels(plan, &plan.hookups[leading].hookup);
    if (low..=high).contains(&target) {
        return String::new();
    }
    format!(
        ". Only levels from {} to {} are seen: look yourself towards its end",
        height(low),
        height(high)
    )
}

fn height(level: Length) -> String {
    format!("{:.3} m", level.value)
}

fn of_product(transfer: &Transfer) -> String {
    let product = transfer.memory.product.as_ref();
    product.map_or(String::new(), |product| format!(" of {product}"))
}

/// How much has moved and is left.
fn amounts(transfer: &Transfer) -> String {
    let uncertain = transfer.moved_uncertainty;
    let uncertain = uncertain.map_or(String::new(), |expanded| {
        format!(" (uncertain by at most {:.2} m3)", expanded.value)
    });
    let moved = match transfer.moved {
        Some(moved) => format!(
            "{:.2} m3{} moved{uncertain}",
            moved.value,
            of_product(transfer)
        ),
        None => "how much has moved is not known".to_owned(),
    };
    match transfer.left {
        Some(left) => format!("{moved}, {:.2} m3 left", left.value),
        None => moved,
    }
}

/// `seen`: the level itself is known.
fn told(change: TransferChange, transfer: &Transfer, seen: bool) -> String {
    let target = height(transfer.target());
    let amounts = amounts(transfer);
    let stop = if transfer.fills() {
        "stop filling"
    } else {
        "stop drawing"
    };
    match change {
        TransferChange::Soon(expected) => {
            // To ten seconds: nobody stops a pump more exactly.
            let rounded =
                |time_s: f64| span(Duration::from_secs((time_s / 10.0).round() as u64 * 10));
            let (after, least) = (
                rounded(expected.after.value),
                rounded(expected.at_least.value),
            );
            let most = expected.at_most.map(|most| rounded(most.value));
            let between = most.filter(|most| *most != least);
            let between = between.map_or(String::new(), |most| format!(" ({least} to {most})"));
            format!("the target {target} comes in {after}{between}: {amounts}")
        }
        TransferChange::Reached if !seen => format!(
            "the target {target} is reached, {stop}; the level is not seen from here on, so end the transfer yourself: {amounts}"
        ),
        TransferChange::Reached => format!("the target {target} is reached, {stop}: {amounts}"),
        TransferChange::Stalled => {
            format!("the level stands before the target {target}: {amounts}")
        }
        TransferChange::Away => format!("the level moves away from the target {target}: {amounts}"),
        TransferChange::Overdue => format!(
            "stop overdue: the level still moves {} after the target {target}, {stop}: {amounts}",
            span(transfer.memory.stop_within)
        ),
        TransferChange::Ended => format!("ended, the level stands: {amounts}"),
        TransferChange::Turned => {
            format!("ended, the level goes back from the target {target}: {amounts}")
        }
    }
}
