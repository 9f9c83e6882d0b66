//! The JSON forms.

use crate::snapshots;
use serde::Serialize;
use standpipe::engine::notice::{NextTold, Notice, NoticeAlarm, NoticeId, NoticeKind, RecipientId};
use standpipe::engine::plan::Priority;
use standpipe::wire::{
    AlarmForm, EventForm, HeartbeatForm, NoticeForm, ReadingForm, SignalForm, TankForm, schema,
};
use std::sync::Arc;
use std::time::Duration;

fn pretty(form: &impl Serialize) -> String {
    serde_json::to_string_pretty(form).expect("plain values only")
}

#[test]
fn a_good_reading() {
    let tank = &snapshots::site().tanks[0];
    insta::assert_snapshot!(pretty(&ReadingForm::of(tank)));
}

#[test]
fn a_tank_that_nothing_is_known_of() {
    insta::assert_snapshot!(pretty(&TankForm::new(&snapshots::site().tanks[1])));
}

#[test]
fn an_alarm_that_is_shelved_while_it_is_active() {
    let alarm = &snapshots::site().tanks[0].alarms[1];
    insta::assert_snapshot!(pretty(&AlarmForm::new(alarm)));
}

#[test]
fn an_event() {
    insta::assert_snapshot!(pretty(&EventForm::new(&snapshots::event(12))));
}

#[test]
fn a_signal() {
    insta::assert_snapshot!(pretty(&SignalForm::new(&snapshots::site().transmitters[0])));
}

#[test]
fn schemas() {
    let all: Vec<_> = schema::FORMS
        .iter()
        .filter_map(|form| schema::schema(form))
        .collect();
    assert_eq!(all.len(), schema::FORMS.len());
    insta::assert_snapshot!(pretty(&all));
}

#[test]
fn a_heartbeat() {
    insta::assert_snapshot!(pretty(&HeartbeatForm::new(&snapshots::site())));
}

#[test]
fn a_notice() {
    let form = NoticeForm::new("Alder Rise", &notice());
    insta::assert_snapshot!(pretty(&form));
}

fn notice() -> Notice {
    Notice {
        id: NoticeId(17),
        recipient: RecipientId(0),
        to: "Ada".into(),
        route: "on-call".into(),
        time: snapshots::moment(),
        kind: NoticeKind::Alarm,
        test: false,
        again: false,
        priority: Priority::High,
        subject: "Alder Rise: ALARM high: clearwell LAH level 3.412 m, high limit 3.400 m"
            .to_owned(),
        text: "Alarm: …\n".to_owned(),
        alarms: vec![NoticeAlarm {
            tank: "clearwell".into(),
            code: "LAH".into(),
            activation: 12,
            priority: Priority::High,
            since: snapshots::moment(),
            returned: false,
            what: "level 3.412 m, high limit 3.400 m".into(),
            record: Arc::default(),
        }],
        escalation: Some(NextTold {
            to: "head-of-works".into(),
            at: snapshots::moment() + Duration::from_secs(900),
        }),
    }
}
