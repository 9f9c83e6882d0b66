//! The demo: the simulated plant of Alder Rise and the daemon in one process, with real Modbus TCP
//! between them, and MQTT by a broker of its own where one is installed.
//!
//! Everything lies in a temporary folder and listens on free loopback ports. Only what was started
//! here is stopped.

use super::{Daemon, with_ages};
use crate::people::{own_user, password};
use crate::plant::Plant;
use crate::plant::server::{self, Ports};
use crate::rehearsal::{Scenario, Script, scenario};
use crate::site::settings::{
    BrokerSettings, LinkAddress, ListenerSettings, PersonSettings, Role, SystemUser,
};
use crate::site::{self, Site};
use anyhow::Context;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::Duration;
use tokio::net::TcpStream;
use tokio::process::{Child, Command};
use tokio::time::sleep;
use tokio_util::sync::CancellationToken;

/// The files of the scenario, as they stand beside each other in the folder.
const FILES: &[(&str, &str)] = &[
    (
        "alder-rise.toml",
        include_str!("../../config/alder-rise.toml"),
    ),
    (
        "fluoride-day-tank.csv",
        include_str!("../../config/fluoride-day-tank.csv"),
    ),
    ("demo.toml", include_str!("../../config/demo.toml")),
];
/// Prefix of all topics: simulated data never look like a plant's.
const TOPIC: &str = "simulated";
/// Who gives commands in a demo, at the terminal and at the page; everybody may know the password.
pub const PERSON: &str = "Ada";
pub const PASSWORD: &str = "alder rise";
/// How long the broker has to begin to listen.
const BROKER_STARTS: Duration = Duration::from_secs(5);

/// A demo that runs.
#[derive(Debug)]
pub struct Demo {
    pub daemon: Daemon,
    pub site: Site,
    /// The site file as it can be given to other commands while the demo runs.
    pub site_file: PathBuf,
    pub links: Vec<(String, SocketAddr)>,
    /// Where the broker listens, or why there is none.
    pub broker: Result<SocketAddr, String>,
    plant: server::Served,
    // Dropped in this order: first the broker is stopped, then its files go.
    broker_process: Option<Child>,
    _folder: Folder,
}

impl Demo {
    pub async fn start(stop: CancellationToken) -> anyhow::Result<Self> {
        let folder = Folder::make()?;
        let site_file = folder.0.join("alder-rise.toml");
        let mut site = site::read(&site_file)?;
        let script = Script::read(&folder.0.join("demo.toml"))?;
        let (links, plant) = serve_plant(&site, &script, stop.clone()).await?;
        for link in &mut site.links {
            let served = links.iter().find(|(name, _)| *name == link.name);
            let (_, address) =
                served.with_context(|| format!("the plant does not serve link {}", link.name))?;
            link.address = LinkAddress::Tcp(address.to_string());
        }
        let (broker, broker_process) = match start_broker(&folder.0).await {
            Ok((address, process)) => (Ok(address), Some(process)),
            Err(trouble) => (Err(trouble), None),
        };
        site.mqtt = broker.as_ref().ok().map(|address| BrokerSettings {
            host: address.ip().to_string(),
            port: address.port(),
            tls: false,
            user: None,
            password: None,
            topic: TOPIC.to_owned(),
            reading_every: Duration::from_secs(1),
        });
        site.http = Some(ListenerSettings {
            names: Vec::new(),
            listen: "127.0.0.1:0".to_owned(),
            open: true,
            session: Duration::from_secs(12 * 3600),
            simulated: true,
        });
        site.people = vec![PersonSettings {
            name: PERSON.to_owned(),
            role: Role::Maintain,
            users: vec![SystemUser::Id(own_user())],
            password_hash: Some(password::hash(PASSWORD)?),
        }];
        site.journal.file = folder.0.join("alder-rise.db");
        site.commands.socket = folder.0.join("alder-rise.sock");
        let daemon = Daemon::start(with_ages(&site), stop).await?;
        Ok(Self {
            daemon,
            site,
            site_file,
            links,
            broker,
            plant,
            broker_process,
            _folder: folder,
        })
    }

    /// Returns once everything has stopped after the token was cancelled.
    pub async fn stopped(mut self) {
        self.daemon.stopped().await;
        self.plant.stopped().await;
        if let Some(process) = &mut self.broker_process {
            // It may have ended by itself.
            let _ = process.kill().await;
        }
    }
}

async fn serve_plant(
    site: &Site,
    script: &Script,
    stop: CancellationToken,
) -> anyhow::Result<(Vec<(String, SocketAddr)>, server::Served)> {
    let Scenario {
        plant,
        mut timeline,
        ..
    } = scenario::plant(site, script)?;
    let hand = move |plant: &mut Plant| drop(timeline.apply(plant));
    let served = server::serve(
        Plant::new(plant, script.seed),
        Ports::Each(0),
        1.0,
        hand,
        stop,
    )
    .await;
    let served = served.context("the simulated plant can't listen on a free loopback port")?;
    Ok((served.addresses.clone(), served))
}

/// Starts a broker that is installed on this machine, for this demo alone.
async fn start_broker(folder: &Path) -> Result<(SocketAddr, Child), String> {
    let program = find_broker().ok_or("no mosquitto is installed here")?;
    let free =
        std::net::TcpListener::bind("127.0.0.1:0").and_then(|listener| listener.local_addr());
    let address = free.map_err(|error| format!("no free port for the broker: {error}"))?;
    let settings = folder.join("broker.conf");
    let text = format!(
        "listener {} 127.0.0.1\nallow_anonymous true\npersistence false\n",
        address.port()
    );
    std::fs::write(&settings, text).map_err(|error| format!("{}: {error}", settings.display()))?;
    let mut process = Command::new(&program)
        .arg("-c")
        .arg(&settings)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        // Not the terminal's Ctrl-C: the daemon says goodbye to it first.
        .process_group(0)
        .kill_on_drop(true)
        .spawn()
        .map_err(|error| format!("{} does not start: {error}", program.display()))?;
    let pause = Duration::from_millis(50);
    for _ in 0..BROKER_STARTS.as_millis() / pause.as_millis() {
        if TcpStream::connect(address).await.is_ok() {
            return Ok((address, process));
        }
        if let Ok(Some(status)) = process.try_wait() {
            return Err(format!("{} ended at once ({status})", program.display()));
        }
        sleep(pause).await;
    }
    // It is not ours to wait for any longer.
    let _ = process.kill().await;
    Err(format!("{} does not listen", program.display()))
}

/// On the path, or where Debian puts it.
fn find_broker() -> Option<PathBuf> {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let folders = std::env::split_paths(&path)
        .chain([PathBuf::from("/usr/sbin"), PathBuf::from("/usr/local/sbin")]);
    folders
        .map(|folder| folder.join("mosquitto"))
        .find(|program| program.is_file())
}

/// A temporary folder that goes when this does.
#[derive(Debug)]
struct Folder(PathBuf);

impl Folder {
    fn make() -> anyhow::Result<Self> {
        let name = format!(
            "standpipe-demo-{}-{}",
            std::process::id(),
            super::clock::moment().utc.as_millisecond()
        );
        let folder = Self(std::env::temp_dir().join(name));
        std::fs::create_dir(&folder.0)
            .with_context(|| format!("can't make {}", folder.0.display()))?;
        for (name, text) in FILES {
            std::fs::write(folder.0.join(name), text)?;
        }
        Ok(folder)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // What can't be removed is the system's to clean.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}
