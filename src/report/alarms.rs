//! The alarms' performance figures over a span, as a supervisor reads them: each beside its target.

use crate::engine::alarm::figures::{self, Figures, Name, Tally};
use crate::engine::plan::{Plan, Priority};
use crate::journal::{Filter, JournalError, Reader};
use crate::quantity::{Timestamp, span};
use crate::wire::FiguresForm;
use jiff::tz::TimeZone;
use std::fmt::{self, Display};
use std::io;
use std::time::Duration;

/// How many events are read at once.
const AT_ONCE: usize = 1000;

/// The document.
#[derive(Clone, Debug)]
pub struct AlarmReport {
    pub site: String,
    pub zone: TimeZone,
    pub figures: Figures,
}

impl AlarmReport {
    /// Over the events of a journal from one time to another.
    pub fn of(
        site: &str,
        plan: &Plan,
        zone: TimeZone,
        reader: &Reader,
        (from, to): (Timestamp, Timestamp),
    ) -> Result<Self, JournalError> {
        let mut tally = Tally::new(from, to);
        // From the first event on: only those tell how alarms stood when the span began.
        let mut filter = Filter {
            to: Some(to),
            ..Filter::default()
        };
        loop {
            let events = reader.first(&filter, AT_ONCE)?;
            let Some(last) = events.last() else { break };
            filter.beyond = last.number;
            events.iter().for_each(|event| tally.take(event));
        }
        Ok(Self {
            site: site.to_owned(),
            zone,
            figures: tally.finish(|name| priority(plan, name)),
        })
    }

    pub fn form(&self) -> FiguresForm {
        FiguresForm::new(&self.site, &self.figures)
    }

    /// One figure a row, with its target.
    pub fn csv(&self, out: impl io::Write) -> csv::Result<()> {
        let mut table = csv::Writer::from_writer(out);
        table.write_record(["figure", "value", "target"])?;
        for row in self.rows() {
            table.write_record([&row.what, &row.value, &row.target])?;
        }
        Ok(table.flush()?)
    }

    fn rows(&self) -> Vec<Row> {
        let figures = &self.figures;
        let mut rows = rates(figures);
        rows.extend(crowded(figures));
        rows.extend(spread(figures));
        rows.extend(answers(figures));
        rows.extend(standing(figures));
        rows
    }
}

/// Which priority the plan has for an alarm.
fn priority(plan: &Plan, (tank, code): &Name) -> Option<Priority> {
    let tank = tank.as_ref()?;
    let tank = plan.tanks.iter().find(|plan| plan.name == *tank)?;
    let alarm = tank.alarms.iter().find(|plan| plan.code == *code)?;
    Some(alarm.priority)
}

/// A figure, and what it should be; misses stand out.
struct Row {
    what: String,
    value: String,
    target: String,
    misses: bool,
}

impl Row {
    fn plain(what: &str, value: impl Display) -> Self {
        Self {
            what: what.to_owned(),
            value: value.to_string(),
            target: String::new(),
            misses: false,
        }
    }

    fn against(what: &str, value: impl Display, target: impl Display, misses: bool) -> Self {
        Self {
            target: target.to_string(),
            misses,
            ..Self::plain(what, value)
        }
    }
}

fn percent(share: f64) -> String {
    format!("{:.1} %", share * 100.0)
}

fn rates(figures: &Figures) -> Vec<Row> {
    let rate = |what: &str, value: f64, (good, most): (f64, f64)| {
        let target = format!("about {good}, at most {most}");
        Row::against(what, format!("{value:.2}"), target, value > most)
    };
    vec![
        Row::plain("annunciated", figures.annunciated),
        rate("a day", figures.a_day, figures::A_DAY),
        rate("an hour", figures.an_hour, figures::AN_HOUR),
        rate(
            "in ten minutes",
            figures.in_ten_minutes,
            figures::TEN_MINUTES,
        ),
        Row::plain("most in one hour", figures.most_in_an_hour),
        Row::plain("most in ten minutes", figures.most_in_ten_minutes),
    ]
}

