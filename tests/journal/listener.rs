//! Somebody who listens to the events, with a session that the broker keeps.

use rumqttc::{AsyncClient, Event, MqttOptions, Packet, QoS};
use serde_json::Value;
use std::sync::{Arc, Mutex};
use std::time::Duration;

#[derive(Clone, Default)]
pub struct Listener {
    heard: Arc<Mutex<Vec<Value>>>,
}

impl Listener {
    pub async fn start(port: u16) -> Self {
        let listener = Self::default();
        let heard = Arc::clone(&listener.heard);
        let mut options = MqttOptions::new("listener", "127.0.0.1", port);
        options.set_clean_session(false);
        let (client, mut connection) = AsyncClient::new(options, 10);
        client
            .try_subscribe("standpipe/alder-rise/event", QoS::AtLeastOnce)
            .expect("room for one request");
        let (subscribed, ready) = tokio::sync::oneshot::channel();
        tokio::spawn(async move {
            let (_client, mut subscribed) = (client, Some(subscribed));
            loop {
                match connection.poll().await {
                    Ok(Event::Incoming(Packet::Publish(publish))) => {
                        let event = serde_json::from_slice(&publish.payload).expect("JSON");
                        heard.lock().expect("no panic holds it").push(event);
                    }
                    Ok(Event::Incoming(Packet::SubAck(_))) => {
                        if let Some(subscribed) = subscribed.take() {
                            subscribed.send(()).expect("awaited");
                        }
                    }
                    Ok(_) => {}
                    Err(_) => tokio::time::sleep(Duration::from_millis(50)).await,
                }
            }
        });
        ready.await.expect("subscribed");
        listener
    }

    pub fn heard(&self) -> Vec<Value> {
        self.heard.lock().expect("no panic holds it").clone()
    }

    pub fn last_number(&self) -> u64 {
        let heard = self.heard.lock().expect("no panic holds it");
        heard
            .iter()
            .filter_map(|event| event["number"].as_u64())
            .max()
            .unwrap_or(0)
    }

    /// Each event of a journal came at least once and as it is there, the first time of each in order,
    /// and nothing else came.
    pub fn assert_complete(&self, events: &[standpipe::engine::Event]) {
        let mut first: Vec<Value> = Vec::new();
        for event in self.heard() {
            match first
                .iter()
                .find(|known| known["number"] == event["number"])
            {
                Some(known) => assert_eq!(*known, event, "a repetition is the same"),
                None => first.push(event),
            }
        }
        let written: Vec<Value> = events
            .iter()
            .map(|event| {
                serde_json::to_value(standpipe::wire::EventForm::new(event)).expect("JSON")
            })
            .collect();
        for (heard, written) in first.iter().zip(&written) {
            assert_eq!(heard, written, "what came is what is written, in its order");
        }
        assert_eq!(first.len(), written.len(), "as many came as are written");
    }
}
