//! From the first notice to the last of the chain, and what stops it.

use crate::rig::{CHAIN, Rig, Server};
use standpipe::engine::{Command, EventKind, Notice};
use std::time::Duration;

fn told(at: u64, to: &str, kind: &'static str) -> (u64, String, &'static str) {
    (at, to.to_owned(), kind)
}

#[test]
fn an_alarm_that_nobody_answers_goes_to_the_end_of_the_chain() {
    let mut rig = Rig::new(&["high"], CHAIN);
    rig.set(0, true);
    rig.go(3600);
    let cleo = "cleo@alder-rise.example";
    assert_eq!(
        rig.told(),
        [
            told(1, "Ada", "alarm"),
            told(601, "Ada", "repeat"),
            told(901, "Ben", "escalated"),
            told(1201, "Ada", "repeat"),
            told(1801, "Ada", "repeat"),
            told(1801, cleo, "escalated"),
            told(2401, "Ada", "repeat"),
            told(3001, "Ada", "repeat"),
            told(3601, "Ada", "repeat"),
        ]
    );
    rig.acknowledge(0);
    rig.go(7200);
    assert_eq!(rig.told(), []);
    assert_eq!(rig.remembered(), 1, "only how far the numbers have come");
}

#[test]
fn the_text_says_what_to_do_and_what_follows() {
    let mut rig = Rig::new(&["high"], CHAIN);
    rig.set(0, true);
    let (_, notice) = &rig.notices[0];
    assert_eq!(
        notice.subject,
        "Alder Rise: ALARM high: clearwell XA-0 XS-0 is on"
    );
    for words in [
        "Clear water tank (clearwell) XA-0, priority high",
        "Since:       Wed 4 Mar 03:00:01 GMT",
        "Response:    Close the inlet valve\n",
        "Time left:   20 min of 20 min, until Wed 4 Mar 03:20:01 GMT",
        "standpipe ack SITE-FILE clearwell XA-0 --activation",
        "No answer:   \"second\" is told at Wed 4 Mar 03:15:01 GMT",
        "Notice 1 of Alder Rise",
        "no guaranteed path to a person",
    ] {
        assert!(
            notice.text.contains(words),
            "{words} is not in:\n{}",
            notice.text
        );
    }
    rig.go(1800);
    let (_, last) = rig.notices.last().expect("it goes on");
    assert!(
        last.text
            .contains("Time left:   none: the 20 min to respond ended at"),
        "{}",
        last.text
    );
}

#[test]
fn an_answer_stops_it_and_a_new_activation_begins_anew() {
    let mut rig = Rig::new(&["high"], CHAIN);
    rig.set(0, true);
    rig.go(300);
    rig.acknowledge(0);
    rig.go(3600);
    rig.set(0, false);
    assert_eq!(
        rig.told(),
        [told(1, "Ada", "alarm")],
        "answered, nothing of its end"
    );
    rig.set(0, true);
    rig.go(900);
    let kinds: Vec<_> = rig
        .told()
        .into_iter()
        .map(|(_, to, kind)| (to, kind))
        .collect();
    assert_eq!(
        kinds,
        [
            ("Ada".into(), "alarm"),
            ("Ada".into(), "repeat"),
            ("Ben".into(), "escalated")
        ]
    );
}

#[test]
fn back_to_normal_is_told_once_and_still_wants_an_answer() {
    let mut rig = Rig::new(&["high"], CHAIN);
    rig.set(0, true);
    rig.go(99);
    rig.set(0, false);
    rig.go(900);
    let first = [
        told(1, "Ada", "alarm"),
        told(101, "Ada", "returned"),
        told(601, "Ada", "repeat"),
        told(901, "Ben", "escalated"),
    ];
    assert_eq!(rig.told(), first);
    rig.acknowledge(0);
    rig.go(3600);
    assert_eq!(rig.told(), []);

    let until_cleared = CHAIN.replace("repeat =", "until = \"cleared\"\nrepeat =");
    let mut rig = Rig::new(&["high"], &until_cleared);
    rig.set(0, true);
    rig.go(99);
    rig.set(0, false);
    rig.go(3600);
    assert_eq!(rig.told(), first[..2], "its end is the end of it");
}

