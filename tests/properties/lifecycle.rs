//! Random inputs: an alarm goes only where the table of its states lets it, and its events tell all of it.

use proptest::prelude::*;
use standpipe::engine::alarm::AlarmState::{
    self, Acknowledged, Normal, ReturnedUnacknowledged, Suppressed, Unacknowledged,
};
use standpipe::engine::{
    Command, CommandId, Effect, Engine, Event, EventKind, Fault, Input, Now, Plan, Sample,
    TransmitterId,
};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Arc, LazyLock};
use std::time::Duration;

static PLAN: LazyLock<Arc<Plan>> = LazyLock::new(|| {
    let site = r#"
[site]
name    = "Alder Rise"
gravity = "9.81 m/s2"
[[link]]
name = "a"
tcp  = "127.0.0.1:1502"
[[transmitter]]
tag = "LT"
link = "a"
register = "input 0"
type = "f64"
measures = "differential"
unit = "Pa"
accuracy = "20 Pa"
[[tank]]
name   = "day"
vessel = { shape = "rectangular", length = "5 m", width = "2 m", height = "4 m" }
liquid = { kind = "constant", density = "1000 kg/m3" }
hookup = { kind = "differential", transmitter = "LT", at = "0.2 m", high = { tap = "0.2 m" }, low = { tap = "3.6 m", leg = "gas" } }
measurement_failed = { on_delay = "2 s" }
stream = [{ name = "in", direction = "in", at_most = "40 m3/h" }, { name = "out", direction = "out", at_most = "40 m3/h" }]
checks = { jump = {} }
alarm  = [
    { code = "LAH", watch = "level", above = "3 m", deadband = "0.05 m", on_delay = "3 s", off_delay = "4 s" },
    { code = "LAL", watch = "level", below = "1 m", deadband = "0.05 m", on_bad = "annunciate" },
    { code = "FAH", watch = "net_flow", above = "20 m3/h", on_bad = "clear", on_delay = "1 s" },
    { code = "UAH", watch = "uncertainty", above = "1 mm", off_delay = "9 s" },
]
"#;
    let site = standpipe::site::parse(site, Path::new("alder-rise.toml"));
    Arc::new(site.unwrap_or_else(|problems| panic!("{problems}")).plan)
});

const CODES: [&str; 6] = ["LAH", "LAL", "FAH", "UAH", "MEASUREMENT", "NONE"];

