//! The roster: who a caller is, and whether they may ask that.
//!
//! What always holds: with any `[[person]]` in the site file a command stands under the name of a person whom
//! the caller is tied to and whose role it takes. Without one, it stands under the name that was given and the
//! user of the operating system who gave it, and that is the user that the daemon runs as, or root.

use crate::site::settings::{PersonSettings, Role, SystemUser};
use std::fmt;
use std::sync::Arc;

/// The longest name that a person can have, in characters; longer is a slip.
const LONGEST_NAME: usize = 80;

/// A user of the operating system, as the kernel knows them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Caller {
    pub id: u32,
    /// None where the system has no name for the number.
    pub name: Option<String>,
}

impl fmt::Display for Caller {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.name {
            Some(name) => f.write_str(name),
            None => write!(f, "{}", self.id),
        }
    }
}

/// Why somebody is not let through.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Forbidden {
    NoName,
    BadName(&'static str),
    NotTheOwner {
        caller: Caller,
    },
    /// The caller is nobody whom the site file names.
    Nobody {
        caller: Caller,
    },
    /// The caller is more than one person and has not said which.
    SeveralPeople {
        caller: Caller,
        names: Vec<String>,
    },
    NotOnTheRoster {
        named: String,
    },
    NotTheirs {
        caller: Caller,
        named: String,
    },
    Role {
        person: Arc<str>,
        has: Role,
        needs: Role,
        what: &'static str,
    },
}

impl Forbidden {
    /// Whether it is an attempt worth recording; the rest are slips of the pen.
    pub fn is_attempt(&self) -> bool {
        !matches!(
            self,
            Forbidden::NoName | Forbidden::BadName(_) | Forbidden::SeveralPeople { .. }
        )
    }

    /// The person who is known to have tried it.
    pub fn person(&self) -> Option<&Arc<str>> {
        match self {
            Forbidden::Role { person, .. } => Some(person),
            _ => None,
        }
    }
}

impl fmt::Display for Forbidden {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Forbidden::NoName => {
                f.write_str("a command needs the name of the person who gives it: --by NAME")
            }
            Forbidden::BadName(trouble) => f.write_str(trouble),
            Forbidden::NotTheOwner { caller } => write!(
                f,
                "the site file names no [[person]], so only the user that the daemon runs as can ask; this is {caller}"
            ),
            Forbidden::Nobody { caller } => write!(
                f,
                "{caller} is no person of the site file: a [[person]] with user = \"{caller}\" would be one"
            ),
            Forbidden::SeveralPeople { caller, names } => write!(
                f,
                "{caller} is more than one person: say which with --by ({})",
                names.join(", ")
            ),
            Forbidden::NotOnTheRoster { named } => {
                write!(f, "the site file names no person \"{named}\"")
            }
            Forbidden::NotTheirs { caller, named } => write!(
                f,
                "{named} is not {caller}: call as a user that the site file has for {named}, or under a name of your own"
            ),
            Forbidden::Role {
                person,
                has,
                needs,
                what,
            } => write!(
                f,
                "{what} takes the role \"{}\"; {person} has \"{}\"",
                needs.name(),
                has.name()
            ),
        }
    }
}

/// Who may ask what.
#[derive(Clone, Debug)]
pub struct Roster {
    people: Vec<PersonSettings>,
    /// The user that the daemon runs as.
    owner: u32,
}

impl Roster {
    pub fn new(people: Vec<PersonSettings>, owner: u32) -> Self {
        Self { people, owner }
    }

    /// Whether other users than the daemon's own have to reach the local socket.
    pub fn calls_from_outside(&self) -> bool {
        self.people.iter().any(|person| !person.users.is_empty())
    }

    /// Whoever owns the daemon can read its files, and root can read everything.
    fn owns(&self, caller: &Caller) -> bool {
        caller.id == self.owner || caller.id == 0
    }

    /// The name that a command stands under; `named` is what the caller says, empty if nothing.
    pub fn admit(
        &self,
        caller: &Caller,
        named: &str,
        (needs, what): (Role, &'static str),
    ) -> Result<Arc<str>, Forbidden> {
        if let Some(trouble) = name_trouble(named) {
            return Err(Forbidden::BadName(trouble));
        }
        if needs == Role::Look && self.owns(caller) {
            return Ok(named.into());
        }
        if self.people.is_empty() {
            return match (self.owns(caller), named) {
                (false, _) => Err(Forbidden::NotTheOwner {
                    caller: caller.clone(),
                }),
                (true, "") => Err(Forbidden::NoName),
                (true, named) => Ok(format!("{named} (as {caller})").into()),
            };
        }
        let person = self.person(caller, named)?;
        let name: Arc<str> = person.name.as_str().into();
        if person.role < needs {
            return Err(Forbidden::Role {
                person: name,
                has: person.role,
                needs,
                what,
            });
        }
        Ok(name)
    }

    /// The name that a command of somebody who has signed in stands under.
    pub fn admit_signed_in(
        &self,
        named: &str,
        (needs, what): (Role, &'static str),
    ) -> Result<Arc<str>, Forbidden> {
        let person = self.named(named).ok_or_else(|| Forbidden::NotOnTheRoster {
            named: named.to_owned(),
        })?;
        let name: Arc<str> = person.name.as_str().into();
        if person.role < needs {
            return Err(Forbidden::Role {
                person: name,
                has: person.role,
                needs,
                what,
            });
        }
        Ok(name)
    }

    /// The person of that name.
    pub fn named(&self, name: &str) -> Option<&PersonSettings> {
        self.people.iter().find(|person| person.name == name)
    }

    /// Whether anybody can sign in at the page.
    pub fn has_accounts(&self) -> bool {
        let mut people = self.people.iter();
        people.any(|person| person.password_hash.is_some())
    }

    fn person(&self, caller: &Caller, named: &str) -> Result<&PersonSettings, Forbidden> {
        let mut theirs = self.people.iter().filter(|person| is(person, caller));
        if !named.is_empty() {
            let Some(person) = self.named(named) else {
                return Err(Forbidden::NotOnTheRoster {
                    named: named.to_owned(),
                });
            };
            return if is(person, caller) {
                Ok(person)
            } else {
                Err(Forbidden::NotTheirs {
                    caller: caller.clone(),
                    named: named.to_owned(),
                })
            };
        }
        match (theirs.next(), theirs.next()) {
            (Some(person), None) => Ok(person),
            (None, _) => Err(Forbidden::Nobody {
                caller: caller.clone(),
            }),
            (Some(_), Some(_)) => {
                let names = self.people.iter().filter(|person| is(person, caller));
                Err(Forbidden::SeveralPeople {
                    caller: caller.clone(),
                    names: names.map(|person| person.name.clone()).collect(),
                })
            }
        }
    }
}

fn is(person: &PersonSettings, caller: &Caller) -> bool {
    person.users.iter().any(|user| match user {
        SystemUser::Id(id) => *id == caller.id,
        SystemUser::Name(name) => caller.name.as_ref() == Some(name),
    })
}

/// Empty is no trouble here: then the caller is asked for.
fn name_trouble(name: &str) -> Option<&'static str> {
    if name.is_empty() {
        None
    } else if name.trim().is_empty() {
        Some("a command needs the name of the person who gives it, not blanks")
    } else if name.chars().count() > LONGEST_NAME {
        Some("that name is too long: at most 80 characters")
    } else if name.chars().any(char::is_control) {
        Some("that name holds a control character")
    } else {
        None
    }
}

#[cfg(test)]
#[path = "roster_tests.rs"]
mod tests;
