//! `[[transmitter]]`: what is read, and what is known of who reads it.
//!
//! What a pressure is counted from may be stated (`measures`, or a unit's (g) or (a)) or settled by the
//! hookup that uses the transmitter; both must agree.

use super::address::register;
use super::link::Links;
use super::measures::stated;
use super::names::distinct;
use super::ranges;
use crate::engine::plan::{Measures, Reads, TransmitterPlan};
use crate::engine::{LinkId, TransmitterId};
use crate::quantity::Dimension;
use crate::site::file::{Table, is_tag};
use crate::site::key::nearest;
use crate::site::problem::Problem;
use crate::site::settings::{NumberType, Point, WordOrder};
use std::cell::{Cell, RefCell};
use std::ops::Range;
use std::time::Duration;

/// One transmitter, as far as it could be read.
#[derive(Debug)]
pub struct Transmitter<'d> {
    pub tag: &'d str,
    pub table: Table<'d>,
    pub reads: Option<Dimension>,
    /// Settled by the file or by the first hookup that uses it, with the place that says so.
    measures: RefCell<Option<(Measures, Range<usize>)>>,
    /// The hookup that it measures for.
    taken: RefCell<Option<Range<usize>>>,
    /// It is told already that nothing says what it measures.
    told: Cell<bool>,
    pub plan: Option<TransmitterPlan>,
    point: Option<(LinkId, Point)>,
}

/// The plans of all transmitters, and what is read over which link.
pub type Finished = (Vec<TransmitterPlan>, Vec<(LinkId, Point)>);

#[derive(Debug)]
pub struct Transmitters<'d>(Vec<Transmitter<'d>>);

impl<'d> Transmitters<'d> {
    pub fn read(root: &Table<'d>, links: &Links<'d>) -> Self {
        let tables = root.tables("transmitter");
        let list: Vec<Transmitter<'d>> = tables
            .into_iter()
            .enumerate()
            .map(|(index, table)| read(table, TransmitterId(index as u32), links))
            .collect();
        let tagged = list
            .iter()
            .filter(|transmitter| !transmitter.tag.is_empty());
        distinct(
            root.document(),
            "tag",
            tagged.map(|transmitter| (transmitter.tag, transmitter.table.place_of("tag"))),
        );
        report_shared_registers(&list);
        Self(list)
    }

    pub fn tags(&self) -> impl Iterator<Item = (&'d str, Range<usize>)> {
        let tagged = self
            .0
            .iter()
            .filter(|transmitter| !transmitter.tag.is_empty());
        tagged.map(|transmitter| (transmitter.tag, transmitter.table.place_of("tag")))
    }

