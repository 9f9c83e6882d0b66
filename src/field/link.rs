//! The task of one link: connects, asks in rounds, tells.
//!
//! One task owns the connection and asks one request at a time. A connection is kept only while every
//! request on it was answered in time, in full and in form: after a time-out Modbus would give the
//! late answer to the next request. Whatever else happens drops it, and the next one is made at once
//! within a round that reached something, else with a growing wait ([`back_off`]).
//! A Modbus exception is an answer: the link is well, the device says no.

use super::plan::{Devices, Place, Request, back_off, places};
use super::{ErrorKind, Message, Trouble, registers};
use crate::site::settings::{Bit, LinkAddress, LinkSettings, Point, Space};
use std::hash::{BuildHasher, RandomState};
use std::io;
use std::pin::Pin;
use std::time::Duration;
use tokio::net::TcpStream;
use tokio::sync::mpsc;
use tokio::time::{MissedTickBehavior, interval, sleep, timeout};
use tokio_modbus::client::{Client, Context};
use tokio_modbus::slave::{Slave, SlaveContext};
use tokio_modbus::{Error, ExceptionCode, Request as Call, Response};
use tokio_util::sync::CancellationToken;

/// Polls a link, first after `offset`, until told to stop or until nobody listens any more. `up` is the
/// monotonic time that round trips are measured by.
pub async fn run(
    link: LinkSettings,
    offset: Duration,
    messages: mpsc::Sender<Message>,
    up: fn() -> Duration,
    stop: CancellationToken,
) {
    let listener = messages.clone();
    // Dropping the session in the middle of whatever it does is fine: its connection goes with it.
    tokio::select! {
        biased;
        () = stop.cancelled() => {}
        () = listener.closed() => {}
        () = Session::new(link, messages, up).poll(offset) => {}
    }
}

struct Session {
    link: LinkSettings,
    places: Vec<Place>,
    devices: Devices,
    messages: mpsc::Sender<Message>,
    clock: fn() -> Duration,
    connection: Option<Context>,
    /// The next connection, after a wait, while nothing can be asked.
    mending: Option<Mending>,
    /// In a row, since the last answer.
    failures: u32,
    /// As last told.
    up: Option<bool>,
    /// Whether anything answered in this round.
    answered: bool,
    /// What went wrong last, for people.
    trouble: String,
}

type Mending = Pin<Box<dyn Future<Output = Result<Context, String>> + Send>>;

/// Why a request brought no words.
enum Failure {
    /// There is no connection now.
    NoConnection,
    /// The connection was dropped.
    Lost(ErrorKind),
    Exception(ExceptionCode),
}

impl Session {
    fn new(
        link: LinkSettings,
        messages: mpsc::Sender<Message>,
        clock: fn() -> Duration,
    ) -> Session {
        let places = places(&link);
        Session {
            devices: Devices::new(&places),
            places,
            link,
            messages,
            clock,
            connection: None,
            mending: None,
            failures: 0,
            up: None,
            answered: false,
            trouble: String::new(),
        }
    }

    async fn poll(mut self, offset: Duration) {
        if self.places.is_empty() {
            return std::future::pending().await;
        }
        sleep(offset).await;
        let mut rounds = interval(self.link.poll_every.max(Duration::from_millis(1)));
        rounds.set_missed_tick_behavior(MissedTickBehavior::Skip);
        loop {
            tokio::select! {
                biased;
                _ = rounds.tick() => self.round().await,
                connected = mended(&mut self.mending) => {
                    self.mending = None;
                    self.take_connection(connected).await;
                }
            }
        }
    }

    /// Asks the devices in turn and tells one whole read.
    async fn round(&mut self) {
        let mut answers = vec![Err(Trouble::NoAnswer); self.places.len()];
        self.answered = false;
        for device in self.devices.round() {
            self.ask_device(device, &mut answers).await;
        }
        if !self.answered && self.mending.is_none() {
            self.connection = None;
            self.mend().await;
        }
        let points = self.link.points.iter();
        let words = points.clone().zip(&answers).filter_map(|(point, answer)| {
            let Ok(Raw::Words(words)) = answer else {
                return None;
            };
            Some((point.transmitter, words.clone()))
        });
        let words = words.collect();
        let mut answers = answers.into_iter();
        let numbers = points.zip(answers.by_ref()).map(|(point, answer)| {
            let number = answer.and_then(|raw| raw.number(point));
            (point.transmitter, number)
        });
        let numbers = numbers.collect();
        let bits = self.link.bits.iter().zip(answers).map(|(bit, answer)| {
            let state = answer.and_then(|raw| raw.bit(bit));
            (bit.contact, state)
        });
        let contacts = bits.collect();
        self.tell(Message::Read {
            link: self.link.id,
            answers: numbers,
            words,
            contacts,
        })
        .await;
    }

