//! The local socket: one JSON request a line in, one JSON answer a line out.
//!
//! Who calls is what the kernel says of the other end, never what that says of itself. The socket belongs to the
//! user that the daemon runs as and is open to no one else (mode 0600), unless the site file ties people to
//! other users: then anybody may call (0666), and the roster decides.

use super::entrance::{Entrance, Way};
use super::roster::Roster;
use crate::wire::{Answer, Request};
use std::io;
use std::os::unix::fs::{FileTypeExt, PermissionsExt};
use std::path::{Path, PathBuf};
use std::time::Duration;
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::{UnixListener, UnixStream};
use tokio::time::timeout;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

/// The longest request line, bytes.
const LONGEST_LINE: u64 = 64 * 1024;
/// How long either side waits for the other.
const PATIENCE: Duration = Duration::from_secs(10);
/// How many may talk at once; whoever else calls is hung up on.
const TALKS: usize = 64;
/// How long a stop waits for answers that are under way.
const FINISH: Duration = Duration::from_secs(1);

/// Why the socket can't be used.
#[derive(Debug, thiserror::Error)]
pub enum SocketError {
    #[error(
        "another daemon already listens at {0}: stop it, or give this site its own [commands] socket"
    )]
    InUse(PathBuf),
    #[error(
        "can't listen at {path}: {error}; [commands] socket in the site file can name another place"
    )]
    Listen { path: PathBuf, error: io::Error },
    #[error(
        "no daemon answers at {path} ({error}): is `standpipe run` with this site file running, and as the same user?"
    )]
    Connect { path: PathBuf, error: io::Error },
    #[error("the daemon at {0} broke off without an answer; nothing is known of what was asked")]
    BrokeOff(PathBuf),
}

/// A socket that is open; the file goes when this does.
#[derive(Debug)]
pub struct Socket {
    listener: UnixListener,
    path: PathBuf,
}

impl Drop for Socket {
    fn drop(&mut self) {
        // Nothing can be done about a file that is gone already.
        let _ = std::fs::remove_file(&self.path);
    }
}

impl Socket {
    /// Opens it; a socket that a killed daemon left behind is replaced, any other file is left alone.
    pub async fn open(path: &Path, roster: &Roster) -> Result<Self, SocketError> {
        let failed = |error: io::Error| SocketError::Listen {
            path: path.to_owned(),
            error,
        };
        if std::fs::symlink_metadata(path).is_ok_and(|found| found.file_type().is_socket()) {
            match UnixStream::connect(path).await {
                // Nobody listens: whoever did was killed.
                Err(error) if error.kind() == io::ErrorKind::ConnectionRefused => {
                    std::fs::remove_file(path).map_err(failed)?;
                }
                Err(error) if error.kind() != io::ErrorKind::WouldBlock => {
                    return Err(failed(error));
                }
                // A crowd at the door shows that somebody is at home, too.
                _ => return Err(SocketError::InUse(path.to_owned())),
            }
        }
        let listener = UnixListener::bind(path).map_err(failed)?;
        let socket = Self {
            listener,
            path: path.to_owned(),
        };
        let mode = if roster.calls_from_outside() {
            0o666
        } else {
            0o600
        };
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).map_err(failed)?;
        Ok(socket)
    }

    /// Answers until `stop`.
    pub async fn serve(self, entrance: Entrance, stop: CancellationToken) {
        let talks = TaskTracker::new();
        loop {
            let accepted = tokio::select! {
                accepted = self.listener.accept() => accepted,
                () = stop.cancelled() => break,
            };
            match accepted {
                Ok(_) if talks.len() >= TALKS => {}
                Ok((stream, _)) => match stream.peer_cred() {
                    Ok(peer) => {
                        let way = Way::Local { user: peer.uid() };
                        drop(talks.spawn(talk(stream, way, entrance.clone(), stop.clone())));
                    }
                    Err(error) => tracing::warn!("local socket: nobody knows who calls: {error}"),
                },
                Err(error) => {
                    tracing::warn!("local socket: {error}");
                    tokio::time::sleep(Duration::from_millis(200)).await;
                }
            }
        }
        talks.close();
        talks.wait().await;
    }
}

