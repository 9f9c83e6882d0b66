//! The field: reads transmitters over Modbus and tells the daemon, over a bounded channel, what came.
//!
//! One task owns one link ([`run`]). It says once when the link comes up or goes down, and in every
//! poll period one whole read: a number or a [`Trouble`] for each point of the link, also while the
//! link is down, so that a missed poll is seen as one. What a number means is not judged here.

mod link;
mod plan;
pub mod registers;

pub use link::run;
pub use plan::spread;

use crate::site::settings::{ContactId, LinkId, TransmitterId};
use std::time::Duration;

/// What a link tells.
#[derive(Clone, Debug, PartialEq)]
pub enum Message {
    /// One whole read: every point of the link, in the order of its settings.
    Read {
        link: LinkId,
        answers: Vec<(TransmitterId, Result<f64, Trouble>)>,
        /// The words of those that were answered, as they lie in their registers.
        words: Vec<(TransmitterId, Vec<u16>)>,
        contacts: Vec<(ContactId, Result<bool, Trouble>)>,
    },
    /// The link answers again, or for the first time.
    Up { link: LinkId },
    /// Nothing answers on the link any more; `trouble` says why, for people.
    Down { link: LinkId, trouble: String },
    /// How long one answered request took.
    RoundTrip { link: LinkId, time: Duration },
    /// Something went wrong, to be counted.
    Error { link: LinkId, kind: ErrorKind },
}

/// Why a point has no number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// Silence: of the device, of its gateway or of the network.
    NoAnswer,
    /// The device answers that it won't, by a Modbus exception of this code.
    Exception(u8),
}

/// Kinds of error, as the metrics count them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ErrorKind {
    /// No connection could be made.
    Connect,
    /// No answer in time.
    Timeout,
    /// The connection was closed or broke.
    Closed,
    /// A Modbus exception.
    Exception,
    /// An answer that is none to the request, or no Modbus at all.
    Malformed,
}

impl ErrorKind {
    /// The word in the metrics.
    pub fn name(self) -> &'static str {
        match self {
            ErrorKind::Connect => "connect",
            ErrorKind::Timeout => "timeout",
            ErrorKind::Closed => "closed",
            ErrorKind::Exception => "exception",
            ErrorKind::Malformed => "malformed",
        }
    }
}
