//! Tests of the accounts: who gets in, for how long, and what is recorded of it.

use super::*;
use crate::people::entrance::Petition;
use crate::people::roster::Roster;
use crate::site::settings::PersonSettings;
use std::cell::Cell;
use tokio::sync::mpsc;

const HERE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::LOCALHOST);
thread_local!(static SECONDS: Cell<u64> = const { Cell::new(0) });

fn up() -> Duration {
    Duration::from_secs(SECONDS.get())
}

fn person(name: &str, password: Option<&str>) -> PersonSettings {
    PersonSettings {
        name: name.to_owned(),
        role: Role::Operate,
        users: Vec::new(),
        password_hash: password.map(|password| password::hash(password).expect("a hash")),
    }
}

fn accounts(people: Vec<PersonSettings>) -> (Accounts, mpsc::Receiver<Petition>) {
    let (sender, recorded) = mpsc::channel(64);
    let entrance = Entrance::new(sender, Roster::new(people, 1), Arc::new(Default::default));
    (
        Accounts::new(entrance, Duration::from_secs(100), up),
        recorded,
    )
}

#[tokio::test]
async fn a_session_begins_with_the_password_and_ends_by_itself() {
    let people = vec![
        person("Ada", Some("seven mild rivers")),
        person("Ben", None),
    ];
    let (accounts, mut recorded) = accounts(people);
    let wrong = [
        ("Ada", "seven mild river"),
        ("Ben", ""),
        ("Eve", "seven mild rivers"),
    ];
    for (name, password) in wrong {
        let answer = accounts.sign_in(name, password.to_owned(), HERE).await;
        assert_eq!(answer, Err(SignInError::Wrong), "{name}");
        let record = recorded.recv().await;
        assert!(
            matches!(&record, Some(Petition::Forbidden { person: None, text }) if text.contains(name)),
            "{record:?}"
        );
    }
    let id = accounts
        .sign_in("Ada", "seven mild rivers".to_owned(), HERE)
        .await
        .expect("she knows it");
    let record = recorded.recv().await;
    assert!(
        matches!(&record, Some(Petition::Session { person, .. }) if &**person == "Ada"),
        "{record:?}"
    );
    let visitor = accounts.visitor(Some(&id), None);
    assert!(visitor.may(Role::Operate) && !visitor.may(Role::Maintain));
    assert!(accounts.is_token(&id, &visitor.token));
    assert!(!accounts.is_token(&id, ""));
    assert!(!accounts.is_token("another", &visitor.token));
    assert!(!accounts.visitor(Some("guess"), None).may(Role::Look));
    SECONDS.set(100);
    assert_eq!(accounts.visitor(Some(&id), None).signed_in, None);
}

#[tokio::test]
async fn whoever_signs_out_is_out() {
    let (accounts, mut recorded) = accounts(vec![person("Ada", Some("seven mild rivers"))]);
    accounts.begin("cookie", "Ada".into());
    assert!(accounts.visitor(Some("cookie"), None).signed_in.is_some());
    accounts.sign_out("cookie").await.expect("open");
    assert_eq!(accounts.visitor(Some("cookie"), None).signed_in, None);
    let record = recorded.recv().await;
    assert!(
        matches!(record, Some(Petition::Session { .. })),
        "{record:?}"
    );
}

#[tokio::test]
async fn who_guesses_waits() {
    let (accounts, _recorded) = accounts(vec![person("Ada", Some("seven mild rivers"))]);
    for _ in 0..5 {
        let answer = accounts.sign_in("Ada", "guess".to_owned(), HERE).await;
        assert_eq!(answer, Err(SignInError::Wrong));
    }
    let right = accounts.sign_in("Ada", "seven mild rivers".to_owned(), HERE);
    assert!(matches!(right.await, Err(SignInError::Wait(_))));
}

#[test]
fn the_hash_of_nobody_is_a_whole_one() {
    let hash = argon2::PasswordHash::new(NOBODY).expect("it is written right");
    assert!(hash.hash.is_some_and(|hash| hash.len() == 32));
}
