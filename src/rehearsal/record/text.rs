//! The record as text, at most 100 letters wide where words allow it.

use super::{ABOUT, COLUMNS, Played, Record, SAME, SIGNED, SIGNED_BY, TITLE};
use super::{mark, place, played, seen};
use crate::rehearsal::script::shown;
use crate::report::cautions::CAUTIONS;
use std::fmt::{self, Display};

const WIDE: usize = 100;

impl Display for Record {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{}\n{TITLE}\n", self.site)?;
        writeln!(f, "RESULT   {}\n", self.outcome)?;
        writeln!(f, "program  {}", self.program)?;
        writeln!(f, "date     {:.0}\n", self.drawn_up)?;
        paragraph(f, "", ABOUT)?;
        heading(f, "1  Files")?;
        for file in &self.files {
            writeln!(f, "{}\n  SHA-256 {}", file.path, file.sha256)?;
        }
        writeln!(
            f,
            "\nshort fingerprint of the site file: {}",
            self.in_events
        )?;
        paragraph(f, "", SAME)?;
        heading(f, "2  Scripts and what they expect")?;
        self.scripts.iter().try_for_each(|one| script(f, one))?;
        heading(f, "3  Alarms exercised")?;
        self.alarms(f)?;
        heading(f, "4  Cautions")?;
        for caution in CAUTIONS {
            paragraph(f, "* ", caution)?;
        }
        heading(f, "5  Signatures")?;
        writeln!(f, "result signed for: {}\n", self.outcome)?;
        for who in SIGNED_BY {
            writeln!(f, "{who}\n")?;
            for what in SIGNED {
                writeln!(f, "  {what:<10} ________________________________________\n")?;
            }
        }
        Ok(())
    }
}

impl Record {
    fn alarms(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let rows = self.alarms.iter().map(|row| {
            let [activated, acknowledged, cleared, bad] = row.seen.map(|is| seen(is).to_owned());
            let (tank, code) = (row.tank.clone(), row.code.clone());
            let (setting, priority) = (row.setting.clone(), row.priority.to_owned());
            [
                tank,
                code,
                setting,
                priority,
                activated,
                acknowledged,
                cleared,
                bad,
            ]
        });
        let head = COLUMNS.map(str::to_owned);
        let rows: Vec<[String; 8]> = std::iter::once(head).chain(rows).collect();
        let letters = |text: &String| text.chars().count();
        let widest = |column: usize| rows.iter().map(|row| letters(&row[column])).max();
        let widths: Vec<usize> = (0..8).map(|column| widest(column).unwrap_or(0)).collect();
        for row in &rows {
            let cells = row.iter().zip(&widths);
            let cells: Vec<String> = cells.map(|(cell, wide)| format!("{cell:<wide$}")).collect();
            writeln!(f, "{}", cells.join("  ").trim_end())?;
        }
        writeln!(f)?;
        paragraph(f, "", &self.coverage())
    }
}

fn script(f: &mut fmt::Formatter<'_>, one: &Played) -> fmt::Result {
    writeln!(f, "{}\n  {}", one.file.path, one.outcome)?;
    writeln!(f, "  {}", played(&one.rehearsed))?;
    writeln!(f, "  SHA-256 {}", one.file.sha256)?;
    for judged in &one.rehearsed.judged {
        let (mark, place) = (mark(judged.met), place(judged.line));
        writeln!(f, "  {mark:<7}  {place:<9} {}", judged.expected)?;
        writeln!(f, "                     {}", judged.found)?;
        for (at, text) in &judged.around {
            writeln!(f, "                       {}  {text}", shown(*at))?;
        }
    }
    writeln!(f)
}

fn heading(f: &mut fmt::Formatter<'_>, text: &str) -> fmt::Result {
    writeln!(f, "\n{text}\n{}", "-".repeat(text.chars().count()))
}

/// Words in lines of the width, behind a mark.
fn paragraph(f: &mut fmt::Formatter<'_>, mark: &str, text: &str) -> fmt::Result {
    let mut line = mark.to_owned();
    for word in text.split_whitespace() {
        let wide = line.chars().count() + 1 + word.chars().count();
        if wide > WIDE {
            writeln!(f, "{}", line.trim_end())?;
            line = " ".repeat(mark.len());
        }
        if !line.ends_with(' ') && !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    writeln!(f, "{line}")
}
