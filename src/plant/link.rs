//! A link of the plant: whether its devices answer, when, and with what.

use super::noise::Noise;
use std::time::Duration;

/// What can be wrong with a link.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LinkFault {
    /// Nothing answers.
    Silent,
    /// Each question costs the connection.
    Reset,
    /// No connection is taken, and none stays.
    Dropped,
    /// Everything answers so much later.
    Late(Duration),
    /// Everything answers with this exception code.
    Exception(u8),
    /// A gateway refreshes the first word of each number only so often, the others at each answer.
    Torn(Duration),
    /// The words of each number come in reverse.
    Swapped,
}

/// What a device answers to a request for registers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Answer {
    Words(Vec<u16>),
    Bits(Vec<bool>),
    Exception(u8),
    Silence,
    /// The connection ends instead.
    Reset,
}

/// Exception codes of the Modbus application protocol V1.1b3, section 7.
pub mod exception {
    pub const ILLEGAL_FUNCTION: u8 = 0x01;
    pub const ILLEGAL_DATA_ADDRESS: u8 = 0x02;
    pub const ILLEGAL_DATA_VALUE: u8 = 0x03;
    pub const SERVER_DEVICE_FAILURE: u8 = 0x04;
    pub const GATEWAY_TARGET_FAILED_TO_RESPOND: u8 = 0x0B;
}

/// Most registers of one request (Modbus application protocol V1.1b3, sections 6.3 and 6.4).
pub const MOST_REGISTERS: u16 = 125;
/// Most bits of one request (sections 6.1 and 6.2).
pub const MOST_BITS: u16 = 2000;

#[derive(Clone, Debug)]
pub(super) struct Link {
    fault: Option<Disturbed>,
    chance: Noise,
}

/// A fault of a link for a while.
#[derive(Clone, Copy, Debug)]
pub struct Disturbance {
    pub fault: LinkFault,
    /// Of this device behind it alone.
    pub device: Option<u8>,
    /// How many of the moments it befalls.
    pub share: f64,
    pub until: Duration,
}

#[derive(Clone, Copy, Debug)]
struct Disturbed {
    by: Disturbance,
    from: Duration,
    /// Whether it befalls this step.
    now: bool,
}

impl Link {
    pub fn new(chance: Noise) -> Self {
        Self {
            fault: None,
            chance,
        }
    }

    pub fn inflict(&mut self, by: Disturbance, from: Duration) {
        let now = true;
        self.fault = Some(Disturbed { by, from, now });
        self.draw();
    }

    /// A step has gone by: whether the fault befalls the questions of the next.
    pub fn draw(&mut self) {
        if let Some(disturbed) = self.fault.as_mut().filter(|one| one.by.share < 1.0) {
            disturbed.now = self.chance.share() < disturbed.by.share;
        }
    }

    /// What is wrong with the link as a whole.
    pub fn fault(&self, now: Duration) -> Option<LinkFault> {
        let befalls = |one: &Disturbed| one.now && now < one.by.until && one.by.device.is_none();
        self.fault.filter(befalls).map(|one| one.by.fault)
    }

    /// What is wrong with it for one who asks this device.
    pub fn fault_at(&self, device: u8, now: Duration) -> Option<LinkFault> {
        let is_it = |one: &Disturbed| one.by.device.is_none_or(|own| own == device);
        let befalls = |one: &Disturbed| one.now && now < one.by.until && is_it(one);
        self.fault.filter(befalls).map(|one| one.by.fault)
    }

    /// Whether first words are refreshed at this moment, where they are held at all.
    pub fn refreshes(&self, now: Duration, step: Duration) -> Option<bool> {
        let disturbed = self.fault.filter(|one| now < one.by.until)?;
        let LinkFault::Torn(every) = disturbed.by.fault else {
            return None;
        };
        let gone = now.saturating_sub(disturbed.from).as_millis();
        Some(gone % every.max(step).as_millis() < step.as_millis())
    }
}
