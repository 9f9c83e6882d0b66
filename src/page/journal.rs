//! The journal: its newest events, searched by tank, kind and words, a page at a time; and as a file.

use super::PageState;
use super::layout::{Page, document};
use super::view::View;
use crate::engine::{Event, EventKind};
use crate::journal::{Filter, JournalError, Reader};
use crate::wire::EventForm;
use crate::wire::name::fold;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE, HeaderMap};
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};
use serde::Deserialize;
use std::path::Path;

/// Events a page, and at most so many in a file.
const PAGE: usize = 100;
const FILE: usize = 100_000;
/// So many events are looked through for words before the search rests.
const LOOKED: usize = 50_000;
const AT_ONCE: usize = 1_000;

#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub(super) struct Asked {
    tank: String,
    kind: String,
    text: String,
    /// Only numbers below it.
    below: String,
}

impl Asked {
    fn kind(&self) -> Option<EventKind> {
        let mut kinds = EventKind::ALL.iter();
        kinds.find(|kind| kind.name() == self.kind).copied()
    }

    fn query(&self) -> String {
        let text: String = self
            .text
            .bytes()
            .map(|byte| match byte {
                b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' => char::from(byte).to_string(),
                _ => format!("%{byte:02X}"),
            })
            .collect();
        let kind = self.kind().map_or("", EventKind::name);
        let tank = fold(&self.tank);
        let tank: String = tank
            .bytes()
            .map(|byte| {
                if byte.is_ascii() {
                    char::from(byte).to_string()
                } else {
                    format!("%{byte:02X}")
                }
            })
            .collect();
        format!("tank={tank}&kind={kind}&text={text}")
    }

    fn fits(&self, event: &Event) -> bool {
        let words = self.text.to_lowercase();
        let texts = [
            Some(event.text.as_str()),
            event.code.as_deref(),
            event.person.as_deref(),
            event.tank.as_deref(),
        ];
        let mut texts = texts.into_iter().flatten();
        words.is_empty() || texts.any(|text| text.to_lowercase().contains(&words))
    }
}

/// The newest events that fit, newest first, and whether there may be more.
fn newest(
    file: &Path,
    asked: &Asked,
    tank: Option<String>,
    most: usize,
) -> Result<(Vec<Event>, bool), JournalError> {
    let reader = Reader::open(file)?;
    let mut below = asked.below.parse::<u64>().ok();
    let (mut found, mut looked) = (Vec::new(), 0);
    loop {
        let filter = Filter {
            tank: tank.clone(),
            kind: asked.kind(),
            below,
            ..Filter::default()
        };
        let events = reader.last(&filter, AT_ONCE)?;
        let Some(first) = events.first() else {
            return Ok((found, false));
        };
        below = Some(first.number);
        looked += events.len();
        for event in events.into_iter().rev().filter(|event| asked.fits(event)) {
            if found.len() == most {
                return Ok((found, true));
            }
            found.push(event);
        }
        if looked >= LOOKED {
            return Ok((found, true));
        }
    }
}

/// The name that the journal has for a tank that is asked for folded.
fn tank_named(view: &View, asked: &Asked) -> Option<String> {
    let name = fold(&asked.tank);
    let mut tanks = view.snapshot.tanks.iter();
    let known = tanks.find(|tank| fold(&tank.name) == name);
    let written = || Some(asked.tank.trim().to_owned()).filter(|tank| !tank.is_empty());
    known.map(|tank| tank.name.to_string()).or_else(written)
}

pub(super) async fn page(
    State(state): State<PageState>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
) -> Response {
    let view = state.view(&headers);
    let (file, wanted, tank) = (
        state.journal.clone(),
        asked.clone(),
        tank_named(&view, &asked),
    );
    let read = tokio::task::spawn_blocking(move || newest(&file, &wanted, tank, PAGE));
    match read.await {
        Ok(Ok((events, more))) => whole(&view, &asked, &events, more).into_response(),
        Ok(Err(error)) => unreadable(&error.to_string()),
        Err(error) => unreadable(&error.to_string()),
    }
}

