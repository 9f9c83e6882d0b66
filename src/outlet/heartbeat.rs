//! The heartbeat: a file that is written anew again and again while the alarms are watched over.
//!
//! What always holds: a beat is made from a snapshot that the engine's task has published since the last one, never
//! by a timer: when the engine stands still, so does the beat. The file is replaced whole, so whoever watches its
//! age never reads half of it; a disk that hangs or is full holds up nothing else.

use crate::engine::Snapshot;
use crate::site::settings::HeartbeatSettings;
use crate::wire::HeartbeatForm;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use tokio::sync::watch;
use tokio_util::sync::CancellationToken;

#[derive(Debug)]
pub struct Heartbeat {
    pub settings: HeartbeatSettings,
    pub snapshots: watch::Receiver<Arc<Snapshot>>,
}

impl Heartbeat {
    /// Writes until `stop`; where the site names no file, nothing.
    pub async fn run(mut self, stop: CancellationToken) {
        let Some(file) = self.settings.file.clone() else {
            return;
        };
        let (mut last, mut told) = (None, String::new());
        loop {
            let snapshot = self.snapshots.borrow_and_update().clone();
            let is_due = last.is_none_or(|last| snapshot.up >= last + self.settings.every);
            if is_due {
                last = Some(snapshot.up);
                let trouble = write(&file, &snapshot).await.err();
                let trouble = trouble.map_or_else(String::new, |error| error.to_string());
                if trouble != told && !trouble.is_empty() {
                    let file = file.display();
                    tracing::error!("the heartbeat {file} can't be written: {trouble}");
                }
                told = trouble;
            }
            tokio::select! {
                changed = self.snapshots.changed() => if changed.is_err() { return },
                () = stop.cancelled() => return,
            }
        }
    }
}

async fn write(file: &Path, snapshot: &Snapshot) -> io::Result<()> {
    let mut beat = serde_json::to_vec(&HeartbeatForm::new(snapshot))?;
    beat.push(b'\n');
    let beside = beside(file);
    tokio::fs::write(&beside, beat).await?;
    tokio::fs::rename(&beside, file).await
}

fn beside(file: &Path) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(".new");
    name.into()
}
