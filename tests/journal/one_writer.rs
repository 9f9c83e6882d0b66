//! Two daemons on one journal: the second is refused, a killed one is no hindrance, readers are none.

use crate::broker;
use crate::works::Works;
use std::process::Command;

/// The same site with a socket and a page of its own, as a careless copy would have it.
fn copy(works: &Works) -> std::path::PathBuf {
    let text = std::fs::read_to_string(works.site()).expect("read");
    let text = text.replace(&works.page.to_string(), &broker::free_port().to_string());
    let path = works.folder.path().join("copy.toml");
    std::fs::write(&path, text).expect("written");
    path
}

#[tokio::test(flavor = "multi_thread")]
async fn a_second_daemon_is_refused_and_a_killed_one_is_no_hindrance() {
    let works = Works::new();
    let copy = copy(&works);
    let running = works.run();
    works
        .until("it answers", async || works.status().await)
        .await;
    let second = Command::new(env!("CARGO_BIN_EXE_standpipe"))
        .arg("run")
        .arg(&copy)
        .output()
        .expect("it starts");
    let said = String::from_utf8_lossy(&second.stderr);
    assert_eq!(second.status.code(), Some(2), "{said}");
    assert!(
        said.contains("another daemon (process ") && said.contains("[journal] file"),
        "{said}"
    );
    assert!(works.command(&["journal", "list"]).status.success());
    assert!(works.command(&["journal", "verify"]).status.success());
    running.kill();

    let mut second = Command::new(env!("CARGO_BIN_EXE_standpipe"))
        .arg("run")
        .arg(&copy)
        .spawn()
        .expect("it starts");
    let socket = copy.with_extension("sock");
    let request = standpipe::wire::Request::Status;
    works
        .until("it starts at once", async || {
            standpipe::people::socket::ask(&socket, &request).await.ok()
        })
        .await;
    second.kill().expect("it is killed");
    second.wait().expect("it ends");
    assert_eq!(works.reader().verify().expect("read").trouble, None);
}
