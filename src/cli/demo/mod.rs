//! `standpipe demo`: a simulated site and the daemon in one process, with a live table.

mod screen;
mod table;
mod terminal;

use crate::daemon::demo::{Demo, PASSWORD, PERSON};
use crate::engine::{Event, Snapshot};
use crate::people::Way;
use crate::site::settings::ShowUnits;
use crate::wire::{Answer, Request};
use jiff::tz::TimeZone;
use screen::Screen;
use std::io::{IsTerminal, Write};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;
use table::Glyphs;
use terminal::{Key, Terminal};
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::broadcast::error::RecvError;
use tokio::time::{MissedTickBehavior, interval, sleep};
use tokio_util::sync::CancellationToken;

/// How often the plain table is printed again.
const PLAIN_EVERY: Duration = Duration::from_secs(10);

/// Watch a simulated site: a high alarm comes, a headspace jump is caught. Nothing else is needed.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Plain lines in place of the live table
    #[arg(long)]
    plain: bool,
    /// Stop by itself after so many seconds
    #[arg(long = "for", value_name = "SECONDS")]
    lasting: Option<u64>,
}

pub fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()?;
    runtime.block_on(show(arguments))
}

async fn show(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let stop = CancellationToken::new();
    let demo = Demo::start(stop.clone()).await?;
    let live =
        !arguments.plain && std::io::stdout().is_terminal() && std::io::stdin().is_terminal();
    let ended = tokio::select! {
        ended = async { if live { watch(&demo).await } else { report(&demo).await } } => ended,
        () = asked_to_stop(arguments.lasting) => Ok(()),
    };
    stop.cancel();
    demo.stopped().await;
    ended.map(|()| ExitCode::SUCCESS)
}

async fn asked_to_stop(lasting: Option<u64>) {
    let over = async {
        match lasting {
            Some(seconds) => sleep(Duration::from_secs(seconds)).await,
            None => std::future::pending().await,
        }
    };
    let (Ok(mut terminate), Ok(mut interrupt), Ok(mut hang_up)) = (
        signal(SignalKind::terminate()),
        signal(SignalKind::interrupt()),
        signal(SignalKind::hangup()),
    ) else {
        return over.await;
    };
    tokio::select! {
        () = over => {}
        _ = terminate.recv() => {}
        _ = interrupt.recv() => {}
        _ = hang_up.recv() => {}
    }
}

/// Where everything is to be found.
fn addresses(demo: &Demo) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(page) = demo.daemon.page {
        lines.push(format!("page, interface, metrics  http://{page}/"));
        lines.push(format!("to sign in there  {PERSON}, \"{PASSWORD}\""));
    }
    lines.push(match &demo.broker {
        Ok(address) => format!("MQTT  {address}, topics simulated/alder-rise/#"),
        Err(trouble) => format!("MQTT left out: {trouble}"),
    });
    let links = demo
        .links
        .iter()
        .map(|(name, address)| format!("{name} {address}"))
        .collect::<Vec<_>>();
    lines.push(format!("Modbus TCP  {}", links.join(", ")));
    lines
}

/// The site's time zone, for shown times.
fn zone(demo: &Demo) -> TimeZone {
    let named = demo
        .site
        .timezone
        .as_deref()
        .and_then(|name| TimeZone::get(name).ok());
    named.unwrap_or(TimeZone::UTC)
}

/// The live table, until `q`.
async fn watch(demo: &Demo) -> anyhow::Result<()> {
    let mut terminal = Terminal::open()?;
    let mut screen = Screen::new(
        addresses(demo),
        demo.site.show,
        zone(demo),
        Glyphs::of_this_terminal(),
    );
    let (mut snapshots, mut events) = (demo.daemon.snapshots.clone(), demo.daemon.events());
    let mut refresh = interval(Duration::from_millis(500));
    refresh.set_missed_tick_behavior(MissedTickBehavior::Skip);
    loop {
        tokio::select! {
            key = terminal.key() => match key {
                Some(Key::Acknowledge) => {
                    let snapshot = snapshots.borrow().clone();
                    screen.say(acknowledge_first(demo, &snapshot).await);
                }
                Some(Key::Quit) | None => return Ok(()),
                Some(Key::Redraw) => {}
            },
            event = events.recv() => match event {
                Ok(event) => screen.take(event),
                Err(RecvError::Lagged(_)) => {}
                Err(RecvError::Closed) => return Ok(()),
            },
            _ = refresh.tick() => {}
        }
        let snapshot = snapshots.borrow_and_update().clone();
        let (width, height) = terminal.size();
        terminal.draw(&screen.lines(&snapshot, width, height))?;
    }
}

/// Acknowledges the first alarm that waits for it.
async fn acknowledge_first(demo: &Demo, snapshot: &Snapshot) -> String {
    let waiting = snapshot
        .tanks
        .iter()
        .flat_map(|tank| tank.alarms.iter().map(move |alarm| (tank, alarm)));
    let waiting = waiting.filter(|(_, alarm)| alarm.state.needs_acknowledgement());
    let Some((tank, alarm)) = waiting.max_by_key(|(_, alarm)| alarm.priority) else {
        return "no alarm waits to be acknowledged".to_owned();
    };
    let request = Request::Ack {
        tank: tank.name.to_string(),
        code: alarm.code.to_string(),
        by: PERSON.to_owned(),
        activation: alarm.activation,
    };
    match demo.daemon.entrance.ask(Way::own(), request).await {
        Ok(Answer::Done(text)) => text,
        Ok(Answer::Refused(text)) => format!("refused: {text}"),
        Ok(Answer::Status(_)) => String::new(),
        Err(closed) => closed.to_string(),
    }
}

/// Plain lines: every event as it comes, the table now and then.
async fn report(demo: &Demo) -> anyhow::Result<()> {
    let mut out = std::io::stdout();
    writeln!(
        out,
        "SIMULATED: {}. {}",
        demo.site.plan.site,
        screen::CAUTION
    )?;
    for line in addresses(demo) {
        writeln!(out, "  {line}")?;
    }
    writeln!(
        out,
        "  commands  standpipe status {}",
        demo.site_file.display()
    )?;
    out.flush()?;
    let zone = zone(demo);
    let mut events = demo.daemon.events();
    let mut table = interval(PLAIN_EVERY);
    sleep(Duration::from_secs(2)).await;
    loop {
        tokio::select! {
            event = events.recv() => match event {
                Ok(event) => writeln!(out, "{}", screen::event_line(&event, &zone))?,
                Err(RecvError::Lagged(count)) => writeln!(out, "({count} events were not shown)")?,
                Err(RecvError::Closed) => return Ok(()),
            },
            _ = table.tick() => plain_table(&demo.daemon.snapshots.borrow().clone(), demo.site.show, &mut out)?,
        }
        out.flush()?;
    }
}

fn plain_table(
    snapshot: &Arc<Snapshot>,
    show: ShowUnits,
    out: &mut impl Write,
) -> std::io::Result<()> {
    writeln!(out)?;
    for line in table::table(snapshot, show, Glyphs::ASCII, 80) {
        writeln!(out, "{}", line.text)?;
    }
    writeln!(out)
}

/// An event that is worth a line on a small screen.
fn is_shown(event: &Event) -> bool {
    !matches!(event.kind, crate::engine::EventKind::Start)
}
