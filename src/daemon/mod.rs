//! The daemon: wires the rooms, runs them, stops them in order.
//!
//! One task owns the engine, one task a link; the outlets, the page and the socket read the published
//! snapshot and the events. Channels in are bounded; nothing that an outlet does can hold up a poll.

pub mod clock;
pub mod demo;
mod descriptors;
mod pulse;

use crate::engine::{Event, Snapshot};
use crate::field;
use crate::journal::{Journal, JournalError, Opened};
use crate::outlet::{Heartbeat, Metrics, Mqtt, Notices};
use crate::page::{self, PageState, Shown};
use crate::people::{Accounts, Entrance, Roster, own_user, socket};
use crate::site::Site;
use crate::site::settings::ListenerSettings;
use crate::wire::StatusForm;
use pulse::Pulse;
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{Semaphore, broadcast, mpsc, watch};
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

/// How many link messages and commands may queue for the engine.
const QUEUE: usize = 256;
/// How many events a slow onlooker may fall behind.
const ONLOOKERS: usize = 1024;
/// How long the outlets have to say goodbye.
const GOODBYE: Duration = Duration::from_secs(5);

/// Why the daemon can't start.
#[derive(Debug, thiserror::Error)]
pub enum StartError {
    #[error(
        "can't serve at {listen}: {error}; another program may listen there: [http] listen in the site file names the place"
    )]
    Listen { listen: String, error: io::Error },
    #[error(transparent)]
    Socket(#[from] socket::SocketError),
    #[error(transparent)]
    Journal(#[from] JournalError),
    #[error("metrics: {0}")]
    Metrics(#[from] prometheus::Error),
}

/// A running daemon.
#[derive(Debug)]
pub struct Daemon {
    pub snapshots: watch::Receiver<Arc<Snapshot>>,
    pub entrance: Entrance,
    /// Where the page is served, if it is.
    pub page: Option<SocketAddr>,
    events: broadcast::Sender<Arc<Event>>,
    journal: Arc<Journal>,
    engine: TaskTracker,
    outlets: TaskTracker,
    outlets_stop: CancellationToken,
}

impl Daemon {
    /// Starts everything that the site names. It runs until `stop`; then wait for [`Daemon::stopped`].
    pub async fn start(site: Site, stop: CancellationToken) -> Result<Self, StartError> {
        descriptors::raise();
        let listener = match &site.http {
            Some(http) => Some(listen(http).await?),
            None => None,
        };
        let roster = Roster::new(site.people.clone(), own_user());
        let socket = socket::Socket::open(&site.commands.socket, &roster).await?;
        let Opened { journal, memory } =
            Journal::open(&site.journal, site.mqtt.is_some(), clock::moment().utc)?;
        let journal = Arc::new(journal);
        let (events, _) = broadcast::channel(ONLOOKERS);
        let (messages_in, messages) = mpsc::channel(QUEUE);
        let (petitions_in, petitions) = mpsc::channel(QUEUE);
        let (engine, outlets, outlets_stop) = (
            TaskTracker::new(),
            TaskTracker::new(),
            CancellationToken::new(),
        );
        let (outcomes_in, outcomes) = mpsc::channel(QUEUE);
        let notices = Notices {
            settings: site.notices.clone(),
            site: Arc::clone(&site.plan.site),
            site_folded: Arc::clone(&site.plan.site_folded),
            outcomes: outcomes_in,
            up: clock::up,
        };
        let (pulse, snapshots) = Pulse::new(
            with_ages(&site).plan,
            memory,
            Arc::clone(&journal),
            events.clone(),
            notices.start(&outlets, &outlets_stop),
        );
        let metrics = Arc::new(Metrics::new(snapshots.clone(), &journal)?);
        engine.spawn(pulse.run(
            messages,
            petitions,
            outcomes,
            Arc::clone(&metrics),
            stop.clone(),
        ));
        let heartbeat = Heartbeat {
            settings: site.heartbeat.clone(),
            snapshots: snapshots.clone(),
        };
        outlets.spawn(heartbeat.run(outlets_stop.clone()));
        for (link, offset) in site.links.iter().zip(field::spread(&site.links)) {
            engine.spawn(field::run(
                link.clone(),
                offset,
                messages_in.clone(),
                clock::up,
                stop.clone(),
            ));
        }
        let status = snapshots.clone();
        let entrance = Entrance::new(
            petitions_in,
            roster,
            Arc::new(move || {
                serde_json::to_value(StatusForm::new(&status.borrow())).unwrap_or_default()
            }),
        );
        engine.spawn(socket.serve(entrance.clone(), stop.clone()));
        if let Some((settings, outbox)) = site.mqtt.clone().zip(journal.outbox().cloned()) {
            let site_folded = Arc::clone(&site.plan.site_folded);
            let mqtt = Mqtt {
                settings,
                site_folded,
                snapshots: snapshots.clone(),
                outbox,
                heartbeat_every: site.heartbeat.every,
                up: clock::up,
            };
            outlets.spawn(mqtt.run(outlets_stop.clone()));
        }
        let page = listener.as_ref().map(|(_, address)| *address);
        if let Some((listener, _)) = listener {
            let measured = Arc::clone(&metrics);
            let round_trips = Arc::new(move || measured.last_round_trips());
            let metrics_text = Arc::new(move || metrics.text());
            let settings = site.http.clone().expect("what is listened for is set");
            let state = PageState {
                snapshots: snapshots.clone(),
                metrics: metrics_text,
                round_trips,
                accounts: Accounts::new(entrance.clone(), settings.session, clock::up),
                journal: site.journal.file.clone(),
                settings,
                shown: Shown {
                    units: site.show,
                    zone: zone(&site),
                },
                up: clock::up,
                stop: outlets_stop.clone(),
                lines: Arc::new(Semaphore::new(page::LINES)),
                once: page::Once::default(),
            };
            let connections = descriptors::connections(site.links.len());
            outlets.spawn(async move {
                page::serve(listener, state, connections).await;
            });
        }
        Ok(Self {
            snapshots,
            entrance,
            page,
            events,
            journal,
            engine,
            outlets,
            outlets_stop,
        })
    }

    /// Every event from now on.
    pub fn events(&self) -> broadcast::Receiver<Arc<Event>> {
        self.events.subscribe()
    }

    /// Returns once everything has stopped after the token was cancelled: the engine first, so that its
    /// last event still goes out, then the outlets, then the journal.
    pub async fn stopped(self) {
        drop(self.entrance);
        self.engine.close();
        self.engine.wait().await;
        self.outlets_stop.cancel();
        self.outlets.close();
        if tokio::time::timeout(GOODBYE, self.outlets.wait())
            .await
            .is_err()
        {
            tracing::warn!("an outlet did not finish in time");
        }
        self.journal.close().await;
    }
}

async fn listen(
    http: &ListenerSettings,
) -> Result<(tokio::net::TcpListener, SocketAddr), StartError> {
    let failed = |error: io::Error| StartError::Listen {
        listen: http.listen.clone(),
        error,
    };
    let listener = page::bind(http).await.map_err(failed)?;
    let address = listener.local_addr().map_err(failed)?;
    Ok((listener, address))
}

/// The clocks that people are shown; UTC where the site file names none or the machine has no such zone.
fn zone(site: &Site) -> jiff::tz::TimeZone {
    let named = site.timezone.as_deref();
    let zone = named.and_then(|name| jiff::tz::TimeZone::get(name).ok());
    zone.unwrap_or(jiff::tz::TimeZone::UTC)
}

/// The site with the age of each calibration filled in: the one thing in a plan that needs today's date.
pub fn with_ages(site: &Site) -> Site {
    let mut site = site.clone();
    site.plan.age_on(clock::today());
    site
}
