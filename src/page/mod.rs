//! HTTP: the page, the interface under `/api/v1`, health and metrics. One small file per family.
//!
//! Everything here reads; nothing changes anything, and there is no state of its own: each answer is made
//! from the current snapshot.

mod api;
mod health;
mod metrics;
mod overview;

use crate::engine::Snapshot;
use crate::site::settings::ListenerSettings;
use axum::Router;
use axum::routing::get;
use std::fmt;
use std::future::IntoFuture;
use std::io;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::sync::watch;
use tokio::time::sleep;
use tokio_util::sync::CancellationToken;

/// How long a stop waits for a client that takes its time.
const FINISH: Duration = Duration::from_secs(2);

/// What the answers are made from.
#[derive(Clone)]
pub struct PageState {
    pub snapshots: watch::Receiver<Arc<Snapshot>>,
    /// Writes the metrics; the room that counts them is another.
    pub metrics: Arc<dyn Fn() -> String + Send + Sync>,
}

impl PageState {
    fn snapshot(&self) -> Arc<Snapshot> {
        self.snapshots.borrow().clone()
    }
}

impl fmt::Debug for PageState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("PageState").finish_non_exhaustive()
    }
}

/// Opens the socket that the settings name.
pub async fn bind(settings: &ListenerSettings) -> io::Result<TcpListener> {
    TcpListener::bind(&settings.listen).await
}

/// Serves until `stop`. Answers that are under way are finished, if that is soon.
pub async fn serve(
    listener: TcpListener,
    state: PageState,
    stop: CancellationToken,
) -> io::Result<()> {
    let late = async {
        stop.cancelled().await;
        sleep(FINISH).await;
    };
    let server =
        axum::serve(listener, routes(state)).with_graceful_shutdown(stop.clone().cancelled_owned());
    tokio::select! {
        done = server.into_future() => done,
        () = late => Ok(()),
    }
}

fn routes(state: PageState) -> Router {
    Router::new()
        .route("/", get(overview::page))
        .route("/api/v1/tanks", get(api::tanks))
        .route("/api/v1/tanks/{name}", get(api::tank))
        .route("/api/v1/tanks/{name}/rounds", get(api::rounds))
        .route("/api/v1/alarms", get(api::alarms))
        .route("/api/v1/transmitters", get(api::transmitters))
        .route("/api/v1/contacts", get(api::contacts))
        .route("/api/v1/schema/{form}", get(api::schema))
        .route("/health/live", get(health::live))
        .route("/health/ready", get(health::ready))
        .route("/metrics", get(metrics::text))
        .with_state(state)
}
