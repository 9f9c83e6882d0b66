//! Tests of the roster: several users a person, several persons a user.

use super::*;

fn person(name: &str, users: &[SystemUser]) -> PersonSettings {
    PersonSettings {
        name: name.to_owned(),
        role: Role::Operate,
        users: users.to_vec(),
        password_hash: None,
    }
}

fn caller(id: u32, name: &str) -> Caller {
    Caller {
        id,
        name: Some(name.to_owned()),
    }
}

const OPERATE: (Role, &str) = (Role::Operate, "to acknowledge an alarm");

#[test]
fn a_user_who_is_several_people_says_which() {
    let shared = [SystemUser::Name("ops".into())];
    let roster = Roster::new(
        vec![
            person("Ada", &shared),
            person("Ben", &shared),
            person("Cleo", &[]),
        ],
        1,
    );
    let ops = caller(1001, "ops");
    let forbidden = roster.admit(&ops, "", OPERATE).expect_err("which?");
    assert_eq!(
        forbidden.to_string(),
        "ops is more than one person: say which with --by (Ada, Ben)"
    );
    assert!(!forbidden.is_attempt());
    assert_eq!(roster.admit(&ops, "Ben", OPERATE).as_deref(), Ok("Ben"));
    // Nobody is Cleo here: she has no user.
    assert!(roster.admit(&ops, "Cleo", OPERATE).is_err());
}

#[test]
fn a_number_counts_whatever_name_the_system_has_for_it() {
    let users = [SystemUser::Id(1001), SystemUser::Name("ada".into())];
    let roster = Roster::new(vec![person("Ada", &users)], 1);
    for (id, name, is_ada) in [(1001, "other", true), (7, "ada", true), (7, "eve", false)] {
        let admitted = roster.admit(&caller(id, name), "", OPERATE);
        assert_eq!(admitted.is_ok(), is_ada, "{id} {name}");
    }
    assert!(roster.calls_from_outside());
    assert!(!Roster::new(vec![person("Ada", &[])], 1).calls_from_outside());
}