    pub fn of(&self, id: TransmitterId) -> &Transmitter<'d> {
        &self.0[id.index()]
    }

    /// The transmitter of a tag that has to read something of that dimension.
    pub fn find(
        &self,
        table: &Table<'_>,
        tag: &str,
        place: Range<usize>,
        due: Dimension,
    ) -> Option<TransmitterId> {
        let Some(index) = self.0.iter().position(|transmitter| transmitter.tag == tag) else {
            table.report(self.unknown(tag, place, due));
            return None;
        };
        let transmitter = &self.0[index];
        if let Some(reads) = transmitter.reads.filter(|reads| *reads != due) {
            let message = format!(
                "{tag} reads {}; {} is due here",
                reads.with_article(),
                due.with_article()
            );
            let problem = Problem::new(place, message).related(
                transmitter.table.place_of("reads"),
                format!("{tag} is here"),
            );
            table.report(problem.cure(match self.nearest(tag, Some(due)) {
                Some(near) => format!("did you mean \"{near}\"?"),
                None => format!("name a transmitter that reads {}", due.with_article()),
            }));
            return None;
        }
        Some(TransmitterId(index as u32))
    }

    fn unknown(&self, tag: &str, place: Range<usize>, due: Dimension) -> Problem {
        let problem = Problem::new(place, format!("there is no transmitter \"{tag}\""));
        let near = self
            .nearest(tag, Some(due))
            .or_else(|| self.nearest(tag, None));
        problem.cure(match near {
            Some(near) => format!("did you mean \"{near}\"?"),
            None if is_tag(tag) => format!(
                "add a [[transmitter]] with tag = \"{tag}\" that reads {}",
                due.with_article()
            ),
            None => "name a transmitter by its tag".to_owned(),
        })
    }

    fn nearest(&self, tag: &str, due: Option<Dimension>) -> Option<&'d str> {
        let fitting = self
            .0
            .iter()
            .filter(|transmitter| due.is_none() || transmitter.reads == due);
        nearest(tag, fitting.map(|transmitter| transmitter.tag))
    }

    /// What a pressure transmitter is counted from: as stated, else as its use settles it.
    pub fn settle(&self, id: TransmitterId, by_use: Measures, place: Range<usize>) -> Measures {
        let mut measures = self.of(id).measures.borrow_mut();
        measures.get_or_insert((by_use, place)).0
    }

    /// What it is counted from, where its use does not say.
    pub fn measures(
        &self,
        id: TransmitterId,
        user: &Table<'_>,
        place: Range<usize>,
    ) -> Option<Measures> {
        let transmitter = self.of(id);
        let known = transmitter
            .measures
            .borrow()
            .as_ref()
            .map(|(measures, _)| *measures);
        if known.is_none() && !transmitter.told.replace(true) {
            let message = format!(
                "nothing says what {} measures, and its use here does not settle it",
                transmitter.tag
            );
            let problem =
                Problem::new(transmitter.table.place(), message).related(place, "used here");
            user.report(problem.cure(
                "give the transmitter `measures`: \"gauge\", \"absolute\" or \"sealed-gauge\"",
            ));
        }
        known
    }

    /// Where it is said what it measures.
    pub fn measures_place(&self, id: TransmitterId) -> Range<usize> {
        let transmitter = self.of(id);
        let settled = transmitter
            .measures
            .borrow()
            .as_ref()
            .map(|(_, place)| place.clone());
        settled.unwrap_or_else(|| transmitter.table.place())
    }

    /// A transmitter on the liquid measures one level only.
    pub fn take(&self, id: TransmitterId, user: &Table<'_>, place: Range<usize>) {
        let transmitter = self.of(id);
        let mut taken = transmitter.taken.borrow_mut();
        match &*taken {
            None => *taken = Some(place),
            Some(first) => {
                let message = format!("{} already measures another level", transmitter.tag);
                let problem =
                    Problem::new(place, message).related(first.clone(), "first used here");
                user.report(problem.cure("each hookup has transmitters of its own; check the tag"));
            }
        }
    }

    /// The finished plans and points; none where something was wrong.
    ///
    /// `hookups_read`: all of them could be read, so that a transmitter that none settled stays unsettled.
    pub fn finish(&self, hookups_read: bool) -> Option<Finished> {
        let plans: Vec<Option<TransmitterPlan>> = self
            .0
            .iter()
            .map(|transmitter| transmitter.finish(hookups_read))
            .collect();
        let points = self
            .0
            .iter()
            .map(|transmitter| transmitter.point.clone())
            .collect::<Option<Vec<_>>>();
        Some((plans.into_iter().collect::<Option<Vec<_>>>()?, points?))
    }
}

impl Transmitter<'_> {
    fn finish(&self, hookups_read: bool) -> Option<TransmitterPlan> {
        let mut plan = self.plan.clone()?;
        if let Reads::Pressure(measures) = &mut plan.reads {
            match self.measures.borrow().as_ref() {
                Some((settled, _)) => *measures = *settled,
                None => {
                    self.report_unsettled(hookups_read);
                    return None;
                }
            }
        }
        Some(plan)
    }

    fn report_unsettled(&self, hookups_read: bool) {
        let stated = self.table.has("measures"); // wrongly, which is told already
        if hookups_read && !stated && !self.told.get() {
            let message = format!(
                "nothing says what {} measures, and no hookup settles it",
                self.tag
            );
            let problem = Problem::new(self.table.place(), message);
            let cure =
                "give it `measures`: \"gauge\", \"absolute\", \"differential\" or \"sealed-gauge\"";
            self.table.report(problem.cure(cure));
        }
    }
}

