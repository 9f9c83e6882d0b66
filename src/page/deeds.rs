//! What people do: a form becomes a request, goes through the one entrance, and its answer is told on the next page.

use super::PageState;
use super::access::{PLACE, SESSION, back, cookie, encoded, set_cookie};
use super::view::Said;
use crate::people::Way;
use crate::wire::{Answer, Request};
use axum::Form;
use axum::extract::{Path, State};
use axum::http::header::{HeaderMap, SET_COOKIE};
use axum::response::Response;
use serde::Deserialize;

/// A year: a screen stays at its place.
const PLACE_LASTS_S: u64 = 365 * 86_400;

/// Every field that any form has; each takes what it needs.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(super) struct Sent {
    token: String,
    back: String,
    tank: String,
    code: String,
    activation: String,
    reason: String,
    seconds: String,
    once: String,
    place: String,
    text: String,
    other: String,
}

pub(super) async fn take(
    State(state): State<PageState>,
    Path(deed): Path<String>,
    headers: HeaderMap,
    Form(sent): Form<Sent>,
) -> Response {
    let to = sent.back.clone();
    let refused = |text: &str| {
        let said = Said {
            done: false,
            text: text.to_owned(),
        };
        back(&headers, &to, &said)
    };
    let id = cookie(&headers, SESSION);
    let Some(person) = state.visitor(&headers).signed_in else {
        return refused("you are not signed in, or no longer: sign in, then do it again");
    };
    if !state.is_own_form(&headers, id, &sent.token) {
        return refused("the form was too old, or not this page's: do it again");
    }
    let place = sent.place.trim().to_owned();
    let silences = deed == "silence" && !place.is_empty();
    let request = match request(&deed, sent) {
        Ok(request) => request,
        Err(trouble) => return refused(trouble),
    };
    let way = Way::Page {
        person: person.name,
    };
    let said = match state.accounts.entrance().ask(way, request).await {
        Ok(Answer::Done(text)) => Said { done: true, text },
        Ok(Answer::Refused(text)) => Said { done: false, text },
        Ok(Answer::Status(_)) => return refused("a question is no deed"),
        Err(closed) => return refused(&closed.to_string()),
    };
    let mut response = back(&headers, &to, &said);
    if silences {
        let cookie = set_cookie(&headers, PLACE, &encoded(&place), Some(PLACE_LASTS_S));
        response.headers_mut().append(SET_COOKIE, cookie);
    }
    response
}

fn request(deed: &str, sent: Sent) -> Result<Request, &'static str> {
    let filled = |text: String| Some(text.trim().to_owned()).filter(|text| !text.is_empty());
    let (tank, code, by) = (sent.tank, sent.code, String::new());
    Ok(match deed {
        "acknowledge" => Request::Ack {
            tank,
            code,
            by,
            // Without it a newer activation could be answered by who has seen the one before.
            activation: Some(
                sent.activation
                    .parse()
                    .map_err(|_| "the form names no activation: look at the alarm again")?,
            ),
        },
        "reset" => Request::Reset { tank, code, by },
        "shelve" => Request::Shelve {
            tank,
            code,
            by,
            time_s: sent.seconds.parse().map_err(|_| "for how long?")?,
            reason: sent.reason.trim().to_owned(),
            once: !sent.once.is_empty(),
        },
        "unshelve" => Request::Unshelve { tank, code, by },
        "out-of-service" => Request::OutOfService {
            tank,
            code,
            by,
            reason: filled(sent.reason),
        },
        "return" => Request::Return { tank, code, by },
        "silence" => Request::Silence {
            place: filled(sent.place),
            by,
        },
        "confirm-level" => Request::ConfirmLevel { tank, by },
        "confirm-leg-drained" => Request::ConfirmLegDrained { tank, by },
        "end-test" => Request::EndTestAlarm { tank, code, by },
        "note" => Request::Note {
            tank: filled(tank),
            text: sent.text.trim().to_owned(),
            by,
        },
        "handover" => {
            let other = filled(sent.other).ok_or("who takes over? Both names are needed")?;
            let note = filled(sent.text).map_or(String::new(), |note| format!(": {note}"));
            Request::Note {
                tank: None,
                text: format!("shift handed over to {other}{note}"),
                by,
            }
        }
        _ => return Err("there is no such deed"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_acknowledgement_names_what_it_answers() {
        assert!(request("acknowledge", Sent::default()).is_err());
        let sent = Sent {
            activation: "17".to_owned(),
            ..Sent::default()
        };
        let asked = request("acknowledge", sent).expect("it names one");
        assert!(matches!(
            asked,
            Request::Ack {
                activation: Some(17),
                ..
            }
        ));
    }

    #[test]
    fn an_empty_place_is_everywhere() {
        let asked = request("silence", Sent::default()).expect("a request");
        assert!(matches!(asked, Request::Silence { place: None, .. }));
        assert!(request("open-the-gates", Sent::default()).is_err());
    }
}
