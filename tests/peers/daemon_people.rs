//! Who may do what on the running program: the local socket's peer credentials against the site file's people.

use crate::daemon::Daemon;
use crate::works::{Works, field};
use standpipe::people::own_user;
use std::os::unix::fs::PermissionsExt;

/// A number that no user of this machine has.
const NOBODY: u32 = 4_100_000_000;

#[test]
fn a_command_stands_under_the_person_whom_the_kernel_vouches_for() {
    let server = field();
    let works = Works::new(&server);
    works.add(&format!(
        "[[person]]\nname = \"Ada\"\nrole = \"operate\"\nuser = \"{}\"\n\
         [[person]]\nname = \"Ben\"\nrole = \"maintain\"\nuser = \"{NOBODY}\"\n",
        own_user()
    ));
    let daemon = Daemon::start(&works);
    daemon.reading("clearwell", |it| it["quality"] == "good");
    let mode = std::fs::metadata(works.socket()).expect("it is there");
    assert_eq!(mode.permissions().mode() & 0o777, 0o666);

    let lah = ["clearwell", "LAH"];
    let ask = |command: &str, more: &[&str]| works.standpipe(command, &[&lah, more].concat());
    let forbidden = [
        (ask("out-of-service", &["--by", "Ben"]), "Ben is not "),
        (
            ask("out-of-service", &["--by", "Ada"]),
            "to take an alarm out of service takes the role \"maintain\"; Ada has \"operate\"",
        ),
        (
            ask("out-of-service", &["--by", "Eve"]),
            "names no person \"Eve\"",
        ),
    ];
    for (told, words) in &forbidden {
        assert_eq!(told.code, Some(1), "{told:?}");
        assert!(told.error.contains(words), "{told:?}");
    }
    assert_eq!(daemon.alarm("clearwell", "LAH")["state"], "NORM");

    let shelve = |by: &[&str]| {
        let shelf: &[&str] = &["--for", "1 h", "--reason", "float sticks"];
        ask("shelve", &[shelf, by].concat())
    };
    let done = shelve(&["--by", "Ada"]);
    assert_eq!(done.code, Some(0), "{done:?}");
    // Left out, the name is that of the one person whom the caller is.
    let done = ask("unshelve", &[]);
    assert_eq!(done.code, Some(0), "{done:?}");
    assert!(done.out.contains("unshelved by Ada"), "{done:?}");

    let told = works.standpipe("journal", &["list", "--json", "--kind", "refused"]);
    let told = if told.code == Some(0) {
        told
    } else {
        panic!("{told:?}")
    };
    let events: Vec<serde_json::Value> = told
        .out
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect();
    assert_eq!(events.len(), forbidden.len(), "{events:?}");
    assert_eq!(events[0]["person"], serde_json::Value::Null);
    assert_eq!(events[1]["person"], "Ada");
    let text = events[1]["text"].as_str().unwrap_or_default();
    assert!(text.starts_with("\"out-of-service\" by "), "{text}");
}
