//! What is served, asked for over a socket as a client would.

use crate::snapshots;
use serde_json::Value;
use standpipe::engine::{Reason, Snapshot};
use standpipe::page::{Once, PageState, Shown, serve};
use standpipe::people::{Accounts, Entrance, Roster};
use standpipe::quantity::{Dimension, find};
use standpipe::site::settings::{ListenerSettings, ShowUnits};
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Semaphore, mpsc, watch};
use tokio::time::timeout;
use tokio_util::sync::CancellationToken;

/// A page of that site at its own moment, open to everybody; nobody can sign in.
pub fn state(site: Snapshot, stop: CancellationToken) -> PageState {
    let (petitions, _) = mpsc::channel(1);
    let roster = Roster::new(Vec::new(), 0);
    let entrance = Entrance::new(petitions, roster, Arc::new(Default::default));
    let (_, snapshots) = watch::channel(Arc::new(site));
    let unit = |symbol, dimension| find(symbol, dimension).expect("a unit");
    PageState {
        snapshots,
        metrics: Arc::new(|| "standpipe_build_info 1\n".to_owned()),
        round_trips: Arc::new(Default::default),
        accounts: Accounts::new(entrance, Duration::from_secs(60), up),
        journal: "no such journal".into(),
        settings: ListenerSettings {
            listen: String::new(),
            names: vec!["page.alder-rise.example".to_owned()],
            open: true,
            session: Duration::from_secs(60),
            simulated: false,
        },
        shown: Shown {
            units: ShowUnits {
                level: unit("m", Dimension::Length),
                volume: unit("m3", Dimension::Volume),
                pressure: unit("kPa", Dimension::Pressure),
                temperature: unit("degC", Dimension::Temperature),
                flow: unit("m3/h", Dimension::Flow),
                mass: unit("t", Dimension::Mass),
            },
            zone: jiff::tz::TimeZone::UTC,
        },
        up,
        stop,
        lines: Arc::new(Semaphore::new(1)),
        once: Once::default(),
    }
}

/// A second after the snapshot.
fn up() -> Duration {
    Duration::from_secs(61)
}

/// Status, head and body of an answer.
async fn ask(site: Snapshot, path: &str) -> (u16, String, String) {
    ask_as(site, path, "127.0.0.1:8470").await
}

/// The same by another name of the page.
async fn ask_as(site: Snapshot, path: &str, host: &str) -> (u16, String, String) {
    answer(state(site, CancellationToken::new()), path, host).await
}

/// What a page with that state answers.
pub async fn answer(state: PageState, path: &str, host: &str) -> (u16, String, String) {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
    let address = listener.local_addr().expect("it is bound");
    let stop = state.stop.clone();
    let server = tokio::spawn(serve(listener, state, 64));
    let mut stream = TcpStream::connect(address).await.expect("it listens");
    let request = format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n");
    stream
        .write_all(request.as_bytes())
        .await
        .expect("it reads");
    let mut answer = String::new();
    stream
        .read_to_string(&mut answer)
        .await
        .expect("it answers in UTF-8");
    stop.cancel();
    timeout(Duration::from_secs(5), server)
        .await
        .expect("in time")
        .expect("no panic");
    let (head, body) = answer.split_once("\r\n\r\n").expect("a head and a body");
    let status = head
        .split(' ')
        .nth(1)
        .expect("a status")
        .parse()
        .expect("a number");
    (status, head.to_lowercase(), body.to_owned())
}

#[tokio::test]
async fn the_overview() {
    let (status, head, body) = ask(snapshots::site(), "/").await;
    assert_eq!(status, 200);
    assert!(head.contains("content-type: text/html; charset=utf-8"));
    insta::assert_snapshot!(body);
}

#[tokio::test]
async fn the_alarms() {
    let (status, _, body) = ask(snapshots::site(), "/alarms").await;
    assert_eq!(status, 200);
    insta::assert_snapshot!(body);
}

/// What a page may load and do is told with every answer.
#[tokio::test]
async fn nothing_foreign_runs_in_the_page() {
    for path in ["/", "/alarms", "/sign-in", "/api/v1/tanks", "/nowhere"] {
        let (_, head, body) = ask(snapshots::site(), path).await;
        assert!(
            head.contains("content-security-policy: default-src 'none'"),
            "{head}"
        );
        assert!(head.contains("x-content-type-options: nosniff"), "{head}");
        assert!(head.contains("cache-control: no-store"), "{head}");
        let scripts = body.matches("<script").count();
        assert_eq!(
            scripts,
            body.matches("<script src=\"/live.js\" defer></script>")
                .count()
        );
        assert!(!body.contains(" style="), "{path}");
        let is_html = head.contains("content-type: text/html");
        assert!(!(is_html && body.contains("<north>")), "{path}");
        for place in ["http://", "https://"] {
            assert!(!body.contains(place), "{path} leads elsewhere");
        }
    }
}

/// 200 tanks go out in less than 300 kB.
#[tokio::test]
async fn many_tanks_stay_small() {
    let mut site = snapshots::site();
    let tank = site.tanks[0].clone();
    site.tanks = (0..200)
        .map(|number| {
            let mut tank = tank.clone();
            tank.name = format!("clearwell-{number}").into();
            tank
        })
        .collect();
    let (_, _, body) = ask(site, "/").await;
    assert!(body.len() < 300_000, "{} bytes", body.len());
}

