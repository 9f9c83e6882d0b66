//! Live values: the newest of each topic, retained (but for the heartbeat); never a queue of them.
//!
//! Readings, signals and contacts go out at most once per `reading_every`, and at once when their quality (or
//! the contact) changes; alarms whenever their state changes; what is gone from the site file is cleared. One message per topic is under way at most; what became newer
//! meanwhile follows. After a reconnect all go out again.

use super::topics::Topics;
use crate::engine::alarm::AlarmState;
use crate::engine::event::SYSTEM;
use crate::engine::snapshot::{AlarmView, TankView};
use crate::engine::{Quality, Snapshot};
use crate::wire::name::fold;
use crate::wire::{AlarmForm, ContactForm, HeartbeatForm, ReadingForm, SignalForm, TransferForm};
use serde::Serialize;
use std::collections::BTreeMap;
use std::time::Duration;

#[derive(Debug)]
pub(super) struct Live {
    every: Duration,
    heartbeat_every: Duration,
    values: Vec<Value>,
    places: BTreeMap<String, usize>,
}

/// The newest of one topic.
#[derive(Debug)]
pub(super) struct Value {
    pub topic: String,
    pub payload: Vec<u8>,
    /// What is in the payload that must not wait.
    urgent: Urgent,
    taken: Duration,
    sent: bool,
    under_way: bool,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Urgent {
    Status,
    Heartbeat,
    Quality(Quality),
    Transfer {
        reached: bool,
        overdue: bool,
    },
    Alarm {
        state: AlarmState,
        questionable: bool,
        active: bool,
        activation: Option<u64>,
        follows: usize,
    },
    Contact(Option<bool>, Quality),
    Cleared,
}

/// When a change that is not urgent goes out.
#[derive(Clone, Copy)]
enum Pace {
    AtMostEvery(Duration),
    OnlyUrgent,
}

impl Live {
    pub fn new(every: Duration, heartbeat_every: Duration) -> Self {
        Self {
            every,
            heartbeat_every,
            values: Vec::new(),
            places: BTreeMap::new(),
        }
    }

    /// Takes what is new in a snapshot. Answers when something that has to wait is due.
    pub fn refresh(
        &mut self,
        snapshot: &Snapshot,
        topics: &Topics,
        now: Duration,
    ) -> Option<Duration> {
        let mut due = None;
        let pace = Pace::AtMostEvery(self.every);
        for tank in &snapshot.tanks {
            let form = ReadingForm::of(tank);
            let urgent = Urgent::Quality(tank.reading.quality);
            let wait = self.offer(topics.reading(&tank.name), urgent, pace, json(&form), now);
            due = earlier(due, wait);
            let wait = self.offer_transfer(tank, topics, pace, now);
            due = earlier(due, wait);
            for alarm in &tank.alarms {
                self.alarm(topics.alarm(&tank.name, &alarm.code), alarm, now);
            }
        }
        let pace_of_heart = Pace::AtMostEvery(self.heartbeat_every);
        let beat = json(&HeartbeatForm::new(snapshot));
        let wait = self.offer(
            topics.heartbeat(),
            Urgent::Heartbeat,
            pace_of_heart,
            beat,
            now,
        );
        due = earlier(due, wait);
        for alarm in &snapshot.system {
            self.alarm(topics.system_alarm(&alarm.code), alarm, now);
        }
        self.gone(snapshot, topics, now);
        for contact in &snapshot.contacts {
            let urgent = Urgent::Contact(contact.on, contact.quality);
            let payload = json(&ContactForm::new(contact));
            let wait = self.offer(topics.contact(&contact.tag), urgent, pace, payload, now);
            due = earlier(due, wait);
        }
        for signal in &snapshot.transmitters {
            let urgent = Urgent::Quality(signal.quality);
            let payload = json(&SignalForm::new(signal));
            let wait = self.offer(topics.signal(&signal.tag), urgent, pace, payload, now);
            due = earlier(due, wait);
        }
        due
    }

