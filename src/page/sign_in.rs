//! Signing in and out.

use super::PageState;
use super::access::{SESSION, VISIT, back, cookie, local, set_cookie};
use super::layout::{Page, document};
use super::view::{Said, View};
use crate::people::{Accounts, SignInError};
use axum::Form;
use axum::extract::{ConnectInfo, Query, State};
use axum::http::StatusCode;
use axum::http::header::{HeaderMap, SET_COOKIE};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use serde::Deserialize;
use std::net::SocketAddr;

#[derive(Deserialize)]
pub(super) struct Asked {
    #[serde(default)]
    next: String,
}

#[derive(Deserialize)]
pub(super) struct Filled {
    name: String,
    password: String,
    #[serde(default)]
    token: String,
    #[serde(default)]
    next: String,
}

#[derive(Deserialize)]
pub(super) struct SignOut {
    #[serde(default)]
    token: String,
}

pub(super) async fn page(
    State(state): State<PageState>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
) -> Response {
    // The form needs a cookie that its token is made for.
    let visit = cookie(&headers, VISIT).map_or_else(Accounts::new_id, str::to_owned);
    let mut view = state.view(&headers);
    if view.who.signed_in.is_none() {
        view.who = state.accounts.visitor(None, Some(&visit));
    }
    let listens = from.ip().is_loopback() || headers.contains_key("x-forwarded-proto");
    let html = form(&view, &local(&asked.next), "", "", listens);
    let cookie = set_cookie(&headers, VISIT, &visit, None);
    ([(SET_COOKIE, cookie)], html).into_response()
}

pub(super) async fn sign_in(
    State(state): State<PageState>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    headers: HeaderMap,
    Form(filled): Form<Filled>,
) -> Response {
    let next = &local(&filled.next);
    if !state.is_own_form(&headers, cookie(&headers, VISIT), &filled.token) {
        let text = "the form was too old, or not this page's: try again".to_owned();
        return back(&headers, "/sign-in", &Said { done: false, text });
    }
    let name = filled.name.trim();
    let answer = state.accounts.sign_in(name, filled.password, from.ip());
    match answer.await {
        Ok(id) => {
            let lasting = Some(state.settings.session.as_secs().max(1));
            let cookie = set_cookie(&headers, SESSION, &id, lasting);
            ([(SET_COOKIE, cookie)], Redirect::to(next)).into_response()
        }
        Err(error) => {
            let status = match error {
                SignInError::Wrong => StatusCode::FORBIDDEN,
                SignInError::Wait(_) => StatusCode::TOO_MANY_REQUESTS,
                SignInError::Closed(_) => StatusCode::SERVICE_UNAVAILABLE,
            };
            let view = state.view(&headers);
            (status, form(&view, next, name, &error.to_string(), true)).into_response()
        }
    }
}

pub(super) async fn sign_out(
    State(state): State<PageState>,
    headers: HeaderMap,
    Form(sent): Form<SignOut>,
) -> Response {
    let id = cookie(&headers, SESSION);
    let Some(id) = id.filter(|_| state.is_own_form(&headers, id, &sent.token)) else {
        let text = "you are still signed in: the form was too old".to_owned();
        return back(&headers, "/", &Said { done: false, text });
    };
    if let Err(closed) = state.accounts.sign_out(id).await {
        return (StatusCode::SERVICE_UNAVAILABLE, closed.to_string()).into_response();
    }
    let gone = set_cookie(&headers, SESSION, "", Some(0));
    ([(SET_COOKIE, gone)], Redirect::to("/")).into_response()
}

fn form(view: &View, next: &str, name: &str, trouble: &str, private: bool) -> Markup {
    let page = Page {
        title: "Sign in",
        path: "/sign-in",
        live: None,
    };
    let main = html! {
        section.narrow {
            h1 { "Sign in" }
            @if !trouble.is_empty() { p.said.refused role="alert" { "✕ " (trouble) } }
            @if !view.who.accounts {
                p { "Nobody can sign in yet: no person of the site file has a `password_hash`. `standpipe password` makes one." }
            }
            @if !private { p.trouble { "! This connection is not encrypted: others on the network can read the password." } }
            form.entry method="post" action="/sign-in" {
                input type="hidden" name="token" value=(view.who.token);
                input type="hidden" name="next" value=(next);
                label { "Name" input name="name" value=(name) autocomplete="username" required autofocus; }
                label { "Password" input name="password" type="password" autocomplete="current-password" required; }
                button.main { "Sign in" }
            }
        }
    };
    document(view, &page, &main)
}
