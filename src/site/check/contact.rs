//! `[[contact]]`: on/off inputs, and the conditions that name them: "HS-101 on".

use super::address::bit;
use super::link::Links;
use super::names::distinct;
use super::stale;
use super::transmitter::Transmitters;
use crate::engine::plan::{Condition, ContactPlan, TankPlan, Watch};
use crate::engine::{ContactId, LinkId};
use crate::site::file::{Table, is_tag};
use crate::site::key::nearest;
use crate::site::problem::Problem;
use crate::site::settings::Bit;
use std::ops::Range;
use std::time::Duration;

/// The contacts, as far as they could be read.
#[derive(Debug)]
pub struct Contacts<'d> {
    tags: Vec<&'d str>,
    read: Vec<Option<(ContactPlan, Bit)>>,
}

/// The plans of all contacts, and what is read over which link.
pub type Finished = (Vec<ContactPlan>, Vec<(LinkId, Bit)>);

impl<'d> Contacts<'d> {
    pub fn read(root: &Table<'d>, links: &Links<'d>, transmitters: &Transmitters<'d>) -> Self {
        let tables = root.tables("contact");
        let tagged = tables
            .iter()
            .filter_map(|table| Some((table.text("tag")?, table.place_of("tag"))));
        if !tables.is_empty() {
            // A tag is one instrument, whatever it is.
            distinct(root.document(), "tag", transmitters.tags().chain(tagged));
        }
        Self {
            tags: tables
                .iter()
                .map(|table| table.text("tag").unwrap_or(""))
                .collect(),
            read: (0..)
                .map(ContactId)
                .zip(&tables)
                .map(|(id, table)| read(table, id, links))
                .collect(),
        }
    }

    pub fn find(&self, tag: &str) -> Option<ContactId> {
        let place = self.tags.iter().position(|known| *known == tag)?;
        Some(ContactId(place as u32))
    }

    pub fn nearest(&self, tag: &str) -> Option<&'d str> {
        nearest(tag, self.tags.iter().copied())
    }

    /// Conditions that all have to hold: one text, or a list of them.
    pub fn conditions(&self, table: &Table<'_>, name: &'static str) -> Option<Vec<Condition>> {
        let texts = table.one_or_more_texts(name);
        if texts.is_empty() && table.is_list(name) {
            let problem = table.problem_at(name, format!("`{name}` lists no condition"));
            table.report(problem.cure(format!("for example {}", table.example(name))));
        }
        let found: Vec<Option<Condition>> = texts
            .into_iter()
            .map(|(text, place)| self.condition(table, text, place))
            .collect();
        let found: Option<Vec<Condition>> = found.into_iter().collect();
        found.filter(|found| !found.is_empty())
    }

    fn condition(&self, table: &Table<'_>, text: &str, place: Range<usize>) -> Option<Condition> {
        let (tag, on) =
            match text.split_once(' ') {
                Some((tag, "on")) => (tag, true),
                Some((tag, "off")) => (tag, false),
                _ => {
                    let problem = Problem::new(place, format!("\"{text}\" is no condition"));
                    table.report(problem.cure(
                        "write a contact's tag and its state: \"HS-101 on\" or \"HS-101 off\"",
                    ));
                    return None;
                }
            };
        match self.find(tag) {
            Some(contact) => Some(Condition { contact, on }),
            None => {
                let problem = Problem::new(place, format!("there is no contact \"{tag}\""));
                table.report(problem.cure(match self.nearest(tag) {
                    Some(near) => format!("did you mean \"{near}\"?"),
                    None => format!("add a [[contact]] with tag = \"{tag}\""),
                }));
                None
            }
        }
    }

    pub fn finish(self) -> Option<Finished> {
        let read: Option<Vec<(ContactPlan, Bit)>> = self.read.into_iter().collect();
        let (plans, bits): (Vec<_>, Vec<_>) = read?.into_iter().unzip();
        let links = plans.iter().map(|plan: &ContactPlan| plan.link);
        let bits = links.collect::<Vec<_>>().into_iter().zip(bits).collect();
        Some((plans, bits))
    }
}

/// How old a contact may be, by the alarms that look at it.
pub fn settle(contacts: &mut [ContactPlan], tanks: &[TankPlan]) {
    for (id, contact) in (0..).map(ContactId).zip(contacts) {
        let alarms = tanks.iter().flat_map(|tank| &tank.alarms);
        let looking = alarms.filter(|alarm| {
            let mut suppressing = alarm.suppress.iter().flat_map(|rule| &rule.when);
            alarm.watch == Watch::Contact(id)
                || suppressing.any(|condition| condition.contact == id)
        });
        let response = looking
            .filter_map(|alarm| alarm.record.respond_within)
            .min();
        (contact.uncertain_after, contact.bad_after) = stale::ages(contact.poll_every, response);
    }
}

fn read(table: &Table<'_>, id: ContactId, links: &Links<'_>) -> Option<(ContactPlan, Bit)> {
    let tag = table.text("tag");
    if let Some(tag) = tag.filter(|tag| !is_tag(tag)) {
        let problem = table.problem_at("tag", format!("\"{tag}\" cannot be a tag"));
        table.report(problem.cure(
            "a tag is a letter and then letters, digits, points and lines: tag = \"LSHH-101\"",
        ));
    }
    let (device, place) = (table.whole("device", 0..=255), bit(table));
    let (link, invert) = (links.find(table), table.boolean("invert"));
    let text = |name| table.text(name).map(Into::into);
    let (on_means, off_means) = (text("on_means"), text("off_means"));
    let (link, (register, bit), tag) = (link?, place?, tag?);
    let plan = ContactPlan {
        tag: tag.into(),
        link: link.0,
        poll_every: link.1.poll_every?,
        invert: invert?,
        on_means,
        off_means,
        uncertain_after: Duration::ZERO,
        bad_after: Duration::ZERO,
    };
    let bit = Bit {
        contact: id,
        tag: tag.to_owned(),
        device: u8::try_from(device?).ok()?,
        register,
        bit,
    };
    Some((plan, bit))
}