async fn talk(stream: UnixStream, way: Way, entrance: Entrance, stop: CancellationToken) {
    let (reader, mut writer) = stream.into_split();
    let mut lines = BufReader::new(reader.take(LONGEST_LINE));
    let mut line = String::new();
    loop {
        line.clear();
        lines.get_mut().set_limit(LONGEST_LINE);
        let read = tokio::select! {
            read = timeout(PATIENCE, lines.read_line(&mut line)) => read,
            () = stop.cancelled() => return,
        };
        if !matches!(read, Ok(Ok(count)) if count > 0) {
            return;
        }
        let answer = match serde_json::from_str::<Request>(&line) {
            Ok(request) => match entrance.ask(way.clone(), request).await {
                Ok(answer) => answer,
                Err(closed) => Answer::Refused(closed.to_string()),
            },
            Err(_) if line.len() as u64 >= LONGEST_LINE => Answer::Refused(format!(
                "a request is one line of {} kB at most: this one is too long",
                LONGEST_LINE / 1024
            )),
            Err(error) => Answer::Refused(format!("not understood: {error}")),
        };
        let mut text = serde_json::to_string(&answer).unwrap_or_default();
        text.push('\n');
        let written = tokio::select! {
            written = timeout(PATIENCE, writer.write_all(text.as_bytes())) => written,
            // Its reader may never come back; what fits goes out.
            () = late(&stop) => return,
        };
        if !matches!(written, Ok(Ok(()))) {
            return;
        }
    }
}

/// Some time after the stop: enough for an answer that somebody reads.
async fn late(stop: &CancellationToken) {
    stop.cancelled().await;
    tokio::time::sleep(FINISH).await;
}

/// Asks a running daemon.
pub async fn ask(path: &Path, request: &Request) -> Result<Answer, SocketError> {
    let failed = |error: io::Error| SocketError::Connect {
        path: path.to_owned(),
        error,
    };
    let mut stream = UnixStream::connect(path).await.map_err(failed)?;
    let mut text = serde_json::to_string(request).unwrap_or_default();
    text.push('\n');
    stream.write_all(text.as_bytes()).await.map_err(failed)?;
    let mut answer = String::new();
    let read = timeout(PATIENCE, BufReader::new(stream).read_line(&mut answer)).await;
    match read {
        Ok(Ok(count)) if count > 0 => {
            serde_json::from_str(&answer).map_err(|_| SocketError::BrokeOff(path.to_owned()))
        }
        _ => Err(SocketError::BrokeOff(path.to_owned())),
    }
}

#[cfg(test)]
mod tests {
    use super::super::entrance::own_user;
    use super::*;
    use std::sync::Arc;
    use tokio::sync::mpsc;

    fn nobody_named() -> Roster {
        Roster::new(Vec::new(), own_user())
    }

    #[tokio::test]
    async fn questions_are_answered_and_nonsense_is_refused() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("site.sock");
        let (petitions, _received) = mpsc::channel(1);
        let entrance = Entrance::new(
            petitions,
            nobody_named(),
            Arc::new(|| serde_json::json!({ "site": "Alder Rise" })),
        );
        let stop = CancellationToken::new();
        let served = tokio::spawn(
            Socket::open(&path, &nobody_named())
                .await
                .expect("opens")
                .serve(entrance, stop.clone()),
        );
        let answer = ask(&path, &Request::Status).await.expect("an answer");
        assert_eq!(
            answer,
            Answer::Status(serde_json::json!({ "site": "Alder Rise" }))
        );
        assert!(matches!(
            Socket::open(&path, &nobody_named()).await,
            Err(SocketError::InUse(_))
        ));

        let mut stream = UnixStream::connect(&path).await.expect("connects");
        stream
            .write_all(b"{\"command\":\"open-the-gates\"}\n")
            .await
            .expect("sent");
        let mut line = String::new();
        BufReader::new(stream)
            .read_line(&mut line)
            .await
            .expect("a line");
        assert!(line.starts_with("{\"refused\":\"not understood"), "{line}");

        stop.cancel();
        served.await.expect("ends");
        assert!(!path.exists());
        assert!(matches!(
            ask(&path, &Request::Status).await,
            Err(SocketError::Connect { .. })
        ));
    }

    #[tokio::test]
    async fn a_file_that_was_left_behind_is_replaced() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("site.sock");
        std::os::unix::net::UnixListener::bind(&path).expect("bound, then dropped: the file stays");
        assert!(path.exists());
        let socket = Socket::open(&path, &nobody_named()).await.expect("opens");
        assert_eq!(
            std::fs::metadata(&path)
                .expect("is there")
                .permissions()
                .mode()
                & 0o777,
            0o600
        );
        drop(socket);
    }

    #[tokio::test]
    async fn a_file_that_is_no_socket_is_left_alone() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("notes.txt");
        std::fs::write(&path, "dip 3.41 m").expect("written");
        assert!(matches!(
            Socket::open(&path, &nobody_named()).await,
            Err(SocketError::Listen { .. })
        ));
        assert_eq!(
            std::fs::read_to_string(&path).expect("still there"),
            "dip 3.41 m"
        );
    }
}
