//! How a link is read in virtual time: what its task in `field` tells of it, without a socket.
//!
//! Words of the plant go through the same decoding as those off the wire. A link that keeps silent is told to be
//! down after its time-out, one that costs the connection at once, and is asked again after a wait of 0.5 s that
//! doubles up to 10 s, as in `field` but without the random part: the longest that it can be there. An answer that is
//! late is told as late, with the numbers of when it was asked for; one that is later than the time-out is none. A
//! read is late as a whole, however many requests it takes.

use crate::engine::{ContactSample, Fault, Input, LinkState, Sample};
use crate::field::registers;
use crate::plant::{self, Answer, Plant, exception};
use crate::site::settings::{Bit, LinkSettings, Point, Space};
use std::time::Duration;

const FIRST_WAIT: Duration = Duration::from_millis(500);
const LONGEST_WAIT: Duration = Duration::from_secs(10);
/// Words of the largest number.
const LARGEST_NUMBER: usize = 4;

#[derive(Clone, Debug)]
pub(super) struct LinkReader {
    settings: LinkSettings,
    place: usize,
    /// The next poll.
    next: Duration,
    /// Asked and not answered: told at that time.
    times_out: Option<Duration>,
    /// Asked, and the answer is told at that time.
    arrives: Option<Duration>,
    /// Nothing is asked before.
    quiet_until: Duration,
    failures: u32,
    up: Option<bool>,
    samples: Vec<Sample>,
    contacts: Vec<ContactSample>,
}

impl LinkReader {
    /// Links poll spread over their period, as the daemon's do.
    pub fn all(links: &[LinkSettings]) -> Vec<Self> {
        let count = links.len().max(1) as f64;
        let readers = links.iter().enumerate().map(|(place, settings)| Self {
            settings: settings.clone(),
            place,
            next: settings.poll_every.mul_f64(place as f64 / count),
            times_out: None,
            arrives: None,
            quiet_until: Duration::ZERO,
            failures: 0,
            up: None,
            samples: Vec::with_capacity(settings.points.len()),
            contacts: Vec::with_capacity(settings.bits.len()),
        });
        readers.collect()
    }

    /// When there is next something to do for it, at the earliest.
    pub fn due(&self) -> Option<Duration> {
        let is_read = !(self.settings.points.is_empty() && self.settings.bits.is_empty());
        let asked = self.times_out.into_iter().chain(self.arrives).min();
        is_read.then(|| asked.unwrap_or(self.next))
    }

