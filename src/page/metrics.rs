//! Metrics, for whoever scrapes them.

use super::PageState;
use axum::extract::State;
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;

/// The text format's own media type and version.
const TEXT_FORMAT: &str = "text/plain; version=0.0.4; charset=utf-8";

pub(super) async fn text(State(state): State<PageState>) -> impl IntoResponse {
    ([(CONTENT_TYPE, TEXT_FORMAT)], (state.metrics)())
}