    async fn ask_device(&mut self, device: usize, answers: &mut [Result<Raw, Trouble>]) {
        let mut place = 0;
        while let Some(request) = self.devices.request(device, place).cloned() {
            match self.ask(&request).await {
                Ok(words) => {
                    self.devices.answered(device);
                    for &point in &request.points {
                        answers[point] = words.at(&self.places[point], &request);
                    }
                }
                Err(Failure::Exception(ExceptionCode::IllegalDataAddress))
                    if request.points.len() > 1 =>
                {
                    self.devices.split(device, place, &self.places);
                    continue;
                }
                // The gateway is there, the device behind it is not.
                Err(Failure::Lost(_) | Failure::Exception(ExceptionCode::GatewayTargetDevice)) => {
                    return self.devices.fell_silent(device);
                }
                Err(Failure::NoConnection) => return,
                Err(Failure::Exception(code)) => {
                    self.devices.answered(device);
                    for &point in &request.points {
                        answers[point] = Err(Trouble::Exception(code.into()));
                    }
                }
            }
            place += 1;
        }
    }

    /// Asks; once more if the connection turns out closed, as many devices do after some idle time.
    async fn ask(&mut self, request: &Request) -> Result<Raw, Failure> {
        let stood_before = self.connection.is_some();
        match self.ask_once(request).await {
            Err(Failure::Lost(ErrorKind::Closed)) if stood_before => self.ask_once(request).await,
            answer => answer,
        }
    }

    async fn ask_once(&mut self, request: &Request) -> Result<Raw, Failure> {
        if self.connection.is_none() && self.mending.is_none() {
            let connected = connect(self.link.address.clone(), self.link.timeout).await;
            self.take_connection(connected).await;
        }
        // Taken out, and put back only after an answer.
        let mut connection = self.connection.take().ok_or(Failure::NoConnection)?;
        connection.set_slave(Slave(request.device));
        let asked = (self.clock)();
        let answer = timeout(self.link.timeout, connection.call(call(request))).await;
        let time = (self.clock)().saturating_sub(asked);
        let kind = match answer {
            Ok(Ok(Ok(response))) => match words(response, request) {
                Some(words) => {
                    self.take_answer(connection, time).await;
                    return Ok(words);
                }
                None => ErrorKind::Malformed,
            },
            Ok(Ok(Err(code))) => {
                self.take_answer(connection, time).await;
                self.count(ErrorKind::Exception).await;
                return Err(Failure::Exception(code));
            }
            Ok(Err(error)) => kind_of(&error),
            Err(_elapsed) => ErrorKind::Timeout,
        };
        self.trouble = self.describe(kind, request.device);
        self.count(kind).await;
        Err(Failure::Lost(kind))
    }

    /// Keeps the connection and tells that it is alive.
    async fn take_answer(&mut self, connection: Context, time: Duration) {
        let link = self.link.id;
        self.connection = Some(connection);
        self.answered = true;
        self.failures = 0;
        if self.up != Some(true) {
            self.up = Some(true);
            self.devices.came_back();
            self.tell(Message::Up { link }).await;
        }
        self.tell(Message::RoundTrip { link, time }).await;
    }

    async fn take_connection(&mut self, connected: Result<Context, String>) {
        match connected {
            Ok(connection) => self.connection = Some(connection),
            Err(trouble) => {
                self.trouble = trouble;
                self.devices.cut_off();
                self.count(ErrorKind::Connect).await;
                self.mend().await;
            }
        }
    }

    /// Nothing answers: tells so, and makes the next connection after a wait.
    async fn mend(&mut self) {
        self.failures = self.failures.saturating_add(1);
        let random = RandomState::new().hash_one(self.failures);
        let wait = back_off(self.failures, random);
        let (address, limit) = (self.link.address.clone(), self.link.timeout);
        self.mending = Some(Box::pin(async move {
            sleep(wait).await;
            connect(address, limit).await
        }));
        if self.up != Some(false) {
            self.up = Some(false);
            let trouble = self.trouble.clone();
            self.tell(Message::Down {
                link: self.link.id,
                trouble,
            })
            .await;
        }
    }

