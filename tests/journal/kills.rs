//! SIGKILL at random moments, while alarms come and go and are acknowledged, and the broker is away for a
//! part of the time.
//!
//! 40 times in an ordinary run; `STANDPIPE_KILLS` says how often else.

use crate::listener::Listener;
use crate::works::{TANKS, Works};
use rand_distr::{Distribution, Uniform};
use rand_pcg::Pcg64;
use standpipe::engine::{Event, EventKind};
use standpipe::wire::{Answer, Request};
use std::collections::BTreeMap;
use std::time::Duration;
use tokio::time::{sleep, timeout};

const KILLS: usize = 40;
const AT_ONCE: usize = 4;
/// Long enough to start, connect and poll a while on a busy machine; the shortest dies while it starts.
const LIFE_MS: (u64, u64) = (20, 1500);

/// What somebody was shown or answered before a kill.
#[derive(Default)]
struct Seen {
    /// Tank, code, and the number of the activation that stood.
    activations: Vec<(String, String, u64)>,
    /// Who had acknowledged; every acknowledgement has a name of its own.
    answered: Vec<String>,
}

#[test]
fn no_kill_loses_what_was_shown_published_or_acknowledged() {
    let kills =
        std::env::var("STANDPIPE_KILLS").map_or(KILLS, |text| text.parse().expect("a number"));
    let said: Vec<String> = std::thread::scope(|threads| {
        let workers = (0..AT_ONCE).map(|worker| {
            let share = kills / AT_ONCE + usize::from(worker < kills % AT_ONCE);
            threads.spawn(move || {
                let runtime = tokio::runtime::Builder::new_current_thread()
                    .enable_all()
                    .build()
                    .expect("a runtime");
                runtime.block_on(kill_again_and_again(worker as u64, share))
            })
        });
        let workers: Vec<_> = workers.collect();
        let ended = workers.into_iter().map(|worker| worker.join());
        ended.map(|said| said.expect("it holds")).collect()
    });
    println!("{}", said.join("\n"));
}

/// Answers with what it has seen.
async fn kill_again_and_again(seed: u64, kills: usize) -> String {
    let mut works = Works::new();
    let listener = Listener::start(works.broker.port).await;
    let mut chance = Chance(Pcg64::new(seed.into(), 0));
    let mut seen = Seen::default();
    let flapping = tokio::spawn(flap(
        works.registers.clone(),
        Chance(Pcg64::new(seed.into(), 1)),
    ));
    for kill in 0..kills {
        match kill % 8 {
            3 => works.broker.stop(),
            5 => works.broker.again(),
            _ => {}
        }
        let running = works.run();
        let life = Duration::from_millis(chance.between(LIFE_MS.0, LIFE_MS.1));
        let by = format!("Ada {seed}-{kill}");
        // Whatever it is doing is over at that moment.
        let _ = timeout(life, operate(&works, &by, &mut chance, &mut seen)).await;
        running.kill();
    }
    flapping.abort();
    if matches!(kills % 8, 4 | 5) {
        works.broker.again();
    }
    let running = works.run();
    works
        .until("the broker has all that was written", async || {
            let written = works.reader().last(&Default::default(), 1).ok()?;
            (listener.last_number() >= written.last()?.number && works.status().await.is_some())
                .then_some(())
        })
        .await;
    running.stop().await;
    works
        .until("the broker has the stop too", async || {
            let stopped = works.events().last().map(|event| event.number);
            (Some(listener.last_number()) == stopped).then_some(())
        })
        .await;
    judge(&works, &listener, &seen, kills);
    format!(
        "{kills} kills: {} events, {} messages, {} acknowledged",
        works.events().len(),
        listener.heard().len(),
        seen.answered.len()
    )
}

/// Levels that go over both limits and back, some ten times a second.
async fn flap(registers: crate::registers::Registers, mut chance: Chance) {
    loop {
        let tank = chance.between(0, TANKS.len() as u64 - 1) as usize;
        registers.level(tank, [0.5, 2.0, 2.0, 3.5][chance.between(0, 3) as usize]);
        sleep(Duration::from_millis(chance.between(20, 120))).await;
    }
}

