//! Counsel on a valid site, above all on its alarms: what is legal and still does not work, each with its place in the file.
//!
//! One small file a family of rules. A finding says what, why with its numbers, and what to do; what is only a
//! matter of taste is left out, so that what is said is read.

mod deadband;
mod finding;
mod handling;
mod heard;
mod instruments;
mod letters;
mod listener;
mod marks;
mod nominal;
mod order;
mod priorities;
mod range;
mod response;
mod tank;
#[cfg(test)]
mod tests;
mod words;

pub use finding::{Finding, Findings};
pub use heard::Heard;

use super::Site;
use super::file::Document;
use super::keys::KEYS;
use finding::{Notes, Places};
use std::path::Path;
use tank::Advised;

/// Everything that there is to say of a site, in the order of its file; `text` is the file that it was read from.
pub fn advise(site: &Site, text: &str, path: &Path, heard: Option<&Heard>) -> Findings {
    let document = Document::parse(text, path, KEYS);
    let mut notes = Notes::new(Places::of(&document));
    for (index, tank) in site.plan.tanks.iter().enumerate() {
        let advised = Advised::new(site, index, tank, heard);
        instruments::advise(&advised, &mut notes);
        order::advise(&advised, &mut notes);
        marks::advise(&advised, &mut notes);
        range::advise(&advised, &mut notes);
        response::advise(&advised, &mut notes);
        deadband::advise(&advised, &mut notes);
        handling::advise(&advised, &mut notes);
    }
    priorities::advise(site, &mut notes);
    listener::advise(site, &mut notes);
    notes.findings(path, text)
}
