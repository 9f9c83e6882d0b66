//! Notices of the running program: to an independent mail server and to a plain HTTP server of the test's own.

use crate::broker::Broker;
use crate::daemon::Daemon;
use crate::mail::MailServer;
use crate::modbus::ModbusServer;
use crate::patience::until;
use crate::subscriber::Subscriber;
use crate::works::{TOPIC, Works, field, free_port, set_clearwell};
use serde_json::Value;
use standpipe::daemon::clock::up;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpListener;
use std::process::Command;
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// What the high alarm of `clearwell` needs to be sure to come: some 4.3 m.
const HIGH_KPA: f64 = 40.0;

fn mail(port: u16) -> String {
    format!(
        "[mail]\nserver = \"smtp://127.0.0.1:{port}\"\nfrom = \"Standpipe <standpipe@alder-rise.example>\"\n"
    )
}

/// Requests as they came: head and body.
type Posted = Arc<Mutex<Vec<(String, String)>>>;

/// Answers each request with that status.
fn web_server(status: &'static str) -> (u16, Posted) {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
    let port = listener.local_addr().expect("it is bound").port();
    let posted = Posted::default();
    let kept = Arc::clone(&posted);
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let mut stream = BufReader::new(stream.expect("it comes"));
            let (mut head, mut length) = (String::new(), 0);
            loop {
                let mut line = String::new();
                if stream.read_line(&mut line).is_err() || line.trim().is_empty() {
                    break;
                }
                if let Some(text) = line.to_lowercase().strip_prefix("content-length:") {
                    length = text.trim().parse().expect("a length");
                }
                head += &line;
            }
            let mut body = vec![0; length];
            stream.read_exact(&mut body).expect("a body");
            let body = String::from_utf8(body).expect("text");
            kept.lock().expect("not poisoned").push((head, body));
            let answer = format!("HTTP/1.1 {status}\r\nContent-Length: 0\r\n\r\n");
            // Whoever has gone needs no answer.
            let _ = stream.get_mut().write_all(answer.as_bytes());
        }
    });
    (port, posted)
}

fn count(posted: &Posted) -> usize {
    posted.lock().expect("not poisoned").len()
}

/// The texts of events of kind `notice`.
fn told(works: &Works) -> Vec<String> {
    let mut command = Command::new(crate::works::STANDPIPE);
    let output = command
        .args(["journal", "list"])
        .arg(works.site())
        .args(["--kind", "notice", "--json"])
        .output()
        .expect("it runs");
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    text.lines()
        .filter_map(|line| serde_json::from_str::<Value>(line).ok())
        .filter_map(|event| Some(event["text"].as_str()?.to_owned()))
        .collect()
}

fn alarmed(works: &Works, server: &mut ModbusServer) -> Daemon {
    let daemon = Daemon::start(works);
    daemon.reading("clearwell", |it| it["quality"] == "good");
    set_clearwell(server, HIGH_KPA);
    daemon.alarm_in("clearwell", "LAH", "UNACK");
    daemon
}

#[test]
fn a_mail_arrives_after_a_refused_connection_and_a_refusal_for_now() {
    let (mut server, port) = (field(), free_port());
    let works = Works::new(&server);
    works.add(&mail(port));
    works.add("[[notice]]\nname = \"on-call\"\nto = [\"Ada <ada@alder-rise.example>\"]\nat_least = \"high\"\n");
    let daemon = alarmed(&works, &mut server);
    // Nobody listens yet.
    std::thread::sleep(Duration::from_millis(1200));
    let mut mail = MailServer::start(port, "later");
    std::thread::sleep(Duration::from_millis(2500));
    mail.look();
    assert!(mail.taken.is_empty());
    mail.mode("take");
    let message = mail.message("ALARM high: clearwell LAH level");
    assert_eq!(message["to"], serde_json::json!(["ada@alder-rise.example"]));
    assert_eq!(message["auto"], "auto-generated");
    assert_eq!(message["id"], "<notice-1.alder-rise@alder-rise.example>");
    let text = message["text"].as_str().expect("text");
    for words in [
        "Cause:       Inlet valve left open",
        "Response:    Close the inlet valve XV-101",
        "standpipe ack SITE-FILE clearwell LAH --activation",
        "Notice 1 of Alder Rise",
    ] {
        assert!(text.contains(words), "{words} is not in:\n{text}");
    }
    until("the outcome is journalled", || {
        let texts = told(&works);
        texts
            .iter()
            .any(|text| text.contains("taken by the server of Ada"))
            .then_some(())
    });
    mail.look();
    assert_eq!(mail.taken.len(), 1, "once");
    drop(daemon);
}

#[test]
fn a_server_that_hangs_delays_nobody_else() {
    let (mut server, port) = (field(), free_port());
    let _mail = MailServer::start(port, "hang");
    let (web, posted) = web_server("204 No Content");
    let works = Works::new(&server);
    std::fs::write(works.file("secret"), "Bearer of-a-test\n").expect("writable");
    works.add(&mail(port));
    works.add(&format!(
        "[[notice]]\nname = \"hung\"\nto = [\"ada@alder-rise.example\"]\nat_least = \"high\"\n\
         [[notice]]\nname = \"pager\"\nwebhook = \"http://127.0.0.1:{web}/hook?of=works\"\nat_least = \"high\"\nrepeat = \"1 s\"\nsecret = {{ file = \"secret\" }}\n"
    ));
    let daemon = alarmed(&works, &mut server);
    until("the webhook is told, and told again", || {
        (count(&posted) >= 3).then_some(())
    });
    let (head, body) = posted.lock().expect("not poisoned")[0].clone();
    assert!(
        head.starts_with("POST /hook?of=works HTTP/1.1\r\n"),
        "{head}"
    );
    assert!(
        head.to_lowercase()
            .contains("authorization: bearer of-a-test"),
        "{head}"
    );
    let form: Value = serde_json::from_str(&body).expect("JSON");
    assert_eq!(
        (&form["kind"], &form["notice"]),
        (&"alarm".into(), &"pager".into())
    );
    assert_eq!(form["alarms"][0]["code"], "LAH");
    assert_eq!(
        form["alarms"][0]["activation"],
        daemon.alarm("clearwell", "LAH")["activation"]
    );
    let begun = up();
    let done = works.standpipe("ack", &["clearwell", "LAH", "--by", "Ada"]);
    assert_eq!(done.code, Some(0), "{done:?}");
    assert!(up() - begun < Duration::from_secs(5), "answering hangs");
    let before = count(&posted);
    std::thread::sleep(Duration::from_millis(2500));
    assert!(count(&posted) <= before + 1, "an answer ends the repeats");
    let log = std::fs::read_to_string(works.file("log")).expect("a log");
    assert!(!log.contains("of-a-test"), "a secret is printed");
}

