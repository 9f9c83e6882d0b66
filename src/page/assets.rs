//! The style and the script of the page; both are this project's own and come with the program.

use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::IntoResponse;

pub(super) async fn style() -> impl IntoResponse {
    let kind = (CONTENT_TYPE, "text/css; charset=utf-8");
    (
        [kind, (CACHE_CONTROL, "no-cache")],
        include_str!("style.css"),
    )
}

pub(super) async fn script() -> impl IntoResponse {
    let kind = (CONTENT_TYPE, "text/javascript; charset=utf-8");
    ([kind, (CACHE_CONTROL, "no-cache")], include_str!("live.js"))
}
