//! A real broker of its own for a test, on a free loopback port, that can be stopped and started again.

use crate::program;
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use tempfile::TempDir;

pub struct Broker {
    pub port: u16,
    directory: TempDir,
    process: Option<Child>,
}

impl Broker {
    /// Anybody may connect.
    pub fn start() -> Self {
        Self::with(|_| "allow_anonymous true\n".to_owned())
    }

    /// Only that user may connect.
    pub fn with_password(user: &str, password: &str) -> Self {
        Self::with(|directory| {
            let file = directory.join("passwords");
            let written = Command::new(program::find("mosquitto_passwd"))
                .args(["-b", "-c"])
                .args([file.as_os_str(), user.as_ref(), password.as_ref()])
                .status();
            assert!(
                written.is_ok_and(|status| status.success()),
                "no password file"
            );
            format!("allow_anonymous false\npassword_file {}\n", file.display())
        })
    }

    /// It speaks TLS with the certificate `broker.pem`; `stranger.pem` is another one.
    pub fn with_certificate() -> Self {
        Self::with(|directory| {
            certificate(directory, "broker");
            certificate(directory, "stranger");
            let place = directory.display();
            format!(
                "allow_anonymous true\ncertfile {place}/broker.pem\nkeyfile {place}/broker.key\n"
            )
        })
    }

    /// Prepared in its own directory by a function that answers further lines of its configuration.
    pub fn with(prepare: impl FnOnce(&Path) -> String) -> Self {
        let directory = tempfile::tempdir().expect("a temporary directory");
        let port = free_port();
        let place = directory.path().display().to_string();
        let further = prepare(directory.path());
        // It keeps its state, so that a stop and a start are like those of a broker in service. As root it
        // would change to a user who cannot write here.
        let text = format!(
            "listener {port} 127.0.0.1\nuser root\nlog_dest none\npersistence true\n\
             persistence_location {place}/\nmax_queued_messages 0\n{further}"
        );
        std::fs::write(directory.path().join("broker.conf"), text).expect("writable");
        let mut broker = Self {
            port,
            directory,
            process: None,
        };
        broker.again();
        broker
    }

    /// A file in the broker's directory.
    pub fn file(&self, name: &str) -> PathBuf {
        self.directory.path().join(name)
    }

    /// Starts it on the same port.
    pub fn again(&mut self) {
        let process = Command::new(program::find("mosquitto"))
            .arg("-c")
            .arg(self.file("broker.conf"))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the broker starts");
        self.process = Some(process);
        let listens = (0..500).any(|_| {
            std::thread::sleep(Duration::from_millis(20));
            TcpStream::connect(("127.0.0.1", self.port)).is_ok()
        });
        assert!(listens, "the broker does not listen");
    }

    /// Stops it in order, so that it writes its state down.
    pub fn stop(&mut self) {
        let mut process = self.process.take().expect("it runs");
        let asked = Command::new("kill").arg(process.id().to_string()).status();
        assert!(
            asked.is_ok_and(|status| status.success()),
            "the broker could not be asked to stop"
        );
        process.wait().expect("the broker ends");
    }
}

impl Drop for Broker {
    fn drop(&mut self) {
        if let Some(mut process) = self.process.take() {
            let _ = process.kill();
            let _ = process.wait();
        }
    }
}

/// A certificate that vouches for itself, for this machine's loopback address, and its key.
fn certificate(directory: &Path, name: &str) {
    let settings = directory.join(format!("{name}.cnf"));
    let text = "[req]\nprompt=no\ndistinguished_name=name\nx509_extensions=end\n[name]\nCN=127.0.0.1\n\
                [end]\nsubjectAltName=IP:127.0.0.1\nbasicConstraints=critical,CA:FALSE\n";
    std::fs::write(&settings, text).expect("writable");
    let made = Command::new(program::find("openssl"))
        .args(["req", "-x509", "-nodes", "-days", "1", "-newkey", "ec"])
        .args(["-pkeyopt", "ec_paramgen_curve:prime256v1", "-config"])
        .arg(&settings)
        .arg("-keyout")
        .arg(directory.join(format!("{name}.key")))
        .arg("-out")
        .arg(directory.join(format!("{name}.pem")))
        .stderr(Stdio::null())
        .status();
    assert!(made.is_ok_and(|status| status.success()), "no certificate");
}

pub fn free_port() -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
    listener.local_addr().expect("it is bound").port()
}
