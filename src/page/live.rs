//! The stream that keeps a page live (server-sent events, WHATWG HTML 9.2): of each part of the page, only what changed.
//!
//! `parts` carries a list of names with their content anew, `order` the names of the list's elements in their order,
//! `moments` each second the server's clock and what ages count from. A page that hears nothing for some seconds is to
//! say that what it shows is old.

use super::view::{Part, View};
use super::{PageState, alarms, overview, signals, tank, units};
use crate::engine::Snapshot;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::http::header::HeaderMap;
use axum::response::sse::{Event, Sse};
use axum::response::{IntoResponse, Response};
use futures_util::stream;
use serde_json::json;
use std::collections::BTreeMap;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{OwnedSemaphorePermit, watch};
use tokio::time::{sleep, timeout};

/// A change waits for others for so long.
const GATHER: Duration = Duration::from_millis(250);
/// Each page hears something at least so often.
const BEAT: Duration = Duration::from_secs(1);

/// Which page is kept live.
#[derive(Clone, Debug)]
enum Shows {
    Overview,
    Alarms,
    Signals,
    Tank(String),
}

impl Shows {
    fn of(name: &str) -> Option<Self> {
        match name {
            "overview" => Some(Shows::Overview),
            "alarms" => Some(Shows::Alarms),
            "signals" => Some(Shows::Signals),
            _ => None,
        }
    }

    fn parts(&self, view: &View) -> Vec<Part> {
        match self {
            Shows::Overview => overview::parts(view),
            Shows::Alarms => alarms::parts(view),
            Shows::Signals => signals::parts(view),
            Shows::Tank(name) => tank::parts(view, name),
        }
    }

    fn order(&self, view: &View) -> Vec<String> {
        match self {
            Shows::Overview => overview::order(view),
            Shows::Alarms | Shows::Signals | Shows::Tank(..) => Vec::new(),
        }
    }
}

/// One page that is kept live.
struct Line {
    state: PageState,
    headers: HeaderMap,
    shows: Shows,
    asked: units::Asked,
    changes: watch::Receiver<Arc<Snapshot>>,
    sent: BTreeMap<String, String>,
    order: Vec<String>,
    begun: bool,
    _permit: OwnedSemaphorePermit,
}

pub(super) async fn stream(
    State(state): State<PageState>,
    Path(name): Path<String>,
    Query(asked): Query<units::Asked>,
    headers: HeaderMap,
) -> Response {
    match Shows::of(&name) {
        Some(shows) => keep(state, headers, shows, asked),
        None => (StatusCode::NOT_FOUND, "there is no such page\n").into_response(),
    }
}

pub(super) async fn tank(
    State(state): State<PageState>,
    Path(name): Path<String>,
    Query(asked): Query<units::Asked>,
    headers: HeaderMap,
) -> Response {
    keep(state, headers, Shows::Tank(name), asked)
}

fn keep(state: PageState, headers: HeaderMap, shows: Shows, asked: units::Asked) -> Response {
    let Ok(permit) = Arc::clone(&state.lines).try_acquire_owned() else {
        return (
            StatusCode::SERVICE_UNAVAILABLE,
            "too many pages are kept live\n",
        )
            .into_response();
    };
    let line = Line {
        changes: state.snapshots.clone(),
        state,
        headers,
        shows,
        asked,
        sent: BTreeMap::new(),
        order: Vec::new(),
        begun: false,
        _permit: permit,
    };
    let events = stream::unfold(line, |mut line| async move {
        let event = line.next().await?;
        Some((Ok::<Event, Infallible>(event), line))
    });
    Sse::new(events).into_response()
}

impl Line {
    /// The next event; none once the program stops.
    async fn next(&mut self) -> Option<Event> {
        if self.begun {
            let changed = tokio::select! {
                changed = timeout(BEAT, self.changes.changed()) => changed,
                () = self.state.stop.cancelled() => return None,
            };
            match changed {
                Ok(Ok(())) => sleep(GATHER).await,
                Ok(Err(_)) => return None,
                Err(_) => {}
            }
        }
        self.begun = true;
        self.changes.mark_unchanged();
        let mut view = self.state.view(&self.headers);
        if !view.sees() {
            return None; // the session is over
        }
        view.whole = false;
        units::apply(&mut view.shown, &self.asked);
        let mut changed = Vec::new();
        for (name, content) in self.shows.parts(&view) {
            let content = content.into_string();
            if self.sent.get(&name) != Some(&content) {
                changed.push(json!([name, content]));
                self.sent.insert(name, content);
            }
        }
        let mut message = json!({
            "now": view.now().as_millisecond(),
            "moments": view.moments(),
            "parts": changed,
        });
        let order = self.shows.order(&view);
        if order != self.order {
            message["order"] = json!(order);
            self.order = order;
        }
        Some(Event::default().data(message.to_string()))
    }
}
