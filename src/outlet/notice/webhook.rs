//! A notice as JSON, posted to an address of the site's choice (HTTP/1.1, RFC 9112). No redirect is followed: the
//! secret goes to the named host and nowhere else.

use super::Trouble;
use crate::engine::notice::Notice;
use crate::outlet::{encryption, secret};
use crate::site::settings::WebhookSettings;
use crate::wire::NoticeForm;
use http_body_util::Full;
use hyper::body::Bytes;
use hyper::client::conn::http1;
use hyper::header::{CONTENT_TYPE, HOST, HeaderValue, USER_AGENT};
use hyper::{Request, StatusCode};
use hyper_util::rt::TokioIo;
use rustls::pki_types::ServerName;
use std::pin::pin;
use std::sync::Arc;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpStream;
use tokio_rustls::TlsConnector;

pub(super) async fn post(
    hook: &WebhookSettings,
    site: &str,
    notice: &Notice,
) -> Result<(), Trouble> {
    let request = request(hook, site, notice).await?;
    let address = (hook.host.as_str(), hook.port);
    let stream = TcpStream::connect(address)
        .await
        .map_err(Trouble::passing)?;
    let status = if hook.tls {
        let config = encryption::config().map_err(Trouble::passing)?;
        let name = ServerName::try_from(hook.host.clone()).map_err(Trouble::passing)?;
        let connector = TlsConnector::from(Arc::new(config));
        let stream = connector.connect(name, stream).await;
        exchange(stream.map_err(Trouble::passing)?, request).await
    } else {
        exchange(stream, request).await
    };
    let status = status.map_err(Trouble::passing)?;
    if status.is_success() {
        return Ok(());
    }
    Err(Trouble {
        text: format!("the server answers {status}"),
        is_final: !may_pass(status),
    })
}

async fn request(
    hook: &WebhookSettings,
    site: &str,
    notice: &Notice,
) -> Result<Request<Full<Bytes>>, Trouble> {
    let body = serde_json::to_vec(&NoticeForm::new(site, notice)).map_err(Trouble::passing)?;
    let host = match hook.host.contains(':') {
        true => format!("[{}]:{}", hook.host, hook.port),
        false => format!("{}:{}", hook.host, hook.port),
    };
    let mut request = Request::post(&hook.path)
        .header(HOST, host)
        .header(CONTENT_TYPE, "application/json")
        .header(USER_AGENT, concat!("standpipe/", env!("CARGO_PKG_VERSION")));
    if let Some((header, value)) = &hook.secret {
        let value = secret::read(value).await.map_err(Trouble::passing)?;
        // What is wrong with it is not said: it is a secret.
        let mut value = HeaderValue::from_str(&value)
            .map_err(|_| Trouble::passing("the webhook's secret cannot stand in a header"))?;
        value.set_sensitive(true);
        request = request.header(header, value);
    }
    let body = Full::new(Bytes::from(body));
    request.body(body).map_err(Trouble::passing)
}

async fn exchange<Stream>(
    stream: Stream,
    request: Request<Full<Bytes>>,
) -> Result<StatusCode, hyper::Error>
where
    Stream: AsyncRead + AsyncWrite + Unpin + Send + 'static,
{
    let (mut sender, connection) = http1::handshake(TokioIo::new(stream)).await?;
    let mut connection = pin!(connection);
    let mut answer = pin!(sender.send_request(request));
    tokio::select! {
        answer = &mut answer => answer.map(|answer| answer.status()),
        ended = &mut connection => {
            ended?;
            answer.await.map(|answer| answer.status())
        }
    }
}

/// Time-out, too early, too many requests (RFC 9110, 15.5.9; RFC 8470, 5.2; RFC 6585, 4), and the server's own.
fn may_pass(status: StatusCode) -> bool {
    matches!(status.as_u16(), 408 | 425 | 429) || status.is_server_error()
}
