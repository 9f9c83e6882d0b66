//! A connection that the served end can break: its next read fails, and whoever held it lets go.

use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::{Context, Poll};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;

/// Whether a connection is to break.
#[derive(Clone, Debug, Default)]
pub(super) struct Broken(Arc<AtomicBool>);

impl Broken {
    pub fn set(&self) {
        self.0.store(true, Ordering::Release);
    }
}

#[derive(Debug)]
pub(super) struct Breakable {
    stream: TcpStream,
    broken: Broken,
}

impl Breakable {
    pub fn new(stream: TcpStream, broken: Broken) -> Self {
        Self { stream, broken }
    }
}

impl AsyncRead for Breakable {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        if self.broken.0.load(Ordering::Acquire) {
            return Poll::Ready(Err(io::ErrorKind::ConnectionReset.into()));
        }
        Pin::new(&mut self.stream).poll_read(context, buffer)
    }
}

impl AsyncWrite for Breakable {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write(context, bytes)
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}