/// Looks at the alarms and acknowledges one now and then, for ever.
async fn operate(works: &Works, by: &str, chance: &mut Chance, seen: &mut Seen) {
    for turn in 0_u64.. {
        let Some(status) = works.status().await else {
            sleep(Duration::from_millis(10)).await;
            continue;
        };
        let mut waiting = Vec::new();
        for tank in status["tanks"].as_array().expect("a list") {
            for alarm in tank["alarms"].as_array().expect("a list") {
                let text = |value: &serde_json::Value| value.as_str().expect("a text").to_owned();
                let Some(activation) = alarm["activation"].as_u64() else {
                    continue;
                };
                let shown = (text(&tank["name"]), text(&alarm["code"]), activation);
                if matches!(alarm["state"].as_str(), Some("UNACK" | "RTNUN")) {
                    waiting.push(shown.clone());
                }
                seen.activations.push(shown);
            }
        }
        if let Some((tank, code, activation)) = waiting.get(chance.between(0, 3) as usize).cloned()
        {
            let by = format!("{by}-{turn}");
            let request = Request::Ack {
                tank,
                code,
                by: by.clone(),
                activation: Some(activation),
            };
            if let Some(Answer::Done(_)) = works.ask(&request).await {
                seen.answered.push(by);
            }
        }
        sleep(Duration::from_millis(chance.between(0, 30))).await;
    }
}

fn judge(works: &Works, listener: &Listener, seen: &Seen, kills: usize) {
    let verdict = works.reader().verify().expect("the journal is read");
    assert_eq!(verdict.trouble, None);
    assert_eq!(verdict.gaps, [], "numbers rise by one, over all kills");
    let events = works.events();
    assert_eq!(events.first().map(|event| event.number), Some(1));

    listener.assert_complete(&events);

    let is_activation = |event: &Event| event.to.is_some_and(|to| to.code() == "UNACK");
    for (tank, code, activation) in &seen.activations {
        let event = &events[*activation as usize - 1];
        assert!(
            is_activation(event),
            "{tank} {code} was shown with {activation}: {event:?}"
        );
        assert_eq!(
            (event.tank.as_deref(), event.code.as_deref()),
            (Some(&**tank), Some(&**code))
        );
    }
    for by in &seen.answered {
        let written = events.iter().filter(|event| {
            event.person.as_deref().is_some_and(|person| {
                // With the user of this machine who asked, as the site file names no people.
                person.split(" (as ").next() == Some(by)
            })
        });
        assert_eq!(written.count(), 1, "the acknowledgement of {by}");
    }
    // Each transition begins where the one before it ended: nothing was annunciated twice, no
    // acknowledgement forgotten.
    let mut states = BTreeMap::new();
    for event in events.iter().filter(|event| event.kind == EventKind::Alarm) {
        let alarm = (event.tank.clone(), event.code.clone());
        let before = states.insert(alarm, event.to).unwrap_or(event.from);
        assert_eq!(before, event.from, "{event:?}");
    }
    let starts = events
        .iter()
        .filter(|event| event.kind == EventKind::Start)
        .count();
    assert!(starts <= kills + 1, "{starts} starts");
    // From a start that found a journal to the next thing that happened nobody had watched.
    let blind = events
        .iter()
        .filter(|event| event.kind == EventKind::Blind)
        .count();
    assert_eq!(
        blind,
        starts - 1,
        "each start but the first says since when"
    );
    assert!(kills < 8 || seen.answered.len() > kills / 4, "it had work");
}

struct Chance(Pcg64);

impl Chance {
    fn between(&mut self, least: u64, most: u64) -> u64 {
        Uniform::new_inclusive(least, most)
            .expect("a range")
            .sample(&mut self.0)
    }
}
