//! Tests of the entrance: each request, each role, each way to be nobody.

use super::*;
use crate::site::settings::{PersonSettings, Role, SystemUser};
use crate::wire::command::To;
use crate::wire::rounds::{DipForm, SightForm};
use std::collections::BTreeSet;

/// Every request once, in the order of the roles' table.
fn requests() -> Vec<Request> {
    let (tank, code, by) = (|| "clearwell".to_owned(), || "LAH".to_owned(), String::new);
    vec![
        Request::Status,
        Request::Ack {
            tank: tank(),
            code: code(),
            by: by(),
            activation: None,
        },
        Request::Reset {
            tank: tank(),
            code: code(),
            by: by(),
        },
        Request::Shelve {
            tank: tank(),
            code: code(),
            by: by(),
            time_s: 60.0,
            reason: "float sticks".into(),
            once: false,
        },
        Request::Unshelve {
            tank: tank(),
            code: code(),
            by: by(),
        },
        Request::ConfirmLevel {
            tank: tank(),
            by: by(),
        },
        Request::ConfirmLegDrained {
            tank: tank(),
            by: by(),
        },
        Request::Sight(SightForm {
            tank: tank(),
            level_m: 3.41,
            ..SightForm::default()
        }),
        Request::Dip(DipForm {
            tank: tank(),
            innage_m: Some(3.41),
            ..DipForm::default()
        }),
        Request::Product {
            tank: tank(),
            product: "raw".into(),
            by: by(),
        },
        Request::Transfer {
            tank: tank(),
            to: To::LevelM(3.0),
            tell_s: 300.0,
            stop_within_s: 180.0,
            by: by(),
        },
        Request::EndTransfer {
            tank: tank(),
            by: by(),
        },
        Request::Silence {
            place: None,
            by: by(),
        },
        Request::TestNotice {
            name: "night".into(),
            by: by(),
        },
        Request::EndTestAlarm {
            tank: tank(),
            code: code(),
            by: by(),
        },
        Request::Note {
            tank: None,
            text: "float sticks".into(),
            by: by(),
        },
        Request::OutOfService {
            tank: tank(),
            code: code(),
            by: by(),
            reason: None,
        },
        Request::Return {
            tank: tank(),
            code: code(),
            by: by(),
        },
        Request::Work {
            tag: "LT-101".into(),
            permit: "17".into(),
            time_s: 3600.0,
            hand: None,
            by: by(),
        },
        Request::TestAlarm {
            tank: tank(),
            code: code(),
            level_m: Some(5.6),
            value_si: None,
            at: None,
            time_s: 120.0,
            by: by(),
        },
        Request::EndWork {
            tag: "LT-101".into(),
            anyway: false,
            by: by(),
        },
    ]
}

/// One person of each role, each tied to a number that no user of this machine has a name for.
const NOBODY_ELSE: u32 = 4_100_000_000;

fn people() -> Vec<PersonSettings> {
    let people = [
        ("Dan", Role::Look),
        ("Ada", Role::Operate),
        ("Ben", Role::Maintain),
    ];
    let person = |(place, (name, role)): (u32, (&str, Role))| PersonSettings {
        name: name.to_owned(),
        role,
        users: vec![SystemUser::Id(NOBODY_ELSE + place)],
        password_hash: None,
    };
    (0..).zip(people).map(person).collect()
}

/// An entrance whose engine answers everything with the name that it stands under.
fn entrance(people: Vec<PersonSettings>, owner: u32) -> (Entrance, mpsc::Receiver<Petition>) {
    let (petitions, received) = mpsc::channel(8);
    let roster = Roster::new(people, owner);
    let status = Arc::new(|| serde_json::Value::Null);
    (Entrance::new(petitions, roster, status), received)
}

async fn ask(entrance: &Entrance, user: u32, request: Request) -> Answer {
    let answer = entrance.ask(Way::Local { user }, request).await;
    answer.expect("it is not stopping")
}

fn ack(by: &str) -> Request {
    Request::Ack {
        tank: "clearwell".into(),
        code: "LAH".into(),
        by: by.into(),
        activation: None,
    }
}

#[test]
fn every_request_is_among_the_examples() {
    let schema = schemars::schema_for!(Request).to_value();
    let variants = schema["oneOf"].as_array().expect("an enum");
    let names = variants
        .iter()
        .filter_map(|variant| variant["properties"]["command"]["const"].as_str());
    let names: BTreeSet<String> = names.map(str::to_owned).collect();
    let examples: BTreeSet<String> = requests().iter().map(Request::name).collect();
    assert_eq!(names, examples);
    for mut request in requests() {
        assert!(
            request.by_mut().is_some() || request == Request::Status,
            "{} takes no name",
            request.name()
        );
    }
}

#[test]
fn the_readme_tells_the_roles() {
    let readme = include_str!("../../README.md");
    for role in Role::ALL {
        let requests = requests();
        let taking = requests.iter().filter(|it| role::takes(it).0 == role);
        let names: Vec<String> = taking.map(|it| format!("`{}`", it.name())).collect();
        let row = format!("| {} | {} |", role.name(), names.join(", "));
        assert!(readme.contains(&row), "not in the README: {row}");
    }
}

