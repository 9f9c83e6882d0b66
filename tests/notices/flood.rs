//! Hundreds of alarms in a minute: few messages, in the order of urgency, and answering as quick as ever.

use crate::rig::{CHAIN, Rig};
use standpipe::engine::notice::NoticeKind;
use standpipe::engine::plan::Priority;
use standpipe::engine::{Command, EventKind};

const PRIORITIES: [&str; 5] = ["low", "medium", "high", "medium", "highest"];

#[test]
fn five_hundred_alarms_in_a_minute() {
    let priorities: Vec<&str> = (0..500).map(|place| PRIORITIES[place % 5]).collect();
    let mut rig = Rig::new(&priorities, CHAIN);
    rig.go(5);
    for second in 0..60 {
        for place in second * 500 / 60..(second + 1) * 500 / 60 {
            rig.contacts[place] = true;
        }
        rig.go(1);
    }
    rig.go(60);
    let of = |kind: NoticeKind| rig.notices.iter().filter(move |(_, one)| one.kind == kind);
    let singles: Vec<_> = of(NoticeKind::Alarm).collect();
    let highest = singles
        .iter()
        .filter(|(_, one)| one.priority == Priority::Highest)
        .count();
    assert_eq!(highest, 100, "the highest always come one by one");
    // The first ten annunciations begin the flood, low ones are told to nobody.
    assert!(singles.len() <= 110, "{}", singles.len());
    let digests: Vec<_> = of(NoticeKind::Digest).collect();
    assert!((1..=2).contains(&digests.len()), "{}", digests.len());
    let (_, digest) = digests[0];
    assert!(digest.subject.contains("FLOOD"), "{}", digest.subject);
    let order: Vec<Priority> = digest.alarms.iter().map(|alarm| alarm.priority).collect();
    assert!(order.is_sorted_by(|a, b| a >= b), "the most urgent first");
    assert_eq!(order.first(), Some(&Priority::High));
    assert!(digest.alarms.len() <= 40 && digest.text.contains("more of no higher priority"));
    assert!(digest.text.len() < 20_000);
    assert!(rig.snapshot().notices.flood);

    // A command is answered in one step that has little to say.
    rig.most = 0;
    rig.acknowledge(499);
    assert!(rig.most < 10, "{} effects", rig.most);
    rig.notices.clear();
    rig.go(120);
    let repeated = rig
        .notices
        .iter()
        .filter(|(_, one)| one.kind == NoticeKind::Digest);
    assert!(repeated.count() <= 2, "a digest a minute at most");
}

#[test]
fn within_one_step_the_most_urgent_goes_first() {
    let mut rig = Rig::new(&["medium", "high", "highest"], CHAIN);
    rig.contacts = vec![true; 3];
    rig.go(1);
    let order: Vec<Priority> = rig.notices.iter().map(|(_, one)| one.priority).collect();
    assert_eq!(order, [Priority::Highest, Priority::High, Priority::Medium]);
}

#[test]
fn a_flood_ends_and_its_last_digest_goes_out() {
    let mut rig = Rig::new(&["high"; 12], CHAIN);
    rig.contacts = vec![true; 12];
    rig.go(1);
    assert_eq!(rig.notices.len(), 9, "the tenth begins the flood");
    let begun = rig.of_kind(EventKind::Notice);
    assert!(
        begun
            .iter()
            .any(|event| event.text.contains("a flood of alarms begins"))
    );
    rig.go(60);
    let (at, digest) = &rig.notices[9];
    assert_eq!((*at, digest.alarms.len()), (61, 3));
    for place in 0..12 {
        rig.acknowledge(place);
    }
    rig.notices.clear();
    rig.go(540);
    let events = rig.of_kind(EventKind::Notice);
    assert!(
        events
            .iter()
            .any(|event| event.text.contains("the flood of alarms is over"))
    );
    assert!(!rig.snapshot().notices.flood);
    assert_eq!(rig.notices.len(), 0, "all is answered");
    assert_eq!(rig.remembered(), 1);
}

#[test]
fn escalations_of_a_flood_are_gathered_too() {
    let mut rig = Rig::new(&["high"; 30], CHAIN);
    rig.contacts = vec![true; 30];
    rig.go(300);
    // New ones keep the flood on while the first ones escalate.
    for second in 0..900 {
        let place = second % 30;
        rig.acknowledge_if_open(place);
        rig.contacts[place] = !rig.contacts[place];
        rig.go(1);
    }
    let to_ben = rig.notices.iter().filter(|(_, one)| &*one.to == "Ben");
    assert!(to_ben.count() <= 20, "one a minute at most");
}

#[test]
fn one_that_chatters_is_told_once_a_minute() {
    let mut rig = Rig::new(&["highest"], CHAIN);
    for _ in 0..300 {
        rig.set(0, true);
        rig.set(0, false);
    }
    let alarms = rig
        .notices
        .iter()
        .filter(|(_, one)| one.kind != NoticeKind::Returned);
    let alarms = alarms.count();
    assert!((8..=12).contains(&alarms), "{alarms} in ten minutes");
    assert!(rig.notices.len() <= 24, "{}", rig.notices.len());
}

impl Rig {
    fn acknowledge_if_open(&mut self, place: usize) {
        let answer = self.ask(Command::Acknowledge {
            tank: "clearwell".into(),
            code: format!("XA-{place}"),
            by: "Ada".into(),
            activation: None,
        });
        assert!(answer.is_ok() || answer.is_err_and(|text| text.contains("nothing to")));
    }
}
