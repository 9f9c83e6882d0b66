//! Who may see and send what: cookies, the guard in front of everything, and the signs of who is signed in.
//!
//! What always holds: a form is taken only with the token that was made for the cookie it comes with, and from this
//! page itself; nothing here runs a script of its own making in the page (Content-Security-Policy).

use super::view::{Said, View};
use super::{PageState, host, units};
use crate::people::Visitor;
use axum::extract::{Request, State};
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, COOKIE, HeaderMap, HeaderName, HeaderValue,
    REFERRER_POLICY, SET_COOKIE, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use std::sync::Arc;

pub const SESSION: &str = "standpipe_session";
pub const VISIT: &str = "standpipe_visit";
pub const PLACE: &str = "standpipe_place";
const SAID: &str = "standpipe_said";

const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; \
     img-src 'self' data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";
/// What is open even where reading is not.
const OPEN: &[&str] = &[
    "/sign-in",
    "/style.css",
    "/live.js",
    "/health/live",
    "/health/ready",
];
/// The longest answer that is carried to the next page.
const LONGEST_SAID: usize = 600;

/// A cookie's value.
pub fn cookie<'h>(headers: &'h HeaderMap, name: &str) -> Option<&'h str> {
    let all = headers.get_all(COOKIE).into_iter();
    let pairs = all.filter_map(|line| line.to_str().ok());
    let mut pairs = pairs.flat_map(|line| line.split(';'));
    pairs.find_map(|pair| {
        let (found, value) = pair.trim().split_once('=')?;
        (found == name).then_some(value)
    })
}

/// The header that sets a cookie, for so many seconds; without any until the browser is closed.
pub fn set_cookie(
    headers: &HeaderMap,
    name: &str,
    value: &str,
    seconds: Option<u64>,
) -> HeaderValue {
    // Whoever lies in that header only harms himself.
    let behind_tls = headers
        .get("x-forwarded-proto")
        .is_some_and(|protocol| protocol == "https");
    let secure = if behind_tls { "; Secure" } else { "" };
    let age = seconds.map_or(String::new(), |seconds| format!("; Max-Age={seconds}"));
    let text = format!("{name}={value}; Path=/; HttpOnly; SameSite=Strict{age}{secure}");
    HeaderValue::try_from(text).unwrap_or(HeaderValue::from_static(""))
}

impl PageState {
    pub fn visitor(&self, headers: &HeaderMap) -> Visitor {
        let (session, visit) = (cookie(headers, SESSION), cookie(headers, VISIT));
        self.accounts.visitor(session, visit)
    }

    /// The whole page as it is for whoever asks.
    pub fn view(&self, headers: &HeaderMap) -> View {
        let snapshot = self.snapshot();
        let mut shown = self.shown.clone();
        units::apply(&mut shown, &units::kept(headers));
        View {
            age: (self.up)().saturating_sub(snapshot.up),
            snapshot,
            shown,
            who: self.visitor(headers),
            whole: true,
            place: cookie(headers, PLACE).and_then(decoded),
            said: cookie(headers, SAID).and_then(said),
            returned: None,
            open: self.settings.open,
            simulated: self.settings.simulated,
            round_trips: Arc::new((self.round_trips)()),
        }
    }

    /// Whether a form comes from whoever has the cookie, by a page that was made for them.
    pub fn is_own_form(&self, headers: &HeaderMap, id: Option<&str>, token: &str) -> bool {
        let from_here = headers
            .get("sec-fetch-site")
            .is_none_or(|site| site == "same-origin" || site == "none");
        from_here && id.is_some_and(|id| self.accounts.is_token(id, token))
    }
}

