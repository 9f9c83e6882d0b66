//! The task that owns the engine: takes what comes in, hands out what follows.

use super::clock;
use crate::engine::memory::Memory;
use crate::engine::{
    ContactSample, Done, Effect, Engine, Event, Fault, Input, JournalLoss, JournalState, LinkState,
    NoticeId, Outcome, Plan, Sample, Snapshot, TransmitterId,
};
use crate::field::{Message, Trouble};
use crate::journal::{Journal, Kept, Lost, Recorder, Standing, Step};
use crate::outlet::{Desk, Metrics};
use crate::people::Petition;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{broadcast, mpsc, oneshot, watch};
use tokio::time::sleep;
use tokio_util::sync::CancellationToken;

/// The longest that the engine waits for nothing: a clock step shows at the latest then.
const LONGEST_WAIT: Duration = Duration::from_secs(2);
/// How many messages are taken before the snapshot is published again.
const AT_ONCE: usize = 64;

type Answers = Vec<oneshot::Sender<Result<Done, crate::engine::Refusal>>>;

/// The engine with what it needs to be run.
#[derive(Debug)]
pub struct Pulse {
    engine: Engine,
    effects: Vec<Effect>,
    samples: Vec<Sample>,
    contacts: Vec<ContactSample>,
    /// The newest words of each transmitter, for whoever looks at its signal.
    words: Vec<Option<Arc<[u16]>>>,
    /// Where the answers of this turn's commands go, by the command's number.
    answers: Answers,
    snapshots: watch::Sender<Arc<Snapshot>>,
    events: broadcast::Sender<Arc<Event>>,
    journal: Arc<Journal>,
    /// How the journal fares, and what of it the engine was told.
    standing: watch::Receiver<Standing>,
    told: Standing,
    lost_told: Lost,
    recorder: Recorder,
    fingerprint: Arc<str>,
    /// Where notices are handed in, and what the engine has yet to hear of some.
    desk: Desk,
    refused: Vec<(NoticeId, Outcome)>,
}

impl Pulse {
    pub fn new(
        plan: Plan,
        memory: Option<Memory>,
        journal: Arc<Journal>,
        events: broadcast::Sender<Arc<Event>>,
        desk: Desk,
    ) -> (Self, watch::Receiver<Arc<Snapshot>>) {
        let mut effects = Vec::new();
        let fingerprint = Arc::clone(&plan.fingerprint);
        let words = vec![None; plan.transmitters.len()];
        let engine = Engine::start(Arc::new(plan), memory, clock::moment(), &mut effects);
        let (snapshots, published) = watch::channel(Arc::new(engine.snapshot()));
        (
            Self {
                engine,
                effects,
                samples: Vec::new(),
                contacts: Vec::new(),
                words,
                answers: Vec::new(),
                snapshots,
                events,
                standing: journal.standing(),
                journal,
                told: Standing::default(),
                lost_told: Lost::default(),
                recorder: Recorder::default(),
                fingerprint,
                desk,
                refused: Vec::new(),
            },
            published,
        )
    }

    pub async fn run(
        mut self,
        mut messages: mpsc::Receiver<Message>,
        mut petitions: mpsc::Receiver<Petition>,
        mut outcomes: mpsc::Receiver<(NoticeId, Outcome)>,
        metrics: Arc<Metrics>,
        stop: CancellationToken,
    ) {
        let watchdog = sd_notify::watchdog_enabled().map(|limit| limit / 2);
        let longest = watchdog.map_or(LONGEST_WAIT, |half| half.min(LONGEST_WAIT));
        self.hear_journal();
        self.publish(&metrics).await;
        loop {
            let wait = self
                .engine
                .due()
                .map_or(longest, |due| due.saturating_sub(clock::up()).min(longest));
            tokio::select! {
                Some(message) = messages.recv() => self.take(message, &metrics),
                Some(petition) = petitions.recv() => self.obey(petition),
                Some((id, outcome)) = outcomes.recv() => self.step(Input::Delivered(id, outcome)),
                Ok(()) = self.standing.changed() => self.hear_journal(),
                () = sleep(wait) => self.step(Input::Tick),
                () = stop.cancelled() => break,
            }
            for _ in 0..AT_ONCE {
                let Ok(message) = messages.try_recv() else {
                    break;
                };
                self.take(message, &metrics);
            }
            for (id, outcome) in std::mem::take(&mut self.refused) {
                self.step(Input::Delivered(id, outcome));
            }
            self.publish(&metrics).await;
            if watchdog.is_some() {
                // Without a service manager there is nobody to tell.
                let _ = sd_notify::notify(&[sd_notify::NotifyState::Watchdog]);
            }
        }
        self.step(Input::Stop);
        self.publish(&metrics).await;
        self.journal.sample(self.recorder.rest());
    }

    fn step(&mut self, input: Input<'_>) {
        self.engine.step(clock::moment(), input, &mut self.effects);
    }

