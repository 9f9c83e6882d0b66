//! The open calls as they stand, for the snapshot.

use super::state::{At, Notices};
use super::words;
use crate::engine::plan::Priority;
use crate::quantity::Timestamp;
use std::sync::Arc;

#[derive(Clone, Debug, Default)]
pub struct NoticesView {
    /// Notices are gathered into digests.
    pub flood: bool,
    /// Notices whose outcome is not known yet.
    pub under_way: usize,
    pub calls: Vec<CallView>,
}

/// One alarm that nobody has answered, and who was told.
#[derive(Clone, Debug)]
pub struct CallView {
    pub tank: Arc<str>,
    pub code: Arc<str>,
    pub activation: u64,
    pub priority: Priority,
    pub since: Timestamp,
    /// The `[[notice]]`s that have told it.
    pub told: Vec<Arc<str>>,
    /// Who is told next if nobody answers, and when.
    pub next: Option<(Arc<str>, Timestamp)>,
}

impl Notices {
    pub(super) fn view(&self, at: At<'_>) -> NoticesView {
        let calls = self.calls.iter().map(|call| {
            let told = call.legs.iter().filter(|leg| leg.told > 0);
            let next = call.legs.iter().filter_map(|leg| words::next_told(at, leg));
            CallView {
                tank: Arc::clone(&call.of.tank),
                code: Arc::clone(&call.of.code),
                activation: call.of.activation,
                priority: call.of.priority,
                since: call.of.since,
                told: told
                    .map(|leg| Arc::clone(&at.plan.routes[leg.route].name))
                    .collect(),
                next: next
                    .min_by_key(|next| next.at)
                    .map(|next| (next.to, next.at)),
            }
        });
        NoticesView {
            flood: self.flood.is_on(),
            under_way: self.pending.len(),
            calls: calls.collect(),
        }
    }
}