    fn describe(&self, kind: ErrorKind, device: u8) -> String {
        let LinkAddress::Tcp(address) = &self.link.address;
        match kind {
            ErrorKind::Timeout => format!(
                "device {device} at {address} gave no answer within {} s",
                self.link.timeout.as_secs_f64()
            ),
            ErrorKind::Malformed => {
                format!("device {device} at {address} gave an answer that does not fit the request")
            }
            _ => format!("{address} closed the connection"),
        }
    }

    async fn count(&mut self, kind: ErrorKind) {
        self.tell(Message::Error {
            link: self.link.id,
            kind,
        })
        .await;
    }

    /// Waits while the channel is full; a closed one ends [`run`].
    async fn tell(&mut self, message: Message) {
        let _closed = self.messages.send(message).await;
    }
}

async fn mended(mending: &mut Option<Mending>) -> Result<Context, String> {
    match mending {
        Some(mending) => mending.await,
        None => std::future::pending().await,
    }
}

async fn connect(address: LinkAddress, limit: Duration) -> Result<Context, String> {
    let LinkAddress::Tcp(address) = address;
    let connecting = async {
        let stream = TcpStream::connect(&address).await?;
        // A request is one small packet that is waited for.
        stream.set_nodelay(true)?;
        Ok::<_, io::Error>(stream)
    };
    match timeout(limit, connecting).await {
        Ok(Ok(stream)) => Ok(tokio_modbus::client::tcp::attach_slave(stream, Slave(0))),
        Ok(Err(error)) => Err(format!("cannot connect to {address}: {error}")),
        Err(_elapsed) => Err(format!(
            "cannot connect to {address} within {} s",
            limit.as_secs_f64()
        )),
    }
}

fn call(request: &Request) -> Call<'static> {
    match request.space {
        Space::Input => Call::ReadInputRegisters(request.address, request.words),
        Space::Holding => Call::ReadHoldingRegisters(request.address, request.words),
        Space::Discrete => Call::ReadDiscreteInputs(request.address, request.words),
        Space::Coil => Call::ReadCoils(request.address, request.words),
    }
}

/// What an answer brought, or the part of it that one point has.
#[derive(Clone, Debug)]
enum Raw {
    Words(Vec<u16>),
    Bits(Vec<bool>),
}

impl Raw {
    /// A place's own part of the answer.
    fn at(&self, place: &Place, request: &Request) -> Result<Raw, Trouble> {
        let first = usize::from(place.register.address - request.address);
        let range = first..first + usize::from(place.count);
        match self {
            Raw::Words(words) => words.get(range).map(|words| Raw::Words(words.to_vec())),
            Raw::Bits(bits) => bits.get(range).map(|bits| Raw::Bits(bits.to_vec())),
        }
        .ok_or(Trouble::NoAnswer)
    }

    fn number(&self, point: &Point) -> Result<f64, Trouble> {
        match self {
            Raw::Words(words) => registers::decode(words, point.number, point.order),
            Raw::Bits(_) => None,
        }
        .ok_or(Trouble::NoAnswer)
    }

    fn bit(&self, bit: &Bit) -> Result<bool, Trouble> {
        match self {
            Raw::Words(words) => words
                .first()
                .zip(bit.bit)
                .map(|(word, place)| word >> place & 1 == 1),
            Raw::Bits(bits) => bits.first().copied(),
        }
        .ok_or(Trouble::NoAnswer)
    }
}

/// What an answer that fits the request brought. (Asked for by [`Client::call`], since the library's
/// own read functions panic on a wrong count in a debug build.) Bits come in whole bytes, so there may be
/// up to seven more than were asked for.
fn words(response: Response, request: &Request) -> Option<Raw> {
    let count = usize::from(request.words);
    match (response, request.space) {
        (Response::ReadInputRegisters(words), Space::Input)
        | (Response::ReadHoldingRegisters(words), Space::Holding) => {
            (words.len() == count).then_some(Raw::Words(words))
        }
        (Response::ReadDiscreteInputs(mut bits), Space::Discrete)
        | (Response::ReadCoils(mut bits), Space::Coil) => {
            let fits = bits.len() == count || bits.len() == count.next_multiple_of(8);
            bits.truncate(count);
            fits.then_some(Raw::Bits(bits))
        }
        _ => None,
    }
}

/// A broken connection carries an error of the operating system, though often a meaningless one; an
/// answer that cannot be read carries none.
fn kind_of(error: &Error) -> ErrorKind {
    match error {
        Error::Transport(error) if error.raw_os_error().is_some() => ErrorKind::Closed,
        Error::Transport(_) | Error::Protocol(_) => ErrorKind::Malformed,
    }
}

#[cfg(test)]
mod tests;
