//! `[[link]]`: the Modbus sessions.

use super::address::endpoint;
use super::names::distinct;
use crate::engine::LinkId;
use crate::engine::plan::LinkPlan;
use crate::site::file::Table;
use crate::site::key::nearest;
use crate::site::problem::Problem;
use crate::site::settings::{Bit, LinkAddress, LinkSettings, Point};
use std::ops::Range;
use std::time::Duration;

/// A link polled faster than this would never rest.
const SHORTEST_POLL: Duration = Duration::from_millis(10);

#[derive(Debug)]
pub struct Link<'d> {
    name: Option<(&'d str, Range<usize>)>,
    address: Option<LinkAddress>,
    pub poll_every: Option<Duration>,
    timeout: Option<Duration>,
}

#[derive(Debug)]
pub struct Links<'d>(Vec<Link<'d>>);

impl<'d> Links<'d> {
    pub fn read(root: &Table<'d>) -> Self {
        let links: Vec<Link<'d>> = root.tables("link").iter().map(read).collect();
        distinct(
            root.document(),
            "link",
            links.iter().filter_map(|link| link.name.clone()),
        );
        Self(links)
    }

    /// The link that a transmitter names.
    pub fn find(&self, table: &Table<'_>) -> Option<(LinkId, &Link<'d>)> {
        let wanted = table.text("link")?;
        let names = || {
            self.0
                .iter()
                .filter_map(|link| link.name.as_ref().map(|(name, _)| *name))
        };
        let found = self
            .0
            .iter()
            .position(|link| link.name.as_ref().is_some_and(|(name, _)| *name == wanted));
        if let Some(index) = found {
            return Some((LinkId(index as u32), &self.0[index]));
        }
        if self.0.iter().any(|link| link.name.is_none()) {
            return None; // it may be that one; its missing name is told already
        }
        let cure = match nearest(wanted, names()) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => format!(
                "links of this file: {}",
                names().collect::<Vec<_>>().join(", ")
            ),
        };
        table.report(
            Problem::new(
                table.place_of("link"),
                format!("there is no link \"{wanted}\""),
            )
            .cure(cure),
        );
        None
    }

    /// Everything about them, with what is read over each.
    pub fn settings(
        &self,
        points: &[(LinkId, Point)],
        bits: &[(LinkId, Bit)],
    ) -> Option<Vec<LinkSettings>> {
        let one = |(index, link): (usize, &Link<'_>)| {
            let id = LinkId(index as u32);
            let own = points
                .iter()
                .filter(|(of, _)| *of == id)
                .map(|(_, point)| point.clone());
            Some(LinkSettings {
                id,
                name: link.name.as_ref()?.0.to_owned(),
                address: link.address.clone()?,
                poll_every: link.poll_every?,
                timeout: link.timeout?,
                points: own.collect(),
                bits: bits
                    .iter()
                    .filter(|(of, _)| *of == id)
                    .map(|(_, bit)| bit.clone())
                    .collect(),
            })
        };
        self.0.iter().enumerate().map(one).collect()
    }
}

pub fn plans(settings: &[LinkSettings]) -> Vec<LinkPlan> {
    settings
        .iter()
        .map(|link| LinkPlan {
            name: link.name.as_str().into(),
            poll_every: link.poll_every,
        })
        .collect()
}

fn read<'d>(table: &Table<'d>) -> Link<'d> {
    let poll_every = table.duration("poll_every");
    if poll_every.is_some_and(|period| period < SHORTEST_POLL) {
        let problem = table.problem_at("poll_every", "`poll_every` is shorter than 10 ms");
        table.report(
            problem.cure("a level needs no more than a few reads a second: poll_every = \"1 s\""),
        );
    }
    Link {
        name: table
            .text("name")
            .map(|name| (name, table.place_of("name"))),
        address: endpoint(table, "tcp").map(LinkAddress::Tcp),
        poll_every,
        timeout: table.duration("timeout"),
    }
}
