//! HTTP: the page, the interface under `/api/v1`, health and metrics. One small file per page and per family.
//!
//! Each answer is made from the current snapshot or from the journal. Whatever changes something goes through the
//! entrance of `people`, under the name of who has signed in.

mod access;
mod alarms;
mod api;
mod asked;
mod assets;
mod balance;
mod deeds;
mod door;
mod drawing;
mod field;
mod forms;
mod handover;
mod health;
mod history;
mod horn;
mod host;
mod inventory;
mod journal;
mod layout;
mod live;
mod metrics;
mod need;
mod once;
pub mod openapi;
mod overview;
mod remarks;
mod rounds;
mod sent;
mod shown;
mod sign_in;
mod signals;
mod signs;
mod tank;
mod tasks;
mod trend;
mod units;
mod view;
mod work;

use crate::engine::Snapshot;
use crate::people::Accounts;
use crate::site::settings::ListenerSettings;
use axum::Router;
use axum::extract::State;
use axum::http::header::HeaderMap;
use axum::middleware::from_fn_with_state;
use axum::routing::{MethodRouter, get, post};
use maud::Markup;
pub use once::Once;
pub use shown::Shown;
use std::collections::BTreeMap;
use std::fmt;
use std::io;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::sync::{Semaphore, watch};
use tokio_util::sync::CancellationToken;
use view::View;

/// What the answers are made from.
#[derive(Clone)]
pub struct PageState {
    pub snapshots: watch::Receiver<Arc<Snapshot>>,
    /// Writes the metrics; the room that counts them is another.
    pub metrics: Arc<dyn Fn() -> String + Send + Sync>,
    /// How long the last answer over each link took.
    pub round_trips: RoundTrips,
    pub accounts: Accounts,
    /// The journal's file.
    pub journal: PathBuf,
    pub settings: ListenerSettings,
    pub shown: Shown,
    /// Since the start, by the monotonic clock.
    pub up: fn() -> Duration,
    /// Ends what would go on for ever.
    pub stop: CancellationToken,
    /// So many pages can be kept live.
    pub lines: Arc<Semaphore>,
    /// What was entered already.
    pub once: Once,
}

/// Answers with what another room measures.
pub type RoundTrips = Arc<dyn Fn() -> BTreeMap<String, Duration> + Send + Sync>;

/// How many pages are kept live at once.
pub const LINES: usize = 64;

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

/// Serves until the state's `stop`, so many connections at once. Answers that are under way are finished, if that is soon.
pub async fn serve(listener: TcpListener, state: PageState, connections: usize) {
    let (stop, up) = (state.stop.clone(), state.up);
    let room = door::Room::of(connections);
    door::serve(listener, routes(state), room, (stop, up)).await;
}

fn routes(state: PageState) -> Router {
    Router::new()
        .route("/", get(overview::page))
        .route("/alarms", shows(alarms::page))
        .route("/tank/{name}", get(tank::page))
        .route("/journal", get(journal::page))
        .route("/journal.csv", get(journal::csv))
        .route("/signals", shows(signals::page))
        .route("/inventory", shows(inventory::page))
        .route("/handover", get(handover::page))
        .route("/live/tank/{name}", get(live::tank))
        .route("/live/{page}", get(live::stream))
        .route("/sign-in", get(sign_in::page).post(sign_in::sign_in))
        .route("/sign-out", post(sign_in::sign_out))
        .route("/do/{deed}", post(deeds::take))
        .route("/style.css", get(assets::style))
        .route("/live.js", get(assets::script))
        .merge(described())
        .layer(from_fn_with_state(state.clone(), access::guard))
        .with_state(state)
}

/// What programs ask for: its description lists the same paths.
fn interface() -> [(&'static str, MethodRouter<PageState>); 11] {
    [
        ("/api/v1/tanks", get(api::tanks)),
        ("/api/v1/tanks/{name}", get(api::tank)),
        ("/api/v1/tanks/{name}/rounds", get(api::rounds)),
        ("/api/v1/alarms", get(api::alarms)),
        ("/api/v1/transmitters", get(api::transmitters)),
        ("/api/v1/contacts", get(api::contacts)),
        ("/api/v1/schema/{form}", get(api::schema)),
        ("/api/v1/openapi.json", get(openapi::answer)),
        ("/health/live", get(health::live)),
        ("/health/ready", get(health::ready)),
        ("/metrics", get(metrics::text)),
    ]
}

fn described() -> Router<PageState> {
    let paths = interface().into_iter();
    paths.fold(Router::new(), |router, (path, method)| {
        router.route(path, method)
    })
}

/// A page that is made from the snapshot alone.
fn shows(page: fn(&View) -> Markup) -> MethodRouter<PageState> {
    get(
        move |State(state): State<PageState>, headers: HeaderMap| async move {
            page(&state.view(&headers))
        },
    )
}
