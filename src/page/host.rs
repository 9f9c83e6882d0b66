//! The names that the page answers to.

use crate::site::settings::{ListenerSettings, is_loopback};
use axum::extract::Request;
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, HOST, X_CONTENT_TYPE_OPTIONS};
use axum::response::{IntoResponse, Response};
use std::net::IpAddr;

/// Whether the page is asked for by a name of its own; the name, where it is not. A page of elsewhere whose name is
/// made to mean this machine (DNS rebinding) asks by that name; only browsers are deceived so, and they all say it
/// (RFC 9110, section 7.2). An address in numbers is nobody's to give away.
pub fn own(settings: &ListenerSettings, request: &Request) -> Result<(), String> {
    if request.uri().path().starts_with("/health/") {
        return Ok(());
    }
    let said = request.headers().get(HOST);
    let said = said.map(|host| host.to_str().unwrap_or("").to_owned());
    let authority = request.uri().authority().map(ToString::to_string);
    let Some(said) = authority.or(said) else {
        return Ok(());
    };
    let host = host_of(&said);
    let is_own = is_loopback(&host)
        || host.parse::<IpAddr>().is_ok()
        || host == settings.host().to_ascii_lowercase()
        || settings.names.contains(&host);
    if is_own { Ok(()) } else { Err(said) }
}

/// Without its port and brackets, in lower case.
fn host_of(said: &str) -> String {
    let host = match said.rsplit_once(':') {
        Some((host, port)) if port.bytes().all(|byte| byte.is_ascii_digit()) => host,
        _ => said,
    };
    let host = host.trim_matches(['[', ']']).trim_end_matches('.');
    host.to_ascii_lowercase()
}

/// 421 (RFC 9110, section 15.5.20).
pub fn misdirected(host: &str) -> Response {
    let shown: String = host.chars().filter(|c| !c.is_control()).take(100).collect();
    let text = format!(
        "This page is not served under the name \"{shown}\".\n\nAsk for it by its address in numbers, or let whoever \
         keeps the site file write the name there:\n\n    [http]\n    names = [\"{}\"]\n\nIt is refused so that \
         another site's page can't reach this one through your browser.\n",
        host_of(&shown).replace(['"', '\\'], "")
    );
    let told = [
        (CONTENT_TYPE, "text/plain; charset=utf-8"),
        (X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (CACHE_CONTROL, "no-store"),
    ];
    (StatusCode::MISDIRECTED_REQUEST, told, text).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_answers_to_its_own_names_only() {
        let settings = ListenerSettings {
            listen: "edge-box:8470".to_owned(),
            names: vec!["page.alder-rise.example".to_owned()],
            open: true,
            session: std::time::Duration::ZERO,
            simulated: false,
        };
        let asked = |host: &str, path: &str| {
            let request = Request::builder().uri(path).header(HOST, host);
            let request = request.body(axum::body::Body::empty()).expect("a request");
            own(&settings, &request).is_ok()
        };
        for own in [
            "localhost:8470",
            "127.0.0.1:8470",
            "[::1]:8470",
            "192.0.2.7",
            "[2001:db8::7]:80",
            "Edge-Box:8470",
            "page.alder-rise.example",
            "PAGE.alder-rise.example.:443",
        ] {
            assert!(asked(own, "/"), "{own}");
        }
        for other in [
            "evil.example:8470",
            "localhost.evil.example",
            "alder-rise.example",
            "127.0.0.1.evil.example",
            "",
        ] {
            assert!(!asked(other, "/alarms"), "{other}");
            assert!(asked(other, "/health/live"), "{other}");
        }
        let none = Request::builder().uri("/").body(axum::body::Body::empty());
        assert!(own(&settings, &none.expect("a request")).is_ok());
        let elsewhere = Request::builder()
            .uri("http://evil.example/")
            .header(HOST, "localhost");
        let elsewhere = elsewhere
            .body(axum::body::Body::empty())
            .expect("a request");
        assert!(own(&settings, &elsewhere).is_err());
    }
}
