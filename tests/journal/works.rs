//! A site with two tanks, its registers and its broker; the real program runs it.

use crate::broker::{self, Broker};
use crate::registers::Registers;
use standpipe::engine::Event;
use standpipe::journal::{Filter, Reader};
use standpipe::people::socket;
use standpipe::wire::{Answer, Request};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output};
use std::time::Duration;
use tempfile::TempDir;

pub const TANKS: [&str; 2] = ["clearwell", "north-tank"];

pub struct Works {
    pub registers: Registers,
    pub broker: Broker,
    pub folder: TempDir,
    pub journal: PathBuf,
    /// The port of the page.
    pub page: u16,
}

impl Works {
    pub fn new() -> Self {
        Self::with_journal(None)
    }

    /// With a journal in some other folder.
    pub fn with_journal(place: Option<&Path>) -> Self {
        let folder = tempfile::tempdir().expect("a temporary directory");
        let journal = place.unwrap_or(folder.path()).join("site.db");
        let (registers, broker) = (Registers::serve(), Broker::start());
        for tank in 0..TANKS.len() {
            registers.level(tank, 2.0);
        }
        let works = Self {
            registers,
            broker,
            folder,
            journal,
            page: broker::free_port(),
        };
        std::fs::write(works.site(), works.text()).expect("writable");
        works
    }

    pub fn site(&self) -> PathBuf {
        self.folder.path().join("site.toml")
    }

    fn text(&self) -> String {
        let mut text = format!(
            "[site]\nname = \"Alder Rise\"\n\
             [journal]\nfile = \"{}\"\n\
             [mqtt]\nbroker = \"mqtt://127.0.0.1:{}\"\nreading_every = \"1 s\"\n\
             [http]\nlisten = \"127.0.0.1:{}\"\n\
             [[link]]\nname = \"skid-a\"\ntcp = \"127.0.0.1:{}\"\npoll_every = \"40 ms\"\ntimeout = \"500 ms\"\n",
            self.journal.display(),
            self.broker.port,
            self.page,
            self.registers.port,
        );
        for (place, tank) in TANKS.iter().enumerate() {
            text.push_str(&format!(
                "[[transmitter]]\ntag = \"PT-{place}\"\nlink = \"skid-a\"\nregister = \"holding {}\"\n\
                 type = \"f32\"\nunit = \"kPa\"\nspan = [\"0 kPa\", \"60 kPa\"]\n\
                 [[tank]]\nname = \"{tank}\"\n\
                 vessel = {{ shape = \"upright-cylinder\", diameter = \"4 m\", height = \"6 m\" }}\n\
                 liquid = {{ kind = \"constant\", density = \"1000 kg/m3\" }}\n\
                 hookup = {{ kind = \"vented\", transmitter = \"PT-{place}\", at = \"0 m\", high = {{ tap = \"0 m\" }} }}\n\
                 [[tank.alarm]]\ncode = \"LAH\"\nwatch = \"level\"\nabove = \"3 m\"\ndeadband = \"0.05 m\"\n\
                 on_delay = \"0 s\"\npriority = \"high\"\nresponse = \"Close the inlet\"\n\
                 [[tank.alarm]]\ncode = \"LAL\"\nwatch = \"level\"\nbelow = \"1 m\"\ndeadband = \"0.05 m\"\n\
                 on_delay = \"0 s\"\npriority = \"medium\"\nresponse = \"Start the pump\"\n",
                2 * place
            ));
        }
        text
    }

    /// Starts the program.
    pub fn run(&self) -> Running {
        self.run_by(Command::new(env!("CARGO_BIN_EXE_standpipe")))
    }

    /// Starts the program by another one, or in an environment of its own.
    pub fn run_by(&self, mut command: Command) -> Running {
        let log = std::fs::File::options()
            .create(true)
            .append(true)
            .open(self.log())
            .expect("writable");
        let process = command
            .arg("run")
            .arg(self.site())
            .stdout(log.try_clone().expect("a second handle"))
            .stderr(log)
            .spawn()
            .expect("it starts");
        Running(process)
    }

    pub fn log(&self) -> PathBuf {
        self.folder.path().join("log")
    }

    /// Asks the running program; none while it does not answer.
    pub async fn ask(&self, request: &Request) -> Option<Answer> {
        socket::ask(&self.folder.path().join("site.sock"), request)
            .await
            .ok()
    }

    pub async fn status(&self) -> Option<serde_json::Value> {
        match self.ask(&Request::Status).await {
            Some(Answer::Status(status)) => Some(status),
            _ => None,
        }
    }

    /// The program's other commands on this site.
    pub fn command(&self, words: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_standpipe"))
            .args(words)
            .arg(self.site())
            .output()
            .expect("it starts")
    }

    pub fn reader(&self) -> Reader {
        Reader::open(&self.journal).expect("the journal is read")
    }

    pub fn events(&self) -> Vec<Event> {
        self.reader()
            .first(&Filter::default(), 10_000_000)
            .expect("the journal is read")
    }

    /// Waits until something is so; says what the program said if it never is.
    pub async fn until<T>(&self, what: &str, mut is: impl AsyncFnMut() -> Option<T>) -> T {
        for _ in 0..1200 {
            if let Some(found) = is().await {
                return found;
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        let log = std::fs::read_to_string(self.log()).unwrap_or_default();
        panic!("not in time: {what}\n{log}");
    }
}

pub struct Running(Child);

impl Running {
    /// At once, as a loss of power would.
    pub fn kill(mut self) {
        self.0.kill().expect("it is killed");
        self.0.wait().expect("it ends");
    }

    /// In order.
    pub async fn stop(mut self) {
        let asked = Command::new("kill").arg(self.0.id().to_string()).status();
        assert!(asked.is_ok_and(|status| status.success()), "it runs");
        for _ in 0..400 {
            if let Some(status) = self.0.try_wait().expect("it is waited for") {
                assert!(status.success(), "{status}");
                return;
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        panic!("it does not stop");
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        // It has ended already, unless the test failed.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}
