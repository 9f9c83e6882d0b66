//! The overview: one table of all tanks, their levels, quality and alarms, on one screen.

use super::PageState;
use crate::engine::Snapshot;
use crate::engine::alarm::AlarmState;
use crate::engine::snapshot::{AlarmView, TankView};
use axum::extract::State;
use axum::response::Html;
use std::fmt::{self, Display, Write};

/// The page asks for itself again after this time, s.
const REFRESH_S: u32 = 5;

const CAUTION: &str = "Not a safety instrumented system; local codes and licensed practice decide.";

const STYLE: &str = "body{font:1rem sans-serif;margin:1.5rem;color:#222;background:#fff}\
table{border-collapse:collapse}\
th,td{text-align:left;padding:.35rem .9rem;border-bottom:1px solid #bbb;vertical-align:top}\
td.number{text-align:right;font-variant-numeric:tabular-nums}\
footer{margin-top:1.5rem;color:#444}";

pub(super) async fn page(State(state): State<PageState>) -> Html<String> {
    Html(Overview(&state.snapshot()).to_string())
}

struct Overview<'a>(&'a Snapshot);

impl Display for Overview<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let snapshot = self.0;
        let site = Escaped(&snapshot.site);
        write!(
            f,
            "<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\">\
             <meta http-equiv=\"refresh\" content=\"{REFRESH_S}\"><title>{site}</title>\
             <style>{STYLE}</style></head><body><h1>{site}</h1><p>{:.0}</p>\
             <table><thead><tr><th>Tank</th><th>Level</th><th>Fill</th><th>Volume</th><th>Quality</th>\
             <th>Alarms</th></tr></thead><tbody>",
            snapshot.utc
        )?;
        snapshot.tanks.iter().try_for_each(|tank| row(f, tank))?;
        f.write_str("</tbody></table>")?;
        system(f, snapshot)?;
        down(f, snapshot)?;
        contacts(f, snapshot)?;
        write!(
            f,
            "<footer><p>{CAUTION}</p><p><a href=\"/api/v1/tanks\">Tanks</a> · \
             <a href=\"/api/v1/alarms\">Alarms</a> · <a href=\"/api/v1/transmitters\">Transmitters</a> · \
             <a href=\"/api/v1/contacts\">Contacts</a> · \
             <a href=\"/metrics\">Metrics</a> · <a href=\"/health/ready\">Health</a></p></footer></body></html>"
        )
    }
}

fn row(f: &mut fmt::Formatter<'_>, tank: &TankView) -> fmt::Result {
    let reading = &tank.reading;
    write!(
        f,
        "<tr><td><a href=\"/api/v1/tanks/{}\">{}</a></td><td class=\"number\">{}</td>\
         <td class=\"number\">{}</td><td class=\"number\">{}</td><td>{}",
        crate::wire::name::fold(&tank.name),
        Escaped(&tank.title),
        level(tank),
        number(reading.fill.map(|share| 100.0 * share), 1, "%"),
        number(reading.volume.map(|volume| volume.value), 2, "m³"),
        reading.quality.name(),
    )?;
    for reason in reading.reasons.iter() {
        write!(f, "<br>{}", Escaped(reason.text()))?;
    }
    if let Some(jump) = &tank.jump {
        write!(
            f,
            "<br>Jump, {}: {}",
            jump.verdict.name(),
            Escaped(&jump.text)
        )?;
    }
    f.write_str("</td><td>")?;
    let mut open = tank.alarms.iter().filter(|alarm| is_open(alarm)).peekable();
    if open.peek().is_none() {
        f.write_str("none")?;
    }
    open.try_for_each(|alarm| open_alarm(f, alarm))?;
    f.write_str("</td></tr>")
}

fn open_alarm(f: &mut fmt::Formatter<'_>, alarm: &AlarmView) -> fmt::Result {
    let questionable = if alarm.questionable {
        ", questionable"
    } else {
        ""
    };
    let (code, words) = (Escaped(&alarm.code), alarm.state.words());
    let priority = alarm.priority.name();
    write!(f, "{code} ({priority}): {words}{questionable}<br>")?;
    if !alarm.follows.is_empty() {
        f.write_str("it tells for")?;
        for (tank, code) in &alarm.follows {
            write!(f, " {} {}", Escaped(tank), Escaped(code))?;
        }
        f.write_str("<br>")?;
    }
    Ok(())
}