/// In front of everything: closed reading, and what a browser is told about every answer.
pub(super) async fn guard(
    State(state): State<PageState>,
    request: Request,
    next: Next,
) -> Response {
    if let Err(host) = host::own(&state.settings, &request) {
        return host::misdirected(&host);
    }
    let path = request.uri().path();
    let is_open = state.settings.open || OPEN.contains(&path);
    let had_said = cookie(request.headers(), SAID).is_some();
    let is_page = request.method() == Method::GET && !path.starts_with("/live/");
    let mut response = if is_open || state.visitor(request.headers()).signed_in.is_some() {
        next.run(request).await
    } else if request.method() == Method::GET && !path.starts_with("/api/") && path != "/metrics" {
        Redirect::to(&format!("/sign-in?next={path}")).into_response()
    } else {
        (StatusCode::UNAUTHORIZED, "sign in first: /sign-in\n").into_response()
    };
    let headers = response.headers_mut();
    let told = [
        (CONTENT_SECURITY_POLICY, POLICY),
        (X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (REFERRER_POLICY, "same-origin"),
        (
            HeaderName::from_static("cross-origin-opener-policy"),
            "same-origin",
        ),
    ];
    for (name, value) in told {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers
        .entry(CACHE_CONTROL)
        .or_insert(HeaderValue::from_static("no-store"));
    let is_html = headers
        .get("content-type")
        .is_some_and(|kind| kind.as_bytes().starts_with(b"text/html"));
    if had_said && is_page && is_html {
        let gone = HeaderMap::new();
        headers.append(SET_COOKIE, set_cookie(&gone, SAID, "", Some(0)));
    }
    response
}

/// To a page, which says once what came of the form.
pub fn back(headers: &HeaderMap, to: &str, said: &Said) -> Response {
    let text: String = said.text.chars().take(LONGEST_SAID).collect();
    let value = format!("{}{}", if said.done { 'd' } else { 'r' }, encoded(&text));
    let cookie = set_cookie(headers, SAID, &value, Some(60));
    ([(SET_COOKIE, cookie)], Redirect::to(&local(to))).into_response()
}

/// A place of this page, whatever was asked for; what is not ASCII is written as an address has it.
pub fn local(to: &str) -> String {
    let is_local = to.starts_with('/')
        && !to.starts_with("//")
        && !to.contains(|c: char| c.is_ascii_control() || c == ' ' || c == '\\');
    if !is_local {
        return "/".to_owned();
    }
    to.bytes()
        .map(|byte| match byte {
            0..0x80 => char::from(byte).to_string(),
            _ => format!("%{byte:02X}"),
        })
        .collect()
}

fn said(value: &str) -> Option<Said> {
    let done = match value.get(..1)? {
        "d" => true,
        "r" => false,
        _ => return None,
    };
    Some(Said {
        done,
        text: decoded(&value[1..])?,
    })
}

/// Text as it can stand in a cookie: the hexadecimal bytes of its UTF-8.
pub fn encoded(text: &str) -> String {
    text.bytes().map(|byte| format!("{byte:02x}")).collect()
}

pub fn decoded(value: &str) -> Option<String> {
    let bytes = (0..value.len())
        .step_by(2)
        .map(|place| u8::from_str_radix(value.get(place..place + 2)?, 16).ok());
    String::from_utf8(bytes.collect::<Option<_>>()?).ok()
}

/// Who is signed in, and the way in or out.
pub fn who(view: &View, path: &str) -> Markup {
    html! {
        div.who {
            @match &view.who.signed_in {
                Some(person) => {
                    span { (person.name) " (" (person.role.name()) ")" }
                    form method="post" action="/sign-out" {
                        input type="hidden" name="token" value=(view.who.token);
                        button { "Sign out" }
                    }
                }
                None if view.who.accounts && path != "/sign-in" => a href={ "/sign-in?next=" (path) } { "Sign in" },
                None => {}
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_survives_its_cookie() {
        let text = "surge LA is shelved: “float” <b>; näheres";
        assert_eq!(decoded(&encoded(text)).as_deref(), Some(text));
        let read = said(&format!("r{}", encoded(text))).expect("said");
        assert_eq!((read.done, read.text.as_str()), (false, text));
        assert_eq!(said("x00"), None);
        assert_eq!(said(""), None);
        assert_eq!(said("dé"), None);
    }

    #[test]
    fn nobody_is_sent_elsewhere() {
        assert_eq!(local("/alarms#a-1"), "/alarms#a-1");
        assert_eq!(local("/tank/wäsche"), "/tank/w%C3%A4sche");
        for bad in [
            "//evil.example",
            "https://evil.example",
            "/\\evil",
            "",
            "/a b",
            "/a\r\nb",
        ] {
            assert_eq!(local(bad), "/", "{bad}");
        }
    }

    #[test]
    fn the_right_cookie_is_found() {
        let mut headers = HeaderMap::new();
        headers.insert(
            COOKIE,
            HeaderValue::from_static("a=1; standpipe_session=xy; b=2"),
        );
        assert_eq!(cookie(&headers, SESSION), Some("xy"));
        assert_eq!(cookie(&headers, "standpipe"), None);
    }
}