pub(super) async fn csv(
    State(state): State<PageState>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
) -> Response {
    let view = state.view(&headers);
    let (file, tank) = (state.journal.clone(), tank_named(&view, &asked));
    let name = format!(
        "attachment; filename=\"{}-journal.csv\"",
        view.snapshot.site_folded
    );
    let made = tokio::task::spawn_blocking(move || {
        let (mut events, _) =
            newest(&file, &asked, tank, FILE).map_err(|error| error.to_string())?;
        events.reverse();
        let mut table = csv::Writer::from_writer(Vec::new());
        let mut written = table.write_record(EventForm::COLUMNS);
        for event in &events {
            written = written.and_then(|()| table.write_record(EventForm::new(event).cells()));
        }
        written.map_err(|error| error.to_string())?;
        table.into_inner().map_err(|error| error.to_string())
    });
    match made.await.map_err(|error| error.to_string()).flatten() {
        Ok(table) => {
            let kind = (CONTENT_TYPE, "text/csv; charset=utf-8".to_owned());
            ([kind, (CONTENT_DISPOSITION, name)], table).into_response()
        }
        Err(error) => unreadable(&error),
    }
}

fn unreadable(error: &str) -> Response {
    let text = format!("the journal can't be read: {error}\n");
    (StatusCode::SERVICE_UNAVAILABLE, text).into_response()
}

fn whole(view: &View, asked: &Asked, events: &[Event], more: bool) -> Markup {
    let page = Page {
        title: "Journal",
        path: "/journal",
        live: None,
    };
    let last = events.last().map(|event| event.number);
    let main = html! {
        h1 { "Journal" }
        form.row method="get" action="/journal" {
            label { "Tank " select name="tank" {
                option value="" { "all" }
                @for tank in &view.snapshot.tanks {
                    option value=(fold(&tank.name)) selected[fold(&tank.name) == fold(&asked.tank)] { (tank.name) }
                }
                option value="system" selected[asked.tank == "system"] { "system" }
            } }
            label { "Kind " select name="kind" {
                option value="" { "all" }
                @for kind in EventKind::ALL { option value=(kind.name()) selected[Some(*kind) == asked.kind()] { (kind.name()) } }
            } }
            label { "Words " input name="text" value=(asked.text) maxlength="100"; }
            button { "Search" }
            a href={ "/journal.csv?" (asked.query()) } { "As a file (CSV)" }
        }
        @if events.is_empty() { p { "No event fits." } }
        (rows(view, events.iter()))
        p.spans {
            @if !asked.below.is_empty() { a href={ "/journal?" (asked.query()) } { "Newest" } }
            @if let Some(last) = last.filter(|_| more) { a href={ "/journal?" (asked.query()) "&below=" (last) } { "Older" } }
        }
    };
    document(view, &page, &main)
}

/// Events as a table.
pub fn rows<'e>(view: &View, events: impl Iterator<Item = &'e Event>) -> Markup {
    html! {
        div.wide tabindex="0" role="region" aria-label="Events" { table.events {
            thead { tr { th scope="col" { "Number" } th scope="col" { "Time" } th scope="col" { "What" } th scope="col" { "Of" } th scope="col" { "By" } th scope="col" { "In words" } } }
            tbody { @for event in events {
                tr {
                    td { (event.number) }
                    td { (view.shown.moment(event.time)) }
                    td { (event.kind.name())
                        @if let (Some(from), Some(to)) = (event.from, event.to) { " " (from.code()) " → " (to.code()) } }
                    td { @if let Some(tank) = &event.tank { (tank) " " } @if let Some(code) = &event.code { (code) } }
                    td { @if let Some(person) = &event.person { (person) } }
                    td { (event.text) }
                }
            } }
        } }
    }
}
