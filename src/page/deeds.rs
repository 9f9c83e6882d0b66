//! What people do: a form becomes a request, goes through the one entrance, and its answer is told on the next page.

use super::access::{PLACE, SESSION, back, cookie, encoded, set_cookie};
use super::asked::{self, Read};
use super::sent::{Returned, Sent, Trouble};
use super::units::Asked;
use super::view::{Said, View};
use super::{PageState, handover, signals, tank};
use crate::people::Way;
use crate::wire::{Answer, Request};
use axum::Form;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::http::header::{HeaderMap, SET_COOKIE};
use axum::response::{IntoResponse, Response};
use std::sync::Arc;

/// A year: a screen stays at its place.
const PLACE_LASTS_S: u64 = 365 * 86_400;

pub(super) async fn take(
    State(state): State<PageState>,
    Path(deed): Path<String>,
    headers: HeaderMap,
    Form(sent): Form<Sent>,
) -> Response {
    let refused = |text: &str| {
        let said = Said {
            done: false,
            text: text.to_owned(),
        };
        back(&headers, sent.text("back"), &said)
    };
    let id = cookie(&headers, SESSION);
    let view = state.view(&headers);
    let Some(person) = &view.who.signed_in else {
        return refused("you are not signed in, or no longer: sign in, then do it again");
    };
    if !state.is_own_form(&headers, id, sent.text("token")) {
        return refused("the form was too old, or not this page's: do it again");
    }
    let request = match request(&deed, &sent, &view) {
        Ok(request) => request,
        Err(troubles) => return not_taken(&state, &headers, view, (deed, sent), troubles).await,
    };
    if !state.once.take(sent.text("once")) {
        return refused("that was done already with this form, and is not done twice");
    }
    let way = Way::Page {
        person: Arc::clone(&person.name),
    };
    let answer = state.accounts.entrance().ask(way, request).await;
    if !matches!(answer, Ok(Answer::Done(_))) {
        state.once.give_back(sent.text("once"));
    }
    let said = match answer {
        Ok(Answer::Done(text)) => Said { done: true, text },
        Ok(Answer::Refused(text)) => {
            let troubles = vec![Trouble::of_form(text)];
            return not_taken(&state, &headers, view, (deed, sent), troubles).await;
        }
        Ok(Answer::Status(_)) => return refused("a question is no deed"),
        Err(closed) => return refused(&closed.to_string()),
    };
    let mut response = back(&headers, sent.text("back"), &said);
    if let Some(place) = sent.filled("place").filter(|_| deed == "silence") {
        let cookie = set_cookie(&headers, PLACE, &encoded(&place), Some(PLACE_LASTS_S));
        response.headers_mut().append(SET_COOKIE, cookie);
    }
    response
}

/// A long form comes back with what was typed; a short one says why on the page that it stands on.
async fn not_taken(
    state: &PageState,
    headers: &HeaderMap,
    mut view: View,
    (deed, sent): (String, Sent),
    troubles: Vec<Trouble>,
) -> Response {
    let texts: Vec<&str> = troubles.iter().map(|trouble| &*trouble.text).collect();
    let said = Said {
        done: false,
        text: texts.join(". "),
    };
    let (is_of_tank, tank) = match deed.as_str() {
        "sight" | "dip" | "transfer" | "product" | "test" => (true, sent.text("tank").to_owned()),
        "work" => (false, String::new()),
        _ => return back(headers, sent.text("back"), &said),
    };
    view.said = Some(said);
    view.returned = Some(Returned {
        deed,
        sent,
        troubles,
    });
    let mut response = match is_of_tank {
        true => tank::answer(state, view, &tank, &Asked::default()).await,
        false => signals::page(&view).into_response(),
    };
    if response.status().is_success() {
        *response.status_mut() = StatusCode::UNPROCESSABLE_ENTITY;
    }
    response
}

fn request(deed: &str, sent: &Sent, view: &View) -> Read {
    let wrong = |text: &str| vec![Trouble::of_form(text)];
    let text = |name| sent.text(name).to_owned();
    let (tank, code, by) = (text("tank"), text("code"), String::new());
    Ok(match deed {
        "acknowledge" => Request::Ack {
            tank,
            code,
            by,
            // Without it a newer activation could be answered by who has seen the one before.
            activation: Some(
                sent.text("activation")
                    .parse()
                    .map_err(|_| wrong("the form names no activation: look at the alarm again"))?,
            ),
        },
        "reset" => Request::Reset { tank, code, by },
        "shelve" => Request::Shelve {
            tank,
            code,
            by,
            time_s: sent
                .text("seconds")
                .parse()
                .map_err(|_| wrong("for how long?"))?,
            reason: text("reason"),
            once: sent.is_ticked("until_clear"),
        },
        "unshelve" => Request::Unshelve { tank, code, by },
        "out-of-service" => Request::OutOfService {
            tank,
            code,
            by,
            reason: sent.filled("reason"),
        },
        "return" => Request::Return { tank, code, by },
        "silence" => Request::Silence {
            place: sent.filled("place"),
            by,
        },
        "confirm-level" => Request::ConfirmLevel { tank, by },
        "confirm-leg-drained" => Request::ConfirmLegDrained { tank, by },
        "sight" => return asked::sight(sent, view),
        "dip" => return asked::dip(sent, view),
        "transfer" => return asked::transfer(sent, view),
        "end-transfer" => Request::EndTransfer { tank, by },
        "product" => return asked::product(sent, view),
        "work" => return asked::work(sent, view),
        "end-work" => Request::EndWork {
            tag: text("tag"),
            anyway: sent.is_ticked("anyway"),
            by,
        },
        "test" => return asked::test(sent, view),
        "end-test" => Request::EndTestAlarm { tank, code, by },
        "note" => Request::Note {
            tank: sent.filled("tank"),
            text: text("text"),
            by,
        },
        "handover" => {
            let other = sent
                .filled("other")
                .ok_or_else(|| wrong("who takes over? Both names are needed"))?;
            let note = sent
                .filled("text")
                .map_or(String::new(), |note| format!(": {note}"));
            Request::Note {
                tank: None,
                text: format!(
                    "shift handed over to {other}{note}. Open: {}",
                    handover::open(view)
                ),
                by,
            }
        }
        _ => return Err(wrong("there is no such deed")),
    })
}

#[cfg(test)]
#[path = "deeds_tests.rs"]
mod tests;
