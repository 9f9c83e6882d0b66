//! People, what they may do, and what ties them to whoever calls.

/// A person whom the site file names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PersonSettings {
    pub name: String,
    pub role: Role,
    /// Users of the operating system by whom the local socket knows them; none: they cannot use it.
    pub users: Vec<SystemUser>,
    /// Of the password that they sign in with at the page (argon2id, in the PHC string format); none: they cannot.
    pub password_hash: Option<String>,
}

/// What somebody may do; each includes the ones before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    Look,
    Operate,
    Maintain,
}

impl Role {
    pub const ALL: [Role; 3] = [Role::Look, Role::Operate, Role::Maintain];

    /// The word that the site file has for it.
    pub fn name(self) -> &'static str {
        match self {
            Role::Look => "look",
            Role::Operate => "operate",
            Role::Maintain => "maintain",
        }
    }
}

/// A user of the operating system, by name or by number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SystemUser {
    Name(String),
    Id(u32),
}
