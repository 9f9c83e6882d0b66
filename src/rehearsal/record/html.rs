//! The record as one HTML file: no scripts, nothing that is fetched, everything escaped, made for paper.

use super::{ABOUT, COLUMNS, Played, Record, SAME, SIGNED, SIGNED_BY, TITLE};
use super::{mark, place, played, seen};
use crate::rehearsal::Judged;
use crate::rehearsal::markup::escaped;
use crate::rehearsal::script::shown;
use crate::report::cautions::CAUTIONS;
use std::fmt::Write;

/// On paper light whatever the screen is; no row, signature or picture is cut by a page's end where it fits on one.
const STYLE: &str = "\
:root{color-scheme:light dark;--ink:#1b1f23;--paper:#fbfaf7;--rule:#8d969e;--bad:#9c2f12;--good:#1f6b45}\n\
@media (prefers-color-scheme:dark){:root{--ink:#e9e7e1;--paper:#14181c;--bad:#f0a27f;--good:#7fcfa2}}\n\
@media print{:root{color-scheme:light;--ink:#000;--paper:#fff;--rule:#777;--bad:#000;--good:#000}}\n\
@page{margin:18mm 16mm;@bottom-right{content:counter(page) \" / \" counter(pages)}}\n\
body{font:.95rem/1.4 sans-serif;color:var(--ink);background:var(--paper);max-width:60rem;margin:2rem auto;padding:0 1rem}\n\
h1{font-size:1.5rem;margin:0}h2{font-size:1.1rem;margin:2rem 0 .5rem;border-bottom:2px solid var(--ink)}\
h3{font-size:1rem;margin:1.2rem 0 .2rem}h2,h3{break-after:avoid}\n\
.result{font-size:1.25rem;font-weight:bold;border:3px solid var(--good);padding:.6rem 1rem;margin:1rem 0}\
.result.failed{border-color:var(--bad);border-style:double;border-width:6px}\n\
table{border-collapse:collapse;width:100%}th,td{text-align:left;vertical-align:top;padding:.2rem .7rem .2rem 0;\
border-bottom:1px solid var(--rule)}tr{break-inside:avoid}thead{display:table-header-group}\n\
code{font-family:monospace;font-size:.85em;overflow-wrap:anywhere}.unmet{font-weight:bold;white-space:nowrap;color:var(--bad)}\
.around{font-size:.85em;margin:.2rem 0 .2rem 1rem;padding:0;list-style:none}img{width:100%;break-inside:avoid}\n\
.sign{break-inside:avoid}.sign td{height:2.6rem;vertical-align:bottom}.sign th{width:9rem;vertical-align:bottom}\n";

pub fn html(record: &Record) -> String {
    let mut out = String::new();
    // Writing to a text does not fail.
    let _ = write(&mut out, record);
    out
}

fn write(out: &mut String, record: &Record) -> std::fmt::Result {
    let site = escaped(&record.site);
    writeln!(
        out,
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width\">\n\
         <title>{site}: {TITLE}</title>\n<style>\n{STYLE}</style></head><body>\n\
         <h1>{site}</h1>\n<p>{TITLE}</p>"
    )?;
    let failed = if record.outcome.is_failed() {
        " failed"
    } else {
        ""
    };
    writeln!(out, "<p class=\"result{failed}\">{}</p>", record.outcome)?;
    writeln!(
        out,
        "<table><tbody><tr><th>Program</th><td>{}</td></tr>\
         <tr><th>Date</th><td>{:.0}</td></tr></tbody></table>\n<p>{}</p>",
        escaped(&record.program),
        record.drawn_up,
        escaped(ABOUT)
    )?;
    files(out, record)?;
    writeln!(out, "<h2>2 Scripts and what they expect</h2>")?;
    record.scripts.iter().try_for_each(|one| script(out, one))?;
    alarms(out, record)?;
    writeln!(out, "<h2>4 Cautions</h2>\n<ul>")?;
    for caution in CAUTIONS {
        writeln!(out, "<li>{}</li>", escaped(caution))?;
    }
    writeln!(out, "</ul>\n<h2>5 Signatures</h2>")?;
    writeln!(out, "<p>Result signed for: {}</p>", record.outcome)?;
    for who in SIGNED_BY {
        writeln!(out, "<div class=\"sign\"><h3>{who}</h3><table><tbody>")?;
        for what in SIGNED {
            writeln!(out, "<tr><th>{what}</th><td></td></tr>")?;
        }
        writeln!(out, "</tbody></table></div>")?;
    }
    writeln!(out, "</body></html>")
}

