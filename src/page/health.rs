//! Health, for whoever starts and restarts the program.

use super::PageState;
use crate::engine::snapshot::TankView;
use crate::engine::{Reason, Snapshot};
use axum::extract::State;
use axum::http::StatusCode;

/// The program answers.
pub(super) async fn live() -> &'static str {
    "live\n"
}

/// Every tank had a first reading, or is known to have none. What the program can't do beside that (a journal that is not
/// written) is no reason to restart it: it is said.
pub(super) async fn ready(State(state): State<PageState>) -> (StatusCode, String) {
    let snapshot = state.snapshot();
    let waiting = waiting(&snapshot);
    if waiting.is_empty() {
        let troubles = troubles(&snapshot);
        let but = match troubles.as_slice() {
            [] => String::new(),
            troubles => format!("; alarms of the system: {}", troubles.join(", ")),
        };
        (StatusCode::OK, format!("ready{but}\n"))
    } else {
        let text = format!(
            "not ready: {} waiting for the first reading\n",
            waiting.join(", ")
        );
        (StatusCode::SERVICE_UNAVAILABLE, text)
    }
}

fn troubles(snapshot: &Snapshot) -> Vec<&str> {
    let active = snapshot.system.iter().filter(|alarm| alarm.active);
    active.map(|alarm| &*alarm.code).collect()
}

fn waiting(snapshot: &Snapshot) -> Vec<&str> {
    snapshot
        .tanks
        .iter()
        .filter(|tank| is_waiting(tank))
        .map(|tank| &*tank.name)
        .collect()
}

/// Waiting ends with a reading of any kind, or with measurement-failed becoming active.
fn is_waiting(tank: &TankView) -> bool {
    let failed = tank
        .alarms
        .iter()
        .any(|alarm| &*alarm.code == "MEASUREMENT" && alarm.active);
    tank.reading.reasons.has(Reason::WaitingForData) && !failed
}