#[tokio::test]
async fn a_tank_by_its_name() {
    for path in ["/api/v1/tanks/north-tank", "/api/v1/tanks/North%20Tank"] {
        let (status, head, body) = ask(snapshots::site(), path).await;
        assert_eq!(status, 200, "{path}");
        assert!(head.contains("content-type: application/json"));
        let tank: Value = serde_json::from_str(&body).expect("JSON");
        assert_eq!(tank["reading"]["quality"], "bad");
    }
    let (status, _, body) = ask(snapshots::site(), "/api/v1/tanks/south").await;
    assert_eq!(status, 404);
    assert!(body.contains("/api/v1/tanks"), "{body}");
}

#[tokio::test]
async fn the_lists() {
    let (status, _, body) = ask(snapshots::site(), "/api/v1/alarms").await;
    let answer: Value = serde_json::from_str(&body).expect("JSON");
    assert_eq!(
        (status, answer["time"].as_str()),
        (200, Some("2026-03-04T05:06:07.890Z"))
    );
    let alarms = answer["alarms"].as_array().expect("a list");
    let first = (&alarms[0]["tank"], &alarms[0]["code"], &alarms[0]["state"]);
    assert_eq!(first, (&"clearwell".into(), &"LAH".into(), &"UNACK".into()));
    assert_eq!(alarms.len(), 8);
    let last = (&alarms[7]["tank"], &alarms[7]["code"]);
    assert_eq!(last, (&"system".into(), &"LINK-SKID-B".into()));
    assert_eq!(alarms[7]["follows"][0]["tank"], "north-tank");
    let (_, _, body) = ask(snapshots::site(), "/api/v1/contacts").await;
    let answer: Value = serde_json::from_str(&body).expect("JSON");
    assert_eq!(answer["contacts"][0]["means"], "running");
    let (_, _, body) = ask(snapshots::site(), "/api/v1/tanks").await;
    let answer: Value = serde_json::from_str(&body).expect("JSON");
    assert_eq!(answer["tanks"].as_array().map(Vec::len), Some(2));
    let (status, ..) = ask(snapshots::site(), "/api/v1/schema/reading").await;
    assert_eq!(status, 200);
}

#[tokio::test]
async fn metrics_have_their_media_type() {
    let (status, head, body) = ask(snapshots::site(), "/metrics").await;
    assert_eq!((status, body.as_str()), (200, "standpipe_build_info 1\n"));
    assert!(head.contains("content-type: text/plain; version=0.0.4"));
}

#[tokio::test]
async fn ready_means_that_no_tank_waits_for_its_first_reading() {
    assert_eq!(ask(snapshots::site(), "/health/live").await.0, 200);
    assert_eq!(ask(snapshots::site(), "/health/ready").await.0, 200);
    let mut waiting = snapshots::site();
    waiting.tanks[0].reading = snapshots::bad(0, Reason::WaitingForData);
    let (status, _, body) = ask(waiting.clone(), "/health/ready").await;
    assert_eq!(status, 503);
    assert_eq!(body, "not ready: clearwell waiting for the first reading\n");
    waiting.tanks[0].alarms[2].active = true;
    assert_eq!(ask(waiting, "/health/ready").await.0, 200);
    let mut full = snapshots::site();
    full.system
        .iter_mut()
        .for_each(|alarm| alarm.active = false);
    assert_eq!(ask(full.clone(), "/health/ready").await.2, "ready\n");
    let mut journal = full.tanks[0].alarms[0].clone();
    (journal.code, journal.active) = ("JOURNAL".into(), true);
    full.system.push(journal);
    let (status, _, body) = ask(full, "/health/ready").await;
    assert_eq!(
        (status, &*body),
        (200, "ready; alarms of the system: JOURNAL\n")
    );
}

/// Whoever writes a client reads this file; it is what is served.
#[tokio::test]
async fn the_description_of_the_interface() {
    let (status, head, body) = ask(snapshots::site(), "/api/v1/openapi.json").await;
    assert_eq!(status, 200);
    assert!(head.contains("content-type: application/json"));
    let served: Value = serde_json::from_str(&body).expect("JSON");
    let text = serde_json::to_string_pretty(&served).expect("it was read") + "\n";
    crate::compare(std::path::Path::new("deploy/openapi.json"), &text);
}

/// A page of elsewhere that is given this machine's address asks by its own name, and is refused.
#[tokio::test]
async fn a_foreign_name_is_refused_with_what_to_do() {
    let asked = |host: &'static str| ask_as(snapshots::site(), "/alarms", host);
    let (status, head, body) = asked("evil.example:8470").await;
    assert_eq!(status, 421);
    assert!(head.contains("content-type: text/plain"), "{head}");
    assert!(
        body.contains("not served under the name \"evil.example:8470\""),
        "{body}"
    );
    assert!(body.contains("names = [\"evil.example\"]"), "{body}");
    assert!(!body.contains("clearwell"), "{body}");
    assert_eq!(asked("page.alder-rise.example").await.0, 200);
    assert_eq!(asked("192.0.2.7:8470").await.0, 200);
}
