//! `[[person]]`: who may give commands, and what ties them to whoever calls.

use super::names;
use crate::site::file::Table;
use crate::site::problem::Problem;
use crate::site::settings::{PersonSettings, Role, SystemUser};
use argon2::PasswordHash;
use lettre::message::Mailbox;

/// The longest name that a person can have, in characters; longer is a slip.
const LONGEST_NAME: usize = 80;

pub fn read(root: &Table<'_>) -> Vec<PersonSettings> {
    let tables = root.tables("person");
    let named = tables
        .iter()
        .filter_map(|table| Some((table.text("name")?, table.place_of("name"))));
    names::distinct(root.document(), "person", named);
    tables.iter().filter_map(person).collect()
}

fn person(table: &Table<'_>) -> Option<PersonSettings> {
    let name = table.text("name")?;
    if name.trim() != name
        || name.chars().any(char::is_control)
        || name.chars().count() > LONGEST_NAME
    {
        let problem = table.problem_at("name", format!("\"{name}\" is no name to sign with"));
        table.report(problem.cure(format!(
            "at most {LONGEST_NAME} characters, no blanks around it: name = \"Ada\""
        )));
    }
    if table.text("mail").is_some() && mailbox(table).is_none() {
        let problem = table.problem_at("mail", "this is no e-mail address");
        table.report(problem.cure(format!("for example {}", table.example("mail"))));
    }
    let word = table.choice("role")?;
    let role = Role::ALL.into_iter().find(|role| role.name() == word)?;
    let users = table
        .one_or_more_texts("user")
        .into_iter()
        .filter_map(|(text, place)| {
            user(text).or_else(|| {
                let problem = Problem::new(
                    place,
                    format!("\"{text}\" is no user of an operating system"),
                );
                table.report(problem.cure("its name or its number, as `id` shows them: user = \"ada\", or [\"ada\", \"1001\"]"));
                None
            })
        })
        .collect();
    Some(PersonSettings {
        name: name.to_owned(),
        role,
        users,
        password_hash: password_hash(table),
    })
}

/// Where they are reached, under their own name.
pub fn mailbox(table: &Table<'_>) -> Option<Mailbox> {
    let address = table.text("mail")?.parse().ok()?;
    Some(Mailbox::new(table.text("name").map(str::to_owned), address))
}

/// Only what `standpipe password` makes: argon2id, whole.
fn password_hash(table: &Table<'_>) -> Option<String> {
    let text = table.text("password_hash")?;
    let is_whole = PasswordHash::new(text).is_ok_and(|hash| {
        hash.algorithm == argon2::ARGON2ID_IDENT && hash.salt.is_some() && hash.hash.is_some()
    });
    if !is_whole {
        let message = "this is no hash of a password";
        table.report(table.problem_at("password_hash", message).cure(
            "run `standpipe password`, and copy the line that it prints, with all of its $ signs",
        ));
    }
    Some(text.to_owned())
}

fn user(text: &str) -> Option<SystemUser> {
    if !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit()) {
        return text.parse().ok().map(SystemUser::Id);
    }
    let is_name = !text.is_empty()
        && !text
            .chars()
            .any(|c| c.is_whitespace() || c.is_control() || c == ':' || c == '/');
    is_name.then(|| SystemUser::Name(text.to_owned()))
}
