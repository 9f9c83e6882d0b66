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

/// Every tank had a first reading, or is known to have none.
pub(super) async fn ready(State(state): State<PageState>) -> (StatusCode, String) {
    let snapshot = state.snapshot();
    let waiting = waiting(&snapshot);
    if waiting.is_empty() {
        (StatusCode::OK, "ready\n".to_owned())
    } else {
        let text = format!(
            "not ready: {} waiting for the first reading\n",
            waiting.join(", ")
        );
        (StatusCode::SERVICE_UNAVAILABLE, text)
    }
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