    /// A transfer that is over takes its retained value with it.
    fn offer_transfer(
        &mut self,
        tank: &TankView,
        topics: &Topics,
        pace: Pace,
        now: Duration,
    ) -> Option<Duration> {
        let topic = topics.transfer(&tank.name);
        match &tank.transfer {
            Some(transfer) => {
                let urgent = Urgent::Transfer {
                    reached: transfer.memory.reached,
                    overdue: transfer.overdue,
                };
                let payload = json(&TransferForm::new(transfer));
                self.offer(topic, urgent, pace, payload, now)
            }
            None => {
                if self.places.contains_key(&topic) {
                    self.clear(topic, now);
                }
                None
            }
        }
    }

    fn alarm(&mut self, topic: String, alarm: &AlarmView, now: Duration) {
        if alarm.removed && alarm.state == AlarmState::Normal {
            return self.clear(topic, now);
        }
        let urgent = Urgent::Alarm {
            state: alarm.state,
            questionable: alarm.questionable,
            active: alarm.active,
            activation: alarm.activation,
            follows: alarm.follows.len(),
        };
        let payload = json(&AlarmForm::new(alarm));
        self.offer(topic, urgent, Pace::OnlyUrgent, payload, now);
    }

    /// What the site file does not have any more: open alarms until they are answered; all else is cleared,
    /// unless something else has that topic now.
    fn gone(&mut self, snapshot: &Snapshot, topics: &Topics, now: Duration) {
        let is_there = |folded: &str| snapshot.tanks.iter().any(|tank| fold(&tank.name) == folded);
        for gone in &snapshot.gone {
            let topic = match &*gone.tank {
                SYSTEM => topics.system_alarm(&gone.code),
                tank => topics.alarm(tank, &gone.code),
            };
            let taken = snapshot.alarms().any(|(tank, alarm)| {
                !alarm.removed && alarm.code == gone.code && fold(tank) == fold(&gone.tank)
            });
            match &gone.alarm {
                _ if taken => {}
                Some(alarm) => self.alarm(topic, alarm, now),
                None => self.clear(topic, now),
            }
            if gone.is_tank_gone && !is_there(&fold(&gone.tank)) {
                self.clear(topics.reading(&gone.tank), now);
            }
        }
    }

    /// An empty retained message: the broker forgets the topic.
    fn clear(&mut self, topic: String, now: Duration) {
        self.offer(topic, Urgent::Cleared, Pace::OnlyUrgent, Vec::new(), now);
    }

    /// `online` or `offline`. It is kept first, so it goes out first.
    pub fn status(&mut self, topics: &Topics, word: &str, now: Duration) {
        let topic = topics.status();
        if let Some(place) = self.places.get(&topic) {
            let value = &mut self.values[*place];
            if value.payload != word.as_bytes() {
                value.renew(Urgent::Status, word.into(), now);
            }
        } else {
            self.offer(topic, Urgent::Status, Pace::OnlyUrgent, word.into(), now);
        }
    }

    /// The next value that has to go out, marked as under way, with its place.
    pub fn next(&mut self) -> Option<(usize, &Value)> {
        let place = self
            .values
            .iter()
            .position(|value| !value.sent && !value.under_way)?;
        let value = &mut self.values[place];
        (value.sent, value.under_way) = (true, true);
        Some((place, value))
    }

    pub fn acknowledged(&mut self, place: usize) {
        self.values[place].under_way = false;
    }

    /// The client did not take it after all.
    pub fn refused(&mut self, place: usize) {
        let value = &mut self.values[place];
        (value.sent, value.under_way) = (false, false);
    }

    /// Whether the broker has `offline`.
    pub fn is_offline_told(&self) -> bool {
        self.values.iter().any(|value| {
            value.urgent == Urgent::Status
                && value.payload == b"offline"
                && value.sent
                && !value.under_way
        })
    }

    /// Whether the broker has the newest of everything.
    pub fn is_settled(&self) -> bool {
        self.values
            .iter()
            .all(|value| value.sent && !value.under_way)
    }

    /// A new connection: nothing is under way, and everything goes out again.
    pub fn all_again(&mut self) {
        for value in &mut self.values {
            (value.sent, value.under_way) = (false, false);
        }
    }