#[test]
fn who_is_refused_for_good_makes_the_next_one_be_told_at_once_and_the_chain_goes_on_in_time() {
    let (mut server, port) = (field(), free_port());
    let mut mail_server = MailServer::start(port, "take");
    let (web, posted) = web_server("404 Not Found");
    let works = Works::new(&server);
    works.add(&mail(port));
    works.add(&format!(
        "[[notice]]\nname = \"pager\"\nwebhook = \"http://127.0.0.1:{web}/\"\nat_least = \"high\"\ntanks = [\"clearwell\"]\nescalate = {{ after = \"1 h\", to = \"on-call\" }}\n\
         [[notice]]\nname = \"on-call\"\nto = [\"ada@alder-rise.example\"]\nescalate = {{ after = \"3 s\", to = \"owner\" }}\n\
         [[notice]]\nname = \"owner\"\nto = [\"ben@alder-rise.example\"]\n"
    ));
    let daemon = alarmed(&works, &mut server);
    let to = |mail: &mut MailServer, who: &str| {
        until(who, || {
            mail.look();
            mail.taken.iter().find(|one| one["to"][0] == who).cloned()
        })
    };
    to(&mut mail_server, "ada@alder-rise.example");
    let begun = up();
    to(&mut mail_server, "ben@alder-rise.example");
    let later = up() - begun;
    assert!((2.0..8.0).contains(&later.as_secs_f64()), "{later:?}");
    assert_eq!(count(&posted), 1, "404 is not asked twice");
    until("it is journalled", || {
        let texts = told(&works);
        let is_told = |text: &String| {
            text.contains("the server answers 404 Not Found; \"on-call\" is told at once")
        };
        texts.iter().any(is_told).then_some(())
    });
    let asked = works.standpipe("notice", &["--test", "owner", "--by", "Dan"]);
    assert_eq!(asked.code, Some(0), "{asked:?}");
    mail_server.message("TEST: notice \"owner\"");
    drop(daemon);
}

#[test]
fn a_notice_under_way_comes_after_a_kill_under_its_number() {
    let (mut server, port) = (field(), free_port());
    let works = Works::new(&server);
    works.add(&mail(port));
    works.add(
        "[[notice]]\nname = \"on-call\"\nto = [\"ada@alder-rise.example\"]\nat_least = \"high\"\n",
    );
    let mut daemon = alarmed(&works, &mut server);
    daemon.kill();
    let mut mail = MailServer::start(port, "take");
    let _daemon = Daemon::start(&works);
    let message = mail.message("ALARM high: clearwell LAH");
    let text = message["text"].as_str().expect("text");
    assert!(
        text.contains("one with the number 1 may have come before"),
        "{text}"
    );
}

#[test]
fn the_heartbeat_stops_with_the_daemon() {
    let (mut server, broker) = (field(), Broker::start());
    let subscriber = Subscriber::start(broker.port, "works/#");
    let works = Works::with_broker(&server, broker.port);
    works.add("[heartbeat]\nfile = \"heartbeat.json\"\nevery = \"300 ms\"\n");
    let mut daemon = alarmed(&works, &mut server);
    let beat = || -> Option<Value> {
        serde_json::from_str(&std::fs::read_to_string(works.file("heartbeat.json")).ok()?).ok()
    };
    let first = until("it beats and knows of the alarm", || {
        beat().filter(|beat| beat["unacknowledged"] == 1)
    });
    assert_eq!(first["highest"], "high");
    let next = until("it goes on", || {
        beat().filter(|beat| beat["up_s"] != first["up_s"])
    });
    assert!(next["last_read"].is_string());
    let topic = format!("{TOPIC}/heartbeat");
    subscriber.until(|on, text| on == topic && text.contains("\"unacknowledged\":1"));
    let metric = "standpipe_heartbeat_timestamp_seconds";
    let at = daemon.metric(metric).expect("it is there");
    until("the metric goes on", || {
        daemon.metric(metric).filter(|now| *now > at)
    });

    daemon.signal("STOP");
    std::thread::sleep(Duration::from_millis(700));
    let stopped = beat().expect("it stays");
    std::thread::sleep(Duration::from_secs(2));
    assert_eq!(
        beat().expect("it stays"),
        stopped,
        "a stopped daemon beats no more"
    );
    daemon.signal("CONT");
    let again = until("it beats again", || beat().filter(|beat| *beat != stopped));
    daemon.kill();
    std::thread::sleep(Duration::from_secs(1));
    let last = beat().expect("it stays");
    assert!(last["up_s"].as_f64() >= again["up_s"].as_f64());
    std::thread::sleep(Duration::from_secs(1));
    assert_eq!(beat().expect("it stays"), last, "whole, and old");
}
