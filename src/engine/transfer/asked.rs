//! Transfers as people ask for them, and the events that tell how they go.

use super::{Transfer, TransferChange};
use crate::engine::command::{Done, Refusal, TransferTo};
use crate::engine::event::EventKind;
use crate::engine::memory::{Memory, Remembered, RememberedKind, TransferMemory};
use crate::engine::plan::TankPlan;
use crate::engine::step::Engine;
use crate::engine::tank::level_range;
use crate::engine::{Effect, Reading};
use crate::quantity::{Length, Volume, cubic_metres, metres, span};
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
        let (plan, reading) = (&self.plan.tanks[index], &self.tanks[index].reading);
        let level = reading
            .level
            .ok_or(Refusal::LevelUnknown { tank: named() })?;
        let volume = plan.vessel.volume(level + plan.zero);
        let target = target(plan, to, volume).ok_or_else(|| {
            let (low, high) = level_range(plan);
            Refusal::TargetOutside {
                tank: named(),
                low: format!("{:.3} m", low.value),
                high: format!("{:.3} m", high.value),
            }
        })?;
        let margin = reading.level_uncertainty.unwrap_or(metres(0.0));
        if (target - level).abs() <= margin {
            return Err(Refusal::TargetHere { tank: named() });
        }
        let memory = TransferMemory {
            target_m: target.value,
            start_m: level.value,
            start_m3: volume.value,
            since: self.last.utc,
            by: Arc::clone(by),
            product: plan.product().map(|product| Arc::clone(&product.name)),
            tell,
            stop_within,
            soon_told: false,
            reached: false,
        };
        let transfer = Transfer::new(memory, self.last);
        let to_move = plan.vessel.volume(target + plan.zero) - volume;
        let text = format!(
            "begun: from {} to {}, {:+.2} m3{}; told {} before, to be stopped within {}",
            height(level),
            height(target),
            to_move.value,
            of_product(&transfer),
            span(tell),
            span(stop_within)
        );
        let said = format!("{tank}: transfer {text}");
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
        let text = format!(
            "ended by a person: {}",
            amounts(&transfer, &self.tanks[index].reading)
        );
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
            let text = told(change, transfer, &state.reading);
            if change == TransferChange::Ended {
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

/// The level that a transfer ends at; none where the vessel has no such level.
fn target(plan: &TankPlan, to: TransferTo, volume: Volume) -> Option<Length> {
    let (low, high) = level_range(plan);
    let of_volume = |volume: Volume| {
        let fits = volume >= cubic_metres(0.0) && volume <= plan.vessel.capacity();
        fits.then(|| plan.vessel.height(volume) - plan.zero)
    };
    let level = match to {
        TransferTo::Level(level) => Some(level),
        TransferTo::Volume(volume) => of_volume(volume),
        TransferTo::ByVolume(change) => of_volume(volume + change),
    };
    level.filter(|level| (low..=high).contains(level))
}

fn height(level: Length) -> String {
    format!("{:.3} m", level.value)
}

fn of_product(transfer: &Transfer) -> String {
    let product = transfer.memory.product.as_ref();
    product.map_or(String::new(), |product| format!(" of {product}"))
}

/// How much has moved and is left; the uncertainty is at most that of two volumes apart from each other.
fn amounts(transfer: &Transfer, reading: &Reading) -> String {
    let Some((moved, left)) = transfer.moved.zip(transfer.left) else {
        return "how much has moved is not known".to_owned();
    };
    let uncertain = reading
        .volume_uncertainty
        .map_or(String::new(), |expanded| {
            // Two volumes: √2·U, less where their errors are the same.
            format!(
                " (uncertain by at most {:.2} m3)",
                expanded.value * 2.0_f64.sqrt()
            )
        });
    format!(
        "{:.2} m3{} moved{uncertain}, {:.2} m3 left",
        moved.value,
        of_product(transfer),
        left.value
    )
}

fn told(change: TransferChange, transfer: &Transfer, reading: &Reading) -> String {
    let target = height(transfer.target());
    let amounts = amounts(transfer, reading);
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
    }
}