fn read<'d>(table: Table<'d>, id: TransmitterId, links: &Links<'d>) -> Transmitter<'d> {
    let tag = table.text("tag").unwrap_or("");
    if !tag.is_empty() && !is_tag(tag) {
        let problem = table.problem_at("tag", format!("\"{tag}\" cannot be a tag"));
        table.report(problem.cure(
            "a tag is a letter and then letters, digits, points and lines: tag = \"PDT-101\"",
        ));
    }
    let reads = table.choice("reads").map(dimension_of);
    let number = table.choice("type").and_then(number_type);
    let point = read_point(&table, tag, id, number);
    let link = links.find(&table);
    let measures = stated(&table, reads);
    let plan = reads.and_then(|reads| {
        let poll_every = link
            .and_then(|(_, link)| link.poll_every)
            .unwrap_or(Duration::from_secs(1));
        ranges::read(&table, tag, reads, number, measures).map(|plan| TransmitterPlan {
            link: link.map_or(LinkId(0), |(id, _)| id),
            poll_every,
            ..plan
        })
    });
    let place = if table.has("measures") {
        table.place_of("measures")
    } else {
        table.place_of("unit")
    };
    Transmitter {
        tag,
        reads,
        measures: RefCell::new(measures.map(|measures| (measures, place))),
        taken: RefCell::new(None),
        told: Cell::new(false),
        plan: plan.filter(|_| link.is_some()),
        point: link.and_then(|(id, _)| Some((id, point?))),
        table,
    }
}

fn read_point(
    table: &Table<'_>,
    tag: &str,
    id: TransmitterId,
    number: Option<NumberType>,
) -> Option<Point> {
    let register = register(table, number.map(NumberType::words));
    let device = table.whole("device", 0..=255);
    let order = table.choice("order").map(|order| match order {
        "CDAB" => WordOrder::Cdab,
        "BADC" => WordOrder::Badc,
        "DCBA" => WordOrder::Dcba,
        _ => WordOrder::Abcd,
    });
    Some(Point {
        transmitter: id,
        tag: tag.to_owned(),
        device: u8::try_from(device?).ok()?,
        register: register?,
        number: number?,
        order: order?,
    })
}

fn number_type(word: &str) -> Option<NumberType> {
    Some(match word {
        "i16" => NumberType::I16,
        "u16" => NumberType::U16,
        "i32" => NumberType::I32,
        "u32" => NumberType::U32,
        "f32" => NumberType::F32,
        "f64" => NumberType::F64,
        _ => return None,
    })
}

fn dimension_of(reads: &str) -> Dimension {
    match reads {
        "temperature" => Dimension::Temperature,
        "density" => Dimension::Density,
        "flow" => Dimension::Flow,
        "level" => Dimension::Length,
        _ => Dimension::Pressure,
    }
}

/// Two numbers of several registers that share some of them, but are not the same number.
fn report_shared_registers(list: &[Transmitter<'_>]) {
    for (index, transmitter) in list.iter().enumerate() {
        for earlier in &list[..index] {
            let (Some((link, point)), Some((other_link, other))) =
                (&transmitter.point, &earlier.point)
            else {
                continue;
            };
            let same_device = link == other_link && point.device == other.device;
            if same_device
                && point.register.space == other.register.space
                && cannot_both_be(point, other)
            {
                let space = point.register.space.name();
                let message = format!(
                    "the {} registers of {} from {space} {} overlap those of {}, which is another number",
                    point.number.words(),
                    point.tag,
                    point.register.address,
                    other.tag,
                );
                let problem = Problem::new(transmitter.table.place_of("register"), message)
                    .related(
                        earlier.table.place_of("register"),
                        format!("{} stands here", other.tag),
                    );
                transmitter.table.report(problem.cure(
                    "check `register` and `type` of both against the device's register list",
                ));
            }
        }
    }
}

fn cannot_both_be(a: &Point, b: &Point) -> bool {
    let first = |point: &Point| u32::from(point.register.address);
    let end = |point: &Point| first(point) + u32::from(point.number.words());
    let overlap = first(a) < end(b) && first(b) < end(a);
    let same = a.register == b.register && a.number == b.number && a.order == b.order;
    // A word of its own inside of a longer number may be meant: its upper or lower half.
    overlap && !same && a.number.words() > 1 && b.number.words() > 1
}