/// What is open of the system itself, and of tanks that are gone from the site file.
fn system(f: &mut fmt::Formatter<'_>, snapshot: &Snapshot) -> fmt::Result {
    let mut of_system = (snapshot.system.iter())
        .filter(|alarm| is_open(alarm))
        .peekable();
    if of_system.peek().is_some() {
        f.write_str("<h2>System</h2><p>")?;
        of_system.try_for_each(|alarm| open_alarm(f, alarm))?;
        f.write_str("</p>")?;
    }
    let gone = snapshot.gone.iter();
    let shown = gone.filter_map(|gone| Some((&gone.tank, gone.alarm.as_ref()?)));
    let mut shown = shown.filter(|(_, alarm)| is_open(alarm)).peekable();
    if shown.peek().is_some() {
        f.write_str("<h2>Gone from the site file</h2><p>")?;
        for (tank, alarm) in shown {
            write!(f, "{} ", Escaped(tank))?;
            open_alarm(f, alarm)?;
        }
        f.write_str("</p>")?;
    }
    Ok(())
}

fn contacts(f: &mut fmt::Formatter<'_>, snapshot: &Snapshot) -> fmt::Result {
    if snapshot.contacts.is_empty() {
        return Ok(());
    }
    f.write_str(
        "<h2>Contacts</h2><table><thead><tr><th>Contact</th><th>State</th><th>Means</th>\
         <th>Quality</th></tr></thead><tbody>",
    )?;
    for contact in &snapshot.contacts {
        let state = match contact.on {
            Some(true) => "on",
            Some(false) => "off",
            None => "not known",
        };
        write!(
            f,
            "<tr><td>{}</td><td>{state}</td><td>{}</td><td>{}",
            Escaped(&contact.tag),
            Escaped(contact.means.as_deref().unwrap_or("")),
            contact.quality.name()
        )?;
        for reason in contact.reasons.iter() {
            write!(f, "<br>{}", Escaped(reason.text()))?;
        }
        f.write_str("</td></tr>")?;
    }
    f.write_str("</tbody></table>")
}

/// An alarm that is not normal, or that nobody can say of whether it is.
fn is_open(alarm: &AlarmView) -> bool {
    alarm.state != AlarmState::Normal || alarm.questionable
}

/// The level with its uncertainty; else what is known of it from one side; else that it is not known.
fn level(tank: &TankView) -> String {
    let reading = &tank.reading;
    let bound = |sign: &str, level: f64| format!("{sign} {}", number(Some(level), 3, "m"));
    match (reading.level, reading.level_at_least, reading.level_at_most) {
        (Some(level), ..) => match reading.level_uncertainty {
            Some(uncertainty) => format!("{:.3} ± {:.3} m", level.value, uncertainty.value),
            None => number(Some(level.value), 3, "m"),
        },
        (None, Some(least), Some(most)) => format!("{:.3} to {:.3} m", least.value, most.value),
        (None, Some(least), None) => bound("≥", least.value),
        (None, None, Some(most)) => bound("≤", most.value),
        (None, None, None) => "not known".to_owned(),
    }
}

fn number(value: Option<f64>, decimals: usize, unit: &str) -> String {
    match value.filter(|value| value.is_finite()) {
        Some(value) => format!("{value:.decimals$} {unit}"),
        None => "–".to_owned(),
    }
}

/// The links that are down, and why.
fn down(f: &mut fmt::Formatter<'_>, snapshot: &Snapshot) -> fmt::Result {
    for link in snapshot.links.iter().filter(|link| !link.up) {
        write!(
            f,
            "<p>Link {} is down: {}</p>",
            Escaped(&link.name),
            Escaped(&link.trouble)
        )?;
    }
    Ok(())
}

/// Text as it may stand in an element or a quoted attribute.
struct Escaped<'a>(&'a str);

impl Display for Escaped<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.chars().try_for_each(|letter| match letter {
            '&' => f.write_str("&amp;"),
            '<' => f.write_str("&lt;"),
            '>' => f.write_str("&gt;"),
            '"' => f.write_str("&quot;"),
            '\'' => f.write_str("&#39;"),
            other => f.write_char(other),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_cannot_bring_markup() {
        assert_eq!(
            Escaped("<b>\"A\" & 'B'").to_string(),
            "&lt;b&gt;&quot;A&quot; &amp; &#39;B&#39;"
        );
    }

    #[test]
    fn what_is_not_known_is_no_number() {
        assert_eq!(number(None, 2, "m³"), "–");
        assert_eq!(number(Some(f64::NAN), 2, "m³"), "–");
        assert_eq!(number(Some(-0.126), 2, "m"), "-0.13 m");
    }
}