#[test]
fn who_can_not_be_told_makes_the_next_one_be_told_at_once() {
    let mut rig = Rig::new(&["high"], CHAIN);
    rig.server = Server::Refuses;
    rig.set(0, true);
    let cleo = "cleo@alder-rise.example";
    assert_eq!(
        rig.told(),
        [
            told(1, "Ada", "alarm"),
            told(1, "Ben", "escalated"),
            told(1, cleo, "escalated")
        ]
    );
    let texts: Vec<&str> = rig
        .of_kind(EventKind::Notice)
        .iter()
        .map(|event| event.text.as_str())
        .collect();
    let [ada, ben, owner] = texts[..] else {
        panic!("{texts:?}")
    };
    assert!(
        ada.contains("did not reach Ada: connection refused; \"second\" is told at once"),
        "{ada}"
    );
    assert!(ben.contains("\"owner\" is told at once"), "{ben}");
    assert!(owner.ends_with("nobody else is told"), "{owner}");
    let system = |rig: &Rig| {
        rig.snapshot()
            .notices
            .calls
            .iter()
            .any(|call| &*call.code == "NOTICE")
    };
    assert!(system(&rig), "it is an alarm of the system as well");
    rig.server = Server::Takes;
    rig.go(600);
    assert_eq!(
        rig.told(),
        [told(601, "Ada", "repeat")],
        "it is tried again all the same"
    );
    let last = rig.of_kind(EventKind::Notice);
    let last = last.last().expect("an event");
    assert_eq!(last.person.as_deref(), Some("Ada"));
    assert_eq!(last.code.as_deref(), Some("XA-0"));
    assert!(
        last.text.contains("was taken by the server of Ada"),
        "{}",
        last.text
    );
}

#[test]
fn one_of_two_who_is_told_is_enough() {
    let two = CHAIN.replace(
        "\"Ada <ada@alder-rise.example>\"",
        "\"Ada <ada@alder-rise.example>\", \"Dan <dan@alder-rise.example>\"",
    );
    let mut rig = Rig::new(&["high"], &two);
    rig.server = Server::Silent;
    rig.set(0, true);
    let ids: Vec<_> = rig.notices.iter().map(|(_, notice)| notice.id).collect();
    let [ada, dan] = ids[..] else {
        panic!("{ids:?}")
    };
    use standpipe::engine::{Input, Outcome};
    rig.step(Input::Delivered(dan, Outcome::Delivered));
    rig.step(Input::Delivered(ada, Outcome::Failed("no".into())));
    rig.step(Input::Delivered(ada, Outcome::Failed("twice".into())));
    assert_eq!(rig.told().len(), 2, "Ben is not told yet");
    assert_eq!(
        rig.of_kind(EventKind::Notice).len(),
        2,
        "an outcome counts once"
    );
}

#[test]
fn what_hides_an_alarm_ends_its_notices() {
    let mut rig = Rig::new(&["high", "high"], CHAIN);
    rig.set(0, true);
    let code = |place: usize| format!("XA-{place}");
    rig.ask(Command::Shelve {
        tank: "clearwell".into(),
        code: code(0),
        by: "Ada".into(),
        time: Duration::from_secs(1800),
        reason: "float sticks".into(),
        once: false,
    })
    .expect("it can be shelved");
    rig.ask(Command::OutOfService {
        tank: "clearwell".into(),
        code: code(1),
        by: "Ada".into(),
        reason: None,
    })
    .expect("it can be taken out of service");
    rig.set(1, true);
    rig.go(1700);
    assert_eq!(rig.told(), [told(1, "Ada", "alarm")]);
    rig.go(200);
    let (at, to, kind) = &rig.told()[0];
    assert!(
        (1801..1803).contains(at),
        "its time on the shelf is up: {at}"
    );
    assert_eq!((to.as_str(), *kind), ("Ada", "alarm"));
}

#[test]
fn the_engine_says_when_the_next_notice_is_due() {
    let mut rig = Rig::new(&["high"], CHAIN);
    rig.set(0, true);
    // Nothing else of this site waits for more than ten seconds: a step at every moment that is due is enough.
    for _ in 0..2000 {
        let due = rig.due().expect("something is due");
        let wait = due.saturating_sub(rig.now.up).max(Duration::from_millis(1));
        rig.now.up += wait;
        rig.now.utc += wait;
        rig.step(standpipe::engine::Input::Tick);
        if rig.now.up > Duration::from_secs(1802) {
            break;
        }
    }
    // Without reads the measurement fails as well, which is told by itself.
    let of_contact = |one: &Notice| one.alarms.iter().any(|alarm| &*alarm.code == "XA-0");
    let told = rig
        .notices
        .iter()
        .filter(|(at, one)| *at > 1 && of_contact(one));
    let times: Vec<u64> = told.map(|(at, _)| *at).collect();
    assert_eq!(times, [601, 901, 1201, 1801, 1801]);
}