fn files(out: &mut String, record: &Record) -> std::fmt::Result {
    writeln!(
        out,
        "<h2>1 Files</h2>\n<table><thead><tr><th>file</th><th>SHA-256</th></tr></thead><tbody>"
    )?;
    for file in &record.files {
        let (path, sha256) = (escaped(&file.path), &file.sha256);
        writeln!(
            out,
            "<tr><td>{path}</td><td><code>{sha256}</code></td></tr>"
        )?;
    }
    writeln!(
        out,
        "</tbody></table>\n<p>Short fingerprint of the site file: <code>{}</code>. {}</p>",
        escaped(&record.in_events),
        escaped(SAME)
    )
}

fn script(out: &mut String, one: &Played) -> std::fmt::Result {
    let class = if one.outcome.is_failed() {
        " class=\"unmet\""
    } else {
        ""
    };
    writeln!(
        out,
        "<h3>{}</h3>\n<p><span{class}>{}</span>; {}<br>SHA-256 <code>{}</code></p>",
        escaped(&one.file.path),
        one.outcome,
        escaped(&played(&one.rehearsed)),
        one.file.sha256
    )?;
    if !one.rehearsed.judged.is_empty() {
        writeln!(
            out,
            "<table><thead><tr><th>outcome</th><th>where</th><th>expected, and what came</th></tr></thead><tbody>"
        )?;
        one.rehearsed
            .judged
            .iter()
            .try_for_each(|one| judged(out, one))?;
        writeln!(out, "</tbody></table>")?;
    }
    if let Some(strip) = &one.rehearsed.strip {
        let path = escaped(&one.file.path);
        let picture = encoded(strip);
        writeln!(
            out,
            "<p><img alt=\"levels, limits and alarm states of {path}\" src=\"data:image/svg+xml,{picture}\"></p>"
        )?;
    }
    Ok(())
}

fn judged(out: &mut String, one: &Judged) -> std::fmt::Result {
    let class = if one.met { "" } else { " class=\"unmet\"" };
    write!(
        out,
        "<tr><td{class}>{}</td><td>{}</td><td>{}<br>{}",
        mark(one.met),
        place(one.line),
        escaped(&one.expected),
        escaped(&one.found)
    )?;
    if !one.around.is_empty() {
        write!(out, "<ul class=\"around\">")?;
        for (at, text) in &one.around {
            write!(out, "<li>{} {}</li>", shown(*at), escaped(text))?;
        }
        write!(out, "</ul>")?;
    }
    writeln!(out, "</td></tr>")
}

fn alarms(out: &mut String, record: &Record) -> std::fmt::Result {
    write!(out, "<h2>3 Alarms exercised</h2>\n<table><thead><tr>")?;
    for column in COLUMNS {
        write!(out, "<th>{column}</th>")?;
    }
    writeln!(out, "</tr></thead><tbody>")?;
    for row in &record.alarms {
        let texts = [&row.tank, &row.code, &row.setting].map(|text| escaped(text));
        write!(out, "<tr>")?;
        for cell in texts {
            write!(out, "<td>{cell}</td>")?;
        }
        write!(out, "<td>{}</td>", row.priority)?;
        for is in row.seen {
            write!(out, "<td>{}</td>", seen(is))?;
        }
        writeln!(out, "</tr>")?;
    }
    let coverage = escaped(&record.coverage());
    writeln!(out, "</tbody></table>\n<p>{coverage}</p>")
}

/// As the path of a data URL (RFC 2397; RFC 3986, section 2.1).
fn encoded(text: &str) -> String {
    let mut out = String::with_capacity(text.len() * 3 / 2);
    for byte in text.bytes() {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' => out.push(char::from(byte)),
            b'-' | b'.' | b'_' | b'~' | b'/' | b':' | b'=' | b';' | b',' | b'(' | b')' => {
                out.push(char::from(byte));
            }
            // Writing to a text does not fail.
            _ => {
                let _ = write!(out, "%{byte:02X}");
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_is_encoded_byte_by_byte() {
        assert_eq!(encoded("<a b=\"#1\">°"), "%3Ca%20b=%22%231%22%3E%C2%B0");
    }
}