    fn offer(
        &mut self,
        topic: String,
        urgent: Urgent,
        pace: Pace,
        payload: Vec<u8>,
        now: Duration,
    ) -> Option<Duration> {
        let Some(place) = self.places.get(&topic) else {
            self.places.insert(topic.clone(), self.values.len());
            self.values.push(Value {
                topic,
                payload,
                urgent,
                taken: now,
                sent: false,
                under_way: false,
            });
            return None;
        };
        let value = &mut self.values[*place];
        let due = match pace {
            _ if value.urgent != urgent => now,
            _ if value.payload == payload => return None,
            Pace::AtMostEvery(every) => value.taken + every,
            Pace::OnlyUrgent => return None,
        };
        if due > now {
            return Some(due);
        }
        value.renew(urgent, payload, now);
        None
    }
}

impl Value {
    /// A heartbeat is not kept by the broker: an old one would look alive to whoever comes later.
    pub fn is_retained(&self) -> bool {
        self.urgent != Urgent::Heartbeat
    }

    fn renew(&mut self, urgent: Urgent, payload: Vec<u8>, now: Duration) {
        (self.urgent, self.payload, self.taken, self.sent) = (urgent, payload, now, false);
    }
}

/// A form as JSON. The forms have text keys and plain values, so this cannot fail.
pub(super) fn json(form: &impl Serialize) -> Vec<u8> {
    serde_json::to_vec(form).expect("a form has text keys and plain values only")
}

fn earlier(a: Option<Duration>, b: Option<Duration>) -> Option<Duration> {
    a.into_iter().chain(b).min()
}

#[cfg(test)]
mod tests {
    use super::*;

    const EVERY: Duration = Duration::from_secs(1);

    fn offer(live: &mut Live, quality: Quality, payload: &str, now: Duration) -> Option<Duration> {
        let pace = Pace::AtMostEvery(EVERY);
        live.offer(
            "t".into(),
            Urgent::Quality(quality),
            pace,
            payload.into(),
            now,
        )
    }

    fn sent(live: &mut Live) -> Option<String> {
        let (place, value) = live.next()?;
        let payload = String::from_utf8_lossy(&value.payload).into_owned();
        live.acknowledged(place);
        Some(payload)
    }

    #[test]
    fn a_reading_waits_for_its_turn_but_a_change_of_quality_does_not() {
        let (mut live, start) = (Live::new(EVERY, EVERY), Duration::from_secs(100));
        let at = |ms: u64| start + Duration::from_millis(ms);
        assert_eq!(offer(&mut live, Quality::Good, "1", at(0)), None);
        assert_eq!(sent(&mut live).as_deref(), Some("1"));
        assert_eq!(
            offer(&mut live, Quality::Good, "2", at(400)),
            Some(at(1000))
        );
        assert_eq!(sent(&mut live), None);
        assert_eq!(offer(&mut live, Quality::Bad, "3", at(500)), None);
        assert_eq!(sent(&mut live).as_deref(), Some("3"));
        assert_eq!(
            offer(&mut live, Quality::Bad, "4", at(1400)),
            Some(at(1500))
        );
        assert_eq!(offer(&mut live, Quality::Bad, "5", at(1500)), None);
        assert_eq!(sent(&mut live).as_deref(), Some("5"));
    }

    #[test]
    fn only_the_newest_follows_what_is_under_way() {
        let (mut live, start) = (Live::new(Duration::ZERO, EVERY), Duration::from_secs(100));
        let mut offer = |payload: &str| {
            let urgent = Urgent::Quality(Quality::Good);
            live.offer(
                "t".into(),
                urgent,
                Pace::AtMostEvery(Duration::ZERO),
                payload.into(),
                start,
            );
            live.next().map(|(_, value)| value.payload.clone())
        };
        assert_eq!(offer("1"), Some(b"1".to_vec()));
        assert_eq!(offer("2"), None);
        assert_eq!(offer("3"), None);
        live.acknowledged(0);
        assert_eq!(sent(&mut live).as_deref(), Some("3"));
        assert!(live.is_settled());
        live.all_again();
        assert_eq!(sent(&mut live).as_deref(), Some("3"));
    }
}
