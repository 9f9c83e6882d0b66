//! A restart between two notices: escalation goes on, and what was under way comes again under its number.

use crate::rig::{CHAIN, Rig, Server};

fn restarted(rig: &Rig, after: u64, notices: &str) -> Rig {
    let utc = rig.utc() + std::time::Duration::from_secs(after);
    Rig::start(&["high"], notices, &utc.to_string(), Some(rig.memory()))
}

#[test]
fn an_escalation_comes_when_it_would_have_come() {
    let mut rig = Rig::new(&["high"], CHAIN);
    rig.set(0, true);
    rig.go(299);
    let last = rig.notices.last().expect("one was told").1.id.0;
    let mut rig = restarted(&rig, 60, CHAIN);
    rig.contacts = vec![true];
    assert_eq!(rig.told(), [], "it was taken: nothing is told twice");
    rig.go(600);
    let told = rig.told();
    // The repeat at 601 s and the escalation at 901 s after the beginning; the new run began at 360 s.
    assert_eq!(told[0], (241, "Ada".to_owned(), "repeat"));
    assert_eq!(told[1], (541, "Ben".to_owned(), "escalated"));
    let ids: Vec<u64> = rig
        .snapshot()
        .notices
        .calls
        .iter()
        .map(|call| call.activation)
        .collect();
    assert_eq!(ids.len(), 1);
    rig.go(600);
    assert!(
        rig.notices.iter().all(|(_, one)| one.id.0 > last),
        "no number twice"
    );
}

#[test]
fn what_was_due_meanwhile_is_told_at_once() {
    let mut rig = Rig::new(&["high"], CHAIN);
    rig.set(0, true);
    let mut rig = restarted(&rig, 1000, CHAIN);
    let who: Vec<_> = rig
        .told()
        .into_iter()
        .map(|(_, to, kind)| (to, kind))
        .collect();
    assert_eq!(who, [("Ben".into(), "escalated"), ("Ada".into(), "repeat")]);
}

#[test]
fn one_under_way_is_sent_again_under_its_number() {
    let mut rig = Rig::new(&["high"], CHAIN);
    rig.server = Server::Silent;
    rig.set(0, true);
    let first = rig.notices[0].1.clone();
    let mut rig = restarted(&rig, 10, CHAIN);
    let (_, again) = &rig.notices[0];
    assert_eq!((again.id, &again.to), (first.id, &first.to));
    assert!(again.again && again.text.contains("Sent again after a restart"));
    assert_eq!(rig.told().len(), 1);
}

#[test]
fn an_answer_before_the_restart_holds() {
    let mut rig = Rig::new(&["high"], CHAIN);
    rig.set(0, true);
    rig.acknowledge(0);
    let mut rig = restarted(&rig, 5, CHAIN);
    rig.contacts = vec![true];
    rig.go(3600);
    assert_eq!(rig.told(), []);
}

#[test]
fn who_is_new_in_the_site_file_is_told_what_is_open() {
    let mut rig = Rig::new(&["high"], "");
    rig.set(0, true);
    let mut rig = restarted(&rig, 5, CHAIN);
    let told = rig.told();
    assert_eq!(told, [(0, "Ada".to_owned(), "alarm")]);
}

#[test]
fn a_clock_that_was_set_back_delays_nothing() {
    let mut rig = Rig::new(&["high"], CHAIN);
    rig.set(0, true);
    let utc = rig.utc() - std::time::Duration::from_secs(86_400);
    let mut rig = Rig::start(&["high"], CHAIN, &utc.to_string(), Some(rig.memory()));
    rig.contacts = vec![true];
    rig.go(900);
    let ben: Vec<_> = rig
        .told()
        .into_iter()
        .filter(|(_, to, _)| to == "Ben")
        .collect();
    assert_eq!(ben.len(), 1);
}

#[test]
fn a_digest_that_had_not_arrived_comes_again() {
    let high = ["high"; 12];
    let mut rig = Rig::new(&high, CHAIN);
    rig.server = Server::Silent;
    rig.contacts = vec![true; 12];
    rig.go(62);
    let told = rig.told();
    assert_eq!(told.last().map(|(_, _, kind)| *kind), Some("digest"));
    let utc = rig.utc().to_string();
    let mut rig = Rig::start(&high, CHAIN, &utc, Some(rig.memory()));
    let kinds: Vec<_> = rig
        .notices
        .iter()
        .map(|(_, one)| (one.kind.name(), one.alarms.len()))
        .collect();
    assert!(kinds.contains(&("digest", 3)), "{kinds:?}");
    assert_eq!(
        rig.told().len(),
        10,
        "nine single ones again, and the digest"
    );
}