    fn take(&mut self, message: Message, metrics: &Metrics) {
        match message {
            Message::Read {
                answers,
                words,
                contacts,
                ..
            } => {
                for (transmitter, words) in words {
                    self.keep_words(transmitter, &words);
                }
                let mut samples = std::mem::take(&mut self.samples);
                samples.clear();
                samples.extend(answers.into_iter().map(|(transmitter, raw)| Sample {
                    transmitter,
                    raw: raw.map_err(fault),
                }));
                let mut bits = std::mem::take(&mut self.contacts);
                bits.clear();
                bits.extend(contacts.into_iter().map(|(contact, bit)| ContactSample {
                    contact,
                    bit: bit.map_err(fault),
                }));
                self.step(Input::Read(&samples, &bits));
                (self.samples, self.contacts) = (samples, bits);
            }
            Message::Up { link } => self.step(Input::Link(link, LinkState::Up)),
            Message::Down { link, trouble } => {
                self.step(Input::Link(
                    link,
                    LinkState::Down {
                        trouble: trouble.into(),
                    },
                ));
            }
            Message::RoundTrip { link, time } => {
                metrics.round_trip(self.engine.link_name(link), time)
            }
            Message::Error { link, kind } => {
                metrics.link_error(self.engine.link_name(link), kind.name())
            }
        }
    }

    fn keep_words(&mut self, transmitter: TransmitterId, words: &[u16]) {
        let kept = &mut self.words[transmitter.index()];
        if kept.as_deref() != Some(words) {
            *kept = Some(words.into());
        }
    }

    fn obey(&mut self, petition: Petition) {
        match petition {
            Petition::Command(command, answer) => {
                let id = crate::engine::CommandId(self.answers.len() as u32);
                self.answers.push(answer);
                self.step(Input::Command(id, command));
            }
            Petition::Forbidden { person, text } => self.step(Input::Forbidden { person, text }),
            Petition::Session { person, text } => self.step(Input::Session { person, text }),
        }
    }

    /// Tells the engine what has changed with the journal, so that it becomes an event.
    fn hear_journal(&mut self) {
        let standing = self.standing.borrow_and_update().clone();
        let told = std::mem::replace(&mut self.told, standing.clone());
        if let Some(aside) = standing.aside.filter(|_| told.aside.is_none()) {
            self.step(Input::Journal(JournalState::Replaced { aside }));
        }
        match (told.trouble, standing.trouble) {
            (None, Some(trouble)) => {
                self.step(Input::Journal(JournalState::Failing { trouble }));
            }
            (Some(_), None) => {
                let lost = since(standing.lost, self.lost_told);
                self.lost_told = standing.lost;
                self.step(Input::Journal(JournalState::Written { lost }));
            }
            _ => {}
        }
    }

    /// The journal first, then the outlets, the snapshot, and at last the answers: whoever sees or is
    /// answered something finds it after a kill too. Where it can't be written, all of it follows all the
    /// same, and an answer says so.
    async fn publish(&mut self, metrics: &Metrics) {
        let (mut answered, mut notices) = (Vec::new(), Vec::new());
        let mut step = Step {
            fingerprint: Arc::clone(&self.fingerprint),
            ..Step::default()
        };
        for effect in self.effects.drain(..) {
            match effect {
                Effect::Event(event) => step.events.push(Arc::new(event)),
                Effect::Keep { tank, code, memory } => {
                    step.kept.push(Kept::alarm(tank, code, &memory));
                }
                Effect::Remember { kind, of, memory } => {
                    step.kept.push(Kept::other(kind, of, memory.as_ref()));
                }
                Effect::Answer(_, answer) => answered.push(answer),
                Effect::Notify(notice) => notices.push(notice),
                Effect::Reading(_) => {}
            }
        }
        let events = step.events.clone();
        let mut written = Ok(());
        if !events.is_empty() || !step.kept.is_empty() {
            written = self.journal.commit(step).await;
        }
        for event in events {
            metrics.event(event.kind);
            tell(&event);
            // Nobody has to look on.
            let _ = self.events.send(event);
        }
        let refused = notices
            .into_iter()
            .filter_map(|notice| self.desk.hand_in(notice));
        self.refused.extend(refused);
        let mut snapshot = self.engine.snapshot();
        for (signal, words) in snapshot.transmitters.iter_mut().zip(&self.words) {
            signal.words.clone_from(words);
        }
        let snapshot = Arc::new(snapshot);
        self.journal.sample(self.recorder.take(&snapshot));
        self.snapshots.send_replace(snapshot);
        for (sender, answer) in self.answers.drain(..).zip(answered) {
            let answer = answer.map(|Done(text)| match &written {
                Ok(()) => Done(text),
                Err(trouble) => Done(format!("{text}, but not in the journal yet: {trouble}")),
            });
            // Whoever asked may have gone.
            let _ = sender.send(answer);
        }
    }
}

/// What was lost since that was last told.
fn since(now: Lost, told: Lost) -> JournalLoss {
    let events = now.events - told.events;
    let first = told.last.map_or(now.first, |last| Some(last + 1));
    JournalLoss {
        events,
        numbers: first.zip(now.last).filter(|_| events > 0),
        minutes: now.minutes - told.minutes,
    }
}

fn fault(trouble: Trouble) -> Fault {
    match trouble {
        Trouble::NoAnswer => Fault::NoAnswer,
        Trouble::Exception(code) => Fault::Exception(code),
    }
}

/// An event as a line of the log.
fn tell(event: &Event) {
    let place = [event.tank.as_deref(), event.code.as_deref()]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" ");
    let states = event
        .from
        .zip(event.to)
        .map(|(from, to)| format!(" {} -> {}", from.code(), to.code()));
    let by = event.person.as_ref().map(|person| format!(" by {person}"));
    tracing::info!(
        "{} {} {place}{}{}: {}",
        event.number,
        event.kind.name(),
        states.unwrap_or_default(),
        by.unwrap_or_default(),
        event.text
    );
}