#[tokio::test]
async fn each_request_takes_its_role_and_whatever_is_forbidden_is_told() {
    for request in requests() {
        let (needs, what) = role::takes(&request);
        for (place, person) in people().into_iter().enumerate() {
            let (entrance, mut received) = entrance(people(), 1);
            let engine = tokio::spawn(async move {
                let mut forbidden = None;
                while let Some(petition) = received.recv().await {
                    match petition {
                        Petition::Command(_, answer) => {
                            answer.send(Ok(Done("done".into()))).expect("it waits");
                        }
                        Petition::Forbidden { person, text } => forbidden = Some((person, text)),
                        Petition::Session { .. } => unreachable!("nobody signs in here"),
                    }
                }
                forbidden
            });
            let user = NOBODY_ELSE + place as u32;
            let answer = ask(&entrance, user, request.clone()).await;
            drop(entrance);
            let forbidden = engine.await.expect("it ends");
            let case = format!("{} as {}", request.name(), person.name);
            if person.role >= needs {
                assert!(!matches!(answer, Answer::Refused(_)), "{case}: {answer:?}");
                assert_eq!(forbidden, None, "{case}");
            } else {
                let Answer::Refused(text) = answer else {
                    panic!("{case}: {answer:?}");
                };
                assert!(text.starts_with(what), "{case}: {text}");
                let (who, told) = forbidden.unwrap_or_else(|| panic!("{case} is not told"));
                assert_eq!(who.as_deref(), Some(person.name.as_str()));
                assert!(
                    told.starts_with(&format!("\"{}\" by", request.name())),
                    "{told}"
                );
            }
        }
    }
}

#[tokio::test]
async fn a_name_that_is_left_out_is_that_of_the_caller() {
    let (entrance, mut received) = entrance(people(), 1);
    let engine = tokio::spawn(async move {
        let Some(Petition::Command(Command::Acknowledge { by, .. }, answer)) =
            received.recv().await
        else {
            panic!("an acknowledgement is due")
        };
        answer.send(Ok(Done(by.to_string()))).expect("it waits");
    });
    let answer = ask(&entrance, NOBODY_ELSE + 1, ack("")).await;
    assert_eq!(answer, Answer::Done("Ada".into()));
    engine.await.expect("it ends");
}

#[tokio::test]
async fn nobody_gives_a_command_under_anothers_name() {
    let (entrance, mut received) = entrance(people(), 1);
    for (user, by, words) in [
        (NOBODY_ELSE, "Ada", "Ada is not 4100000000"),
        (NOBODY_ELSE + 1, "Eve", "names no person \"Eve\""),
        (
            NOBODY_ELSE + 7,
            "",
            "4100000007 is no person of the site file",
        ),
        // Not even whoever runs the daemon, or root.
        (1, "Ada", "Ada is not"),
        (0, "Ada", "Ada is not root"),
    ] {
        match ask(&entrance, user, ack(by)).await {
            Answer::Refused(text) => assert!(text.contains(words), "{text}"),
            other => panic!("{by}: {other:?}"),
        }
        let told = received.try_recv().expect("it is told");
        assert!(
            matches!(told, Petition::Forbidden { person: None, .. }),
            "{told:?}"
        );
    }
    // Who runs the daemon can read its files, and may look without being anybody.
    assert_eq!(
        ask(&entrance, 1, Request::Status).await,
        Answer::Status(serde_json::Value::Null)
    );
    assert!(received.try_recv().is_err());
}

#[tokio::test]
async fn without_people_the_daemons_own_user_gives_a_name() {
    let (entrance, mut received) = entrance(Vec::new(), NOBODY_ELSE);
    for name in ["", "  ", "a\nb"] {
        let answer = ask(&entrance, NOBODY_ELSE, ack(name)).await;
        assert!(matches!(answer, Answer::Refused(_)), "{answer:?}");
    }
    assert!(received.try_recv().is_err(), "a slip is no attempt");
    let refused = ask(&entrance, NOBODY_ELSE + 1, ack("Ada")).await;
    assert!(matches!(refused, Answer::Refused(_)), "{refused:?}");
    assert!(matches!(
        received.try_recv(),
        Ok(Petition::Forbidden { .. })
    ));
    let engine = tokio::spawn(async move {
        match received.recv().await {
            Some(Petition::Command(Command::Acknowledge { by, .. }, answer)) => {
                answer.send(Ok(Done(by.to_string()))).expect("it waits");
            }
            other => panic!("{other:?}"),
        }
    });
    let answer = ask(&entrance, NOBODY_ELSE, ack("Ada")).await;
    assert_eq!(answer, Answer::Done("Ada (as 4100000000)".into()));
    engine.await.expect("it ends");
}

#[tokio::test]
async fn a_stopped_engine_is_said() {
    let (entrance, received) = entrance(Vec::new(), NOBODY_ELSE);
    drop(received);
    let way = Way::Local { user: NOBODY_ELSE };
    assert_eq!(entrance.ask(way, ack("Ada")).await, Err(Closed));
}

/// A line of the log is one event, and shows what it is.
#[tokio::test]
async fn texts_come_in_as_one_line_that_can_be_shown() {
    let (entrance, mut received) = entrance(people(), 1);
    let note = |text: &str| Request::Note {
        tank: None,
        text: text.to_owned(),
        by: "Ada".into(),
    };
    for (text, said) in [("a\u{1b}[2J", "U+001B"), ("\u{202e}a", "U+202E")] {
        let answer = ask(&entrance, NOBODY_ELSE + 1, note(text)).await;
        assert!(
            matches!(&answer, Answer::Refused(why) if why.contains(said)),
            "{answer:?}"
        );
    }
    let asking = ask(&entrance, NOBODY_ELSE + 1, note("seen\nfrom the stair"));
    let taken = async {
        match received.recv().await {
            Some(Petition::Command(Command::Note { text, .. }, answer)) => {
                assert_eq!(&*text, "seen from the stair");
                drop(answer.send(Ok(Done("noted".into()))));
            }
            other => panic!("{other:?}"),
        }
    };
    let (answer, ()) = tokio::join!(asking, taken);
    assert!(matches!(answer, Answer::Done(_)), "{answer:?}");
}
