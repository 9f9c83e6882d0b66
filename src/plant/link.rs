//! A link of the plant: whether its devices answer.

use std::time::Duration;

/// What can be wrong with a link.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LinkFault {
    /// Nothing answers.
    Silent,
    /// Everything answers with this exception code.
    Exception(u8),
}

/// What a device answers to a request for registers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Answer {
    Words(Vec<u16>),
    Bits(Vec<bool>),
    Exception(u8),
    Silence,
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

#[derive(Clone, Debug, Default)]
pub(super) struct Link {
    fault: Option<(LinkFault, Duration)>,
}

impl Link {
    pub fn inflict(&mut self, fault: LinkFault, until: Duration) {
        self.fault = Some((fault, until));
    }

    pub fn fault(&self, now: Duration) -> Option<LinkFault> {
        self.fault
            .filter(|(_, until)| now < *until)
            .map(|(fault, _)| fault)
    }
}