#[derive(Clone, Debug)]
enum Doing {
    Raw(Result<f64, Fault>),
    Tick,
    Acknowledge(&'static str, Option<u64>),
    ConfirmLevel,
    ConfirmLegDrained,
    /// Of the wall clock alone, in seconds.
    StepClock(i64),
}

fn doings() -> impl Strategy<Value = Doing> {
    prop_oneof![
        8 => (0.0..36_000.0).prop_map(|pa| Doing::Raw(Ok(pa))),
        4 => prop::sample::select(&[31_000.0, 9_000.0, 5_000.0, 0.0][..]).prop_map(|pa| Doing::Raw(Ok(pa))),
        1 => Just(Doing::Raw(Ok(f64::NAN))),
        2 => Just(Doing::Raw(Err(Fault::NoAnswer))),
        2 => Just(Doing::Tick),
        4 => (prop::sample::select(&CODES[..]), prop::option::of(0_u64..60))
            .prop_map(|(code, activation)| Doing::Acknowledge(code, activation)),
        1 => Just(Doing::ConfirmLevel),
        1 => Just(Doing::ConfirmLegDrained),
        1 => (-9000_i64..9000).prop_map(Doing::StepClock),
    ]
}

/// What the events of a run have told so far.
#[derive(Default)]
struct Told {
    events: u64,
    states: BTreeMap<String, AlarmState>,
}

impl Told {
    fn take(&mut self, event: &Event) -> Result<(), TestCaseError> {
        self.events += 1;
        prop_assert_eq!(event.number, self.events);
        if event.kind != EventKind::Alarm {
            return Ok(());
        }
        let code = event.code.as_deref().expect("an alarm's event names it");
        let (from, to) = event.from.zip(event.to).expect("and its states");
        let was = self.states.insert(code.to_owned(), to).unwrap_or_default();
        prop_assert_eq!(was, from, "{} goes on from where it was", code);
        if from == Suppressed || to == Suppressed {
            // Those that bad data bring about are one annunciation; none that waits for an answer is hidden.
            let one_of_them = ["LAL", "MEASUREMENT"].contains(&code) && event.person.is_none();
            let allowed = match (from, to) {
                (Normal, Suppressed) => true,
                (Suppressed, to) => [Normal, Suppressed, Unacknowledged].contains(&to),
                _ => false,
            };
            prop_assert!(one_of_them && allowed, "{code}: {from:?} to {to:?}");
            return Ok(());
        }
        let by_a_person = match (from, to) {
            (Normal | ReturnedUnacknowledged, Unacknowledged)
            | (Unacknowledged, ReturnedUnacknowledged)
            | (Acknowledged, Normal) => false,
            (Unacknowledged, Acknowledged) | (ReturnedUnacknowledged, Normal) => true,
            other => return Err(TestCaseError::fail(format!("{code}: {other:?}"))),
        };
        prop_assert_eq!(event.person.is_some(), by_a_person, "{}", code);
        Ok(())
    }
}

proptest! {
    #[test]
    fn alarms_keep_to_their_table(
        doings in prop::collection::vec((0.0..4.0, doings()), 1..120),
    ) {
        let utc = "2026-03-04T05:06:07Z".parse().expect("a time");
        let mut now = Now { up: Duration::ZERO, utc };
        let mut effects = Vec::new();
        let mut engine = Engine::start(Arc::clone(&PLAN), None, now, &mut effects);
        let mut told = Told::default();
        for (seconds, doing) in doings {
            let by = Duration::from_secs_f64(seconds);
            now.up += by;
            now.utc += by;
            carry_out(&mut engine, &mut now, doing, &mut effects);
            for effect in effects.drain(..) {
                if let Effect::Event(event) = effect {
                    told.take(&event)?;
                }
            }
            for alarm in &engine.snapshot().tanks[0].alarms {
                let state = told.states.get(&*alarm.code).copied().unwrap_or_default();
                prop_assert_eq!(alarm.state, state, "{}", alarm.code);
                if state == Suppressed {
                    continue;
                }
                prop_assert_eq!(alarm.active, state.is_active());
                prop_assert_eq!(alarm.activation.is_some(), state != Normal);
            }
            prop_assert!(engine.due().is_none_or(|due| due > now.up));
        }
    }
}

fn carry_out(engine: &mut Engine, now: &mut Now, doing: Doing, effects: &mut Vec<Effect>) {
    let by = || Arc::from("Ada");
    let tank = || "day".to_owned();
    let command = |command| Input::Command(CommandId(1), command);
    let sample;
    let input = match doing {
        Doing::Raw(raw) => {
            sample = [Sample {
                transmitter: TransmitterId(0),
                raw,
            }];
            Input::Samples(&sample)
        }
        Doing::Tick => Input::Tick,
        Doing::Acknowledge(code, activation) => command(Command::Acknowledge {
            tank: tank(),
            code: code.into(),
            by: by(),
            activation,
        }),
        Doing::ConfirmLevel => command(Command::ConfirmLevel {
            tank: tank(),
            by: by(),
        }),
        Doing::ConfirmLegDrained => command(Command::ConfirmLegDrained {
            tank: tank(),
            by: by(),
        }),
        Doing::StepClock(seconds) => {
            now.utc += jiff::SignedDuration::from_secs(seconds);
            Input::Tick
        }
    };
    engine.step(*now, input, effects);
}
