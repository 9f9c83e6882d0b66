//! A finding and its place in the site file.

use crate::engine::TransmitterId;
use crate::site::file::{Document, Table};
use crate::site::problem::{Problem, Source};
use annotate_snippets::Level;
use std::ops::Range;
use std::path::Path;
use std::sync::Arc;

/// Something that is legal and does not work, or not as it looks.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// The rule's name.
    pub rule: &'static str,
    pub tank: Option<Arc<str>>,
    /// The code of the alarm.
    pub alarm: Option<Arc<str>>,
    pub problem: Problem,
}

/// All that was found, in the order of the file's lines; may be none.
#[derive(Clone, Debug)]
pub struct Findings {
    source: Source,
    list: Vec<Finding>,
}

impl Findings {
    pub fn iter(&self) -> impl Iterator<Item = &Finding> {
        self.list.iter()
    }

    pub fn len(&self) -> usize {
        self.list.len()
    }

    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// The text that their places are in.
    pub fn source(&self) -> &Source {
        &self.source
    }

    /// All of them drawn with their lines; with colour for a terminal.
    pub fn render(&self, colour: bool) -> String {
        let drawn = self
            .list
            .iter()
            .map(|finding| self.source.draw(&Level::WARNING, &finding.problem, colour));
        drawn.collect::<Vec<_>>().join("\n\n")
    }
}

/// Where things stand in a site file that was read and found right.
pub struct Places<'d> {
    file: Table<'d>,
    tanks: Vec<(Table<'d>, Vec<Table<'d>>)>,
    transmitters: Vec<Table<'d>>,
}

impl<'d> Places<'d> {
    pub fn of(document: &'d Document) -> Self {
        let file = document.root();
        let tanks = file.tables("tank").into_iter();
        Self {
            tanks: tanks
                .map(|tank| {
                    let alarms = tank.tables("alarm");
                    (tank, alarms)
                })
                .collect(),
            transmitters: file.tables("transmitter"),
            file,
        }
    }

    pub fn transmitter(&self, id: TransmitterId) -> Range<usize> {
        self.transmitters[id.index()].place()
    }

    pub fn tank(&self, tank: usize) -> Range<usize> {
        self.tanks[tank].0.place()
    }

    /// Of an alarm's key; of the alarm, where the key is left out. The plan has the file's alarms first, in
    /// their order.
    pub fn alarm(&self, tank: usize, alarm: usize, key: &str) -> Range<usize> {
        let (tank, alarms) = &self.tanks[tank];
        alarms
            .get(alarm)
            .map_or(tank.place(), |alarm| alarm.place_of(key))
    }

    /// Of a key in a table of the file's root.
    pub fn of_table(&self, table: &'static str, key: &str) -> Range<usize> {
        let table = self.file.table(table);
        table.map_or(self.file.place(), |table| table.place_of(key))
    }

    /// Of the first alarm.
    pub fn alarms(&self) -> Range<usize> {
        let first = self.tanks.iter().find_map(|(_, alarms)| alarms.first());
        first.map_or(self.file.place(), Table::place)
    }
}

/// What was found so far.
pub struct Notes<'d> {
    pub places: Places<'d>,
    list: Vec<Finding>,
}

impl<'d> Notes<'d> {
    pub fn new(places: Places<'d>) -> Self {
        Self {
            places,
            list: Vec::new(),
        }
    }

    pub fn add(&mut self, finding: Finding) {
        self.list.push(finding);
    }

    /// In the order of the file; what is said twice of one place is said once.
    pub fn findings(mut self, path: &Path, text: &str) -> Findings {
        let place = |finding: &Finding| {
            let span = finding.problem.span.as_ref();
            span.map_or((0, 0), |span| (span.start, span.end))
        };
        self.list
            .sort_by(|a, b| (place(a), a.rule).cmp(&(place(b), b.rule)));
        self.list
            .dedup_by(|a, b| a.rule == b.rule && a.problem == b.problem);
        Findings {
            source: Source::new(path, text),
            list: self.list,
        }
    }
}
