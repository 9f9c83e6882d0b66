//! The door of the page: who is let in, and how long one that says nothing may stand in it.
//!
//! What always holds: however many call, and however slowly they speak, links, journal and local socket find
//! descriptors; one that calls from many ports does not shut out all others.

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::{ConnectInfo, Request};
use axum::http::StatusCode;
use axum::middleware::{Next, from_fn};
use axum::response::{IntoResponse, Response};
use hyper::server::conn::http1;
use hyper::service::{Service, service_fn};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::collections::HashMap;
use std::io::Write;
use std::net::{IpAddr, SocketAddr};
use std::pin::pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::net::{TcpListener, TcpStream};
use tokio::time::timeout;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

/// How long a caller may take to ask, and stay without asking again.
const ASKS_WITHIN: Duration = Duration::from_secs(15);
/// How long what it sends with that may take.
const SENDS_WITHIN: Duration = Duration::from_secs(15);
/// How long it may leave what it is sent untaken.
const TAKES_WITHIN: Duration = Duration::from_secs(30);
/// The most that a form or a command is long, bytes.
const LONGEST_BODY: usize = 2 << 20;
/// How long a stop waits for an answer that is under way.
const FINISH: Duration = Duration::from_secs(2);
/// What cannot be let in is told so often at most.
const TELL_EVERY: Duration = Duration::from_secs(60);
/// After what went wrong at the door itself.
const PAUSE: Duration = Duration::from_millis(200);
const FULL: &[u8] =
    b"HTTP/1.1 503 Service Unavailable\r\nContent-Type: text/plain\r\nContent-Length: 43\r\n\
    Retry-After: 10\r\nConnection: close\r\n\r\ntoo many connections: try again in a while\n";

/// How many may be in at once, and how many of them from one address.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Room {
    pub most: usize,
    pub from_one: usize,
}

impl Room {
    /// A proxy in front of the page calls for all, so one address has the most of it.
    pub fn of(most: usize) -> Self {
        Self {
            most,
            from_one: (most * 3 / 4).max(1),
        }
    }
}

/// Serves until `stop`; answers that are under way are finished, if that is soon.
pub async fn serve(
    listener: TcpListener,
    routes: Router,
    room: Room,
    (stop, up): (CancellationToken, fn() -> Duration),
) {
    let routes = routes.layer(from_fn(in_time));
    let (inside, guests) = (TaskTracker::new(), Arc::new(Guests::default()));
    let mut told: Option<Duration> = None;
    let mut tell = |what: String| {
        if told.is_none_or(|last| up().saturating_sub(last) >= TELL_EVERY) {
            told = Some(up());
            tracing::warn!("{what}");
        }
    };
    loop {
        let accepted = tokio::select! {
            accepted = listener.accept() => accepted,
            () = stop.cancelled() => break,
        };
        let (stream, from) = match accepted {
            Ok(accepted) => accepted,
            Err(error) => {
                tell(format!("the page can't be opened to anybody: {error}"));
                tokio::time::sleep(PAUSE).await;
                continue;
            }
        };
        match guests.enter(from.ip(), room) {
            Some(guest) => {
                let talk = talk(stream, from, routes.clone(), stop.clone());
                drop(inside.spawn(async move {
                    talk.await;
                    drop(guest);
                }));
            }
            None => {
                tell(format!(
                    "the page has all the connections that it may have ({}, {} from one address): {} is turned away",
                    room.most,
                    room.from_one,
                    from.ip()
                ));
                turn_away(stream);
            }
        }
    }
    inside.close();
    // Who still takes its time is left.
    let _ = timeout(FINISH, inside.wait()).await;
}

/// It is told so where that needs no waiting.
fn turn_away(stream: TcpStream) {
    let told = stream.into_std().and_then(|mut stream| stream.write(FULL));
    if let Err(error) = told {
        tracing::debug!("page: one that was turned away: {error}");
    }
}

async fn talk(stream: TcpStream, from: SocketAddr, routes: Router, stop: CancellationToken) {
    // One whose window stays shut, or that is gone without a word: the kernel gives it up.
    if let Err(error) = socket2::SockRef::from(&stream).set_tcp_user_timeout(Some(TAKES_WITHIN)) {
        tracing::debug!("page: {from}: {error}");
    }
    let routes = TowerToHyperService::new(routes);
    let service = service_fn(move |mut request: hyper::Request<hyper::body::Incoming>| {
        request.extensions_mut().insert(ConnectInfo(from));
        routes.call(request)
    });
    let talk = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(ASKS_WITHIN)
        .serve_connection(TokioIo::new(stream), service);
    let mut talk = pin!(talk);
    let ended = tokio::select! {
        ended = talk.as_mut() => ended,
        () = stop.cancelled() => {
            talk.as_mut().graceful_shutdown();
            talk.await
        }
    };
    if let Err(error) = ended {
        tracing::debug!("page: {from}: {error}");
    }
}

/// What is sent is taken whole, and soon, before anybody looks at it.
async fn in_time(request: Request, next: Next) -> Response {
    let (head, body) = request.into_parts();
    let body = match timeout(SENDS_WITHIN, to_bytes(body, LONGEST_BODY)).await {
        Ok(Ok(body)) => body,
        Ok(Err(_)) => {
            let said = "what is sent is too long, or broke off\n";
            return (StatusCode::PAYLOAD_TOO_LARGE, said).into_response();
        }
        Err(_) => return (StatusCode::REQUEST_TIMEOUT, "it took too long\n").into_response(),
    };
    next.run(Request::from_parts(head, Body::from(body))).await
}

/// How many are in from each address.
#[derive(Debug, Default)]
struct Guests(Mutex<HashMap<IpAddr, usize>>);

impl Guests {
    fn enter(self: &Arc<Self>, from: IpAddr, room: Room) -> Option<Guest> {
        let mut inside = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let own = inside.get(&from).copied().unwrap_or(0);
        if own >= room.from_one || inside.values().sum::<usize>() >= room.most {
            return None;
        }
        inside.insert(from, own + 1);
        Some(Guest {
            guests: Arc::clone(self),
            from,
        })
    }
}

/// One that is in; it leaves by being dropped.
#[derive(Debug)]
struct Guest {
    guests: Arc<Guests>,
    from: IpAddr,
}

impl Drop for Guest {
    fn drop(&mut self) {
        let mut inside = self.guests.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = inside.get_mut(&self.from) {
            *count -= 1;
            if *count == 0 {
                inside.remove(&self.from);
            }
        }
    }
}

#[cfg(test)]
#[path = "door_tests.rs"]
mod tests;