    /// Reads if that is due, and tells what there is to tell.
    pub fn read(&mut self, now: Duration, plant: &Plant, mut tell: impl FnMut(Input<'_>)) {
        if self.settings.points.is_empty() && self.settings.bits.is_empty() {
            return;
        }
        if self.times_out.is_some_and(|at| at <= now) {
            self.times_out = None;
            let trouble = format!("no answer within {} s", self.settings.timeout.as_secs_f64());
            self.go_down(now, trouble, &mut tell);
            tell(Input::Read(&self.samples, &self.contacts));
        }
        if self.arrives.is_some_and(|at| at <= now) {
            self.arrives = None;
            self.arrive(&mut tell);
        }
        if self.next > now || self.times_out.is_some() || self.arrives.is_some() {
            return;
        }
        // A poll that was missed is skipped.
        while self.next <= now {
            self.next += self.settings.poll_every.max(plant::STEP);
        }
        if now < self.quiet_until {
            self.fill(|_, _| Err(Answer::Silence));
            return tell(Input::Read(&self.samples, &self.contacts));
        }
        let (link, mut answered, mut is_reset) = (self.place, false, false);
        self.fill(|at, words| {
            let answer = plant.read(link, at.device, at.space, at.address, words);
            is_reset |= answer == Err(Answer::Reset);
            answered |= !matches!(answer, Err(Answer::Silence | Answer::Reset));
            answer
        });
        let delay = plant.delay(link);
        if is_reset && !answered {
            let trouble = match plant.connects(link) {
                true => "it closed the connection",
                false => "it takes no connection",
            };
            self.go_down(now, trouble.to_owned(), &mut tell);
            tell(Input::Read(&self.samples, &self.contacts));
        } else if !answered || delay >= self.settings.timeout {
            self.fill(|_, _| Err(Answer::Silence));
            self.times_out = Some(now + self.settings.timeout);
        } else if !delay.is_zero() {
            self.arrives = Some(now + delay);
        } else {
            self.arrive(&mut tell);
        }
    }

    fn arrive(&mut self, tell: &mut impl FnMut(Input<'_>)) {
        self.failures = 0;
        if self.up != Some(true) {
            self.up = Some(true);
            tell(Input::Link(self.settings.id, LinkState::Up));
        }
        tell(Input::Read(&self.samples, &self.contacts));
    }

    fn go_down(&mut self, now: Duration, trouble: String, tell: &mut impl FnMut(Input<'_>)) {
        let doublings = self.failures.min(16);
        self.failures += 1;
        self.quiet_until = now + (FIRST_WAIT * (1 << doublings)).min(LONGEST_WAIT);
        if self.up != Some(false) {
            self.up = Some(false);
            let state = LinkState::Down {
                trouble: trouble.into(),
            };
            tell(Input::Link(self.settings.id, state));
        }
    }

    /// `ask` fills in the words, or says what is answered instead.
    fn fill(&mut self, mut ask: impl FnMut(At, &mut [u16]) -> Result<(), Answer>) {
        self.samples.clear();
        self.contacts.clear();
        for point in &self.settings.points {
            let mut words = [0; LARGEST_NUMBER];
            let words = &mut words[..usize::from(point.number.words())];
            let answer = ask(At::point(point), words);
            self.samples.push(Sample {
                transmitter: point.transmitter,
                raw: number(answer.map(|()| &*words), point),
            });
        }
        for bit in &self.settings.bits {
            let mut word = [0];
            let answer = ask(At::bit(bit), &mut word);
            self.contacts.push(ContactSample {
                contact: bit.contact,
                bit: state(answer.map(|()| word[0]), bit),
            });
        }
    }
}

/// What one request is for.
struct At {
    device: u8,
    space: plant::Space,
    address: u16,
}

impl At {
    fn point(point: &Point) -> Self {
        Self {
            device: point.device,
            space: space(point.register.space),
            address: point.register.address,
        }
    }

    fn bit(bit: &Bit) -> Self {
        Self {
            device: bit.device,
            space: space(bit.register.space),
            address: bit.register.address,
        }
    }
}

fn space(space: Space) -> plant::Space {
    match space {
        Space::Input => plant::Space::Input,
        Space::Holding => plant::Space::Holding,
        Space::Discrete => plant::Space::Discrete,
        Space::Coil => plant::Space::Coil,
    }
}

fn number(answer: Result<&[u16], Answer>, point: &Point) -> Result<f64, Fault> {
    let words = answer.map_err(|answer| fault(&answer))?;
    registers::decode(words, point.number, point.order).ok_or(Fault::NoAnswer)
}

fn state(answer: Result<u16, Answer>, bit: &Bit) -> Result<bool, Fault> {
    let word = answer.map_err(|answer| fault(&answer))?;
    match bit.bit {
        _ if space(bit.register.space).is_bits() => Ok(word != 0),
        Some(place) => Ok(word >> place & 1 == 1),
        None => Err(Fault::NoAnswer),
    }
}

fn fault(answer: &Answer) -> Fault {
    match answer {
        // The gateway is there, the device behind it is not.
        Answer::Exception(exception::GATEWAY_TARGET_FAILED_TO_RESPOND) => Fault::NoAnswer,
        Answer::Exception(code) => Fault::Exception(*code),
        _ => Fault::NoAnswer,
    }
}
