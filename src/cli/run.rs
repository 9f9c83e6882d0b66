//! `standpipe run SITE`: the daemon.

use super::load;
use crate::daemon::{Daemon, with_ages};
use crate::site::Site;
use std::io::{IsTerminal, Write};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use tokio::signal::unix::{SignalKind, signal};
use tokio_util::sync::CancellationToken;
use tracing_subscriber::EnvFilter;

/// Poll the site's transmitters, work out levels, raise alarms, publish. Runs until SIGTERM or Ctrl-C.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
}

pub fn run(arguments: &Arguments, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    let site = load(&arguments.site)?;
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new("info"));
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        .with_ansi(std::io::stderr().is_terminal())
        // A closed stderr loses the log, not the daemon.
        .log_internal_errors(false)
        .with_target(false)
        .init();
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()?;
    runtime.block_on(serve(with_ages(&site), out))
}

async fn serve(site: Site, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    let (mut terminate, mut interrupt) = (
        signal(SignalKind::terminate())?,
        signal(SignalKind::interrupt())?,
    );
    let stop = CancellationToken::new();
    let socket = site.commands.socket.clone();
    let broker = site
        .mqtt
        .as_ref()
        .map(|mqtt| format!("{}:{}", mqtt.host, mqtt.port));
    let name = site.plan.site.to_string();
    let daemon = Daemon::start(site, stop.clone()).await?;
    // Whoever started it may have closed its end: that is no reason to watch no longer.
    let _ = greet(out, &name, daemon.page, broker.as_deref(), &socket);
    // Without a service manager there is nobody to tell.
    let _ = sd_notify::notify(&[sd_notify::NotifyState::Ready]);
    tokio::select! {
        _ = terminate.recv() => {}
        _ = interrupt.recv() => {}
    }
    let _ = sd_notify::notify(&[sd_notify::NotifyState::Stopping]);
    stop.cancel();
    daemon.stopped().await;
    Ok(ExitCode::SUCCESS)
}

/// Where everything is found.
fn greet(
    out: &mut impl Write,
    name: &str,
    page: Option<SocketAddr>,
    broker: Option<&str>,
    socket: &Path,
) -> std::io::Result<()> {
    writeln!(
        out,
        "Standpipe watches {name}. Not a safety instrumented system; local codes and licensed practice decide."
    )?;
    if let Some(page) = page {
        writeln!(out, "  page, interface and metrics  http://{page}/")?;
    }
    if let Some(broker) = broker {
        writeln!(out, "  MQTT broker                  {broker}")?;
    }
    writeln!(out, "  commands                     {}", socket.display())?;
    out.flush()
}