fn crowded(figures: &Figures) -> Vec<Row> {
    let most = percent(figures::BUSY_SHARE);
    let busy = |what: String, count: u64, share: f64| {
        let value = format!("{count} ({})", percent(share));
        Row::against(
            &what,
            value,
            format!("under {most}"),
            share >= figures::BUSY_SHARE,
        )
    };
    let flood = figures.flood_share;
    vec![
        busy(
            format!("hours with more than {}", figures::BUSY_HOUR),
            figures.busy_hours,
            figures.busy_hours_share,
        ),
        busy(
            format!("ten minutes with more than {}", figures::BUSY_TEN_MINUTES),
            figures.busy_ten_minutes,
            figures.busy_ten_minutes_share,
        ),
        Row::plain("floods", figures.floods),
        Row::plain("longest flood", whole(figures.longest_flood)),
        Row::against(
            "time in flood",
            percent(flood),
            format!("under {}", percent(figures::FLOOD_SHARE)),
            flood >= figures::FLOOD_SHARE,
        ),
        Row::against(
            "share of the ten most frequent",
            percent(figures.most_frequent_share),
            format!("at most {}", percent(figures::TEN_MOST_SHARE)),
            // With ten alarms or fewer they are always all of it.
            figures.most_frequent.len() == 10
                && figures.most_frequent_share > figures::TEN_MOST_SHARE,
        ),
        Row::against(
            "fleeting (over within 10 s)",
            figures.fleeting,
            "0",
            figures.fleeting > 0,
        ),
    ]
}

fn spread(figures: &Figures) -> Vec<Row> {
    let all = figures.annunciated.max(1) as f64;
    let row = |(priority, count): &(Option<Priority>, u64)| {
        let value = format!("{count} ({})", percent(*count as f64 / all));
        let Some(priority) = priority else {
            return Row::plain("of alarms gone from the site file", value);
        };
        let what = format!("priority {}", priority.name());
        let target = figures::SPREAD.iter().find(|(known, _)| known == priority);
        let target = target.map_or(String::new(), |(_, share)| match priority {
            Priority::Highest => format!("under {:.0} %", share * 100.0),
            _ => format!("about {:.0} %", share * 100.0),
        });
        Row::against(&what, value, target, false)
    };
    figures.priorities.iter().map(row).collect()
}

fn answers(figures: &Figures) -> Vec<Row> {
    let time = |time: Option<Duration>| time.map_or_else(|| "—".to_owned(), whole);
    vec![
        Row::plain("acknowledged while active", figures.acknowledged),
        Row::plain(
            "time to acknowledge, median",
            time(figures.median_acknowledge),
        ),
        Row::plain("time to acknowledge, 95 %", time(figures.acknowledge_95)),
        Row::plain(
            "went back before anybody answered",
            figures.returned_unanswered,
        ),
    ]
}

fn standing(figures: &Figures) -> Vec<Row> {
    vec![
        Row::plain("waiting for an answer at the end", figures.unanswered),
        Row::plain("shelved at the end", figures.shelved),
        Row::plain("suppressed by design at the end", figures.suppressed),
        Row::plain("out of service at the end", figures.out_of_service),
        Row::plain("annunciated by tests, not counted above", figures.tests),
        Row::plain(
            "starts of the program: nobody watched before",
            figures.starts,
        ),
    ]
}

fn whole(time: Duration) -> String {
    span(Duration::from_secs(time.as_secs_f64().round() as u64))
}

fn named((tank, code): &Name) -> String {
    match tank {
        Some(tank) => format!("{tank} {code}"),
        None => code.to_string(),
    }
}

impl Display for AlarmReport {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shown = |time: Timestamp| {
            let local = self.zone.to_datetime(time);
            local.strftime("%Y-%m-%d %H:%M").to_string()
        };
        let (from, to) = (shown(self.figures.from), shown(self.figures.to));
        writeln!(f, "{}: alarms from {from} to {to}", self.site)?;
        writeln!(
            f,
            "\nof one operator's position; targets of ISA-18.2 and EEMUA 191, from memory\n"
        )?;
        for Row {
            what,
            value,
            target,
            misses,
        } in self.rows()
        {
            let mark = if misses { "  MISSED" } else { "" };
            let line = format!("  {what:<46} {value:<16} {target}{mark}");
            writeln!(f, "{}", line.trim_end())?;
        }
        list(f, "most frequent", &self.figures.most_frequent, |count| {
            count.to_string()
        })?;
        list(
            f,
            "chattering (three times within a minute)",
            &self.figures.chattering,
            |count| count.to_string(),
        )?;
        list(
            f,
            "stale (active for more than a day)",
            &self.figures.stale,
            |time| whole(*time),
        )?;
        writeln!(
            f,
            "\nNot a safety instrumented system; local codes and licensed practice decide."
        )
    }
}

fn list<T>(
    f: &mut fmt::Formatter<'_>,
    what: &str,
    rows: &[(Name, T)],
    value: impl Fn(&T) -> String,
) -> fmt::Result {
    if rows.is_empty() {
        return writeln!(f, "\n{what}: none");
    }
    writeln!(f, "\n{what}")?;
    rows.iter()
        .try_for_each(|(name, count)| writeln!(f, "  {:<46} {}", named(name), value(count)))
}
