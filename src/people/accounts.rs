//! Accounts at the page: signing in and out, who is signed in, and the token of their forms.
//!
//! What always holds: a session is known by a random number that only its cookie has (its hash is kept); it ends by
//! itself; each beginning, end and refused attempt is recorded with the name. Sessions end with the program.

use super::attempts::Attempts;
use super::entrance::{Closed, Entrance};
use super::password;
use crate::site::settings::Role;
use ring::digest::{SHA256, digest};
use ring::hmac;
use ring::rand::{SecureRandom, SystemRandom};
use std::collections::BTreeMap;
use std::fmt;
use std::fmt::Write;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::sync::Semaphore;

/// So many are signed in at once; whoever came first has to sign in again.
const MOST: usize = 256;
/// Hashed where there is no such person, so that a name cannot be told from a wrong one by the time it takes.
const NOBODY: &str = "$argon2id$v=19$m=19456,t=2,p=1$c3RhbmRwaXBlIG5vYm9keQ$XhJkHYRBVJNMe5Sg0jjEvDYTGFyfd/QbYSZZGjXoVPE";

/// Who looks at a page.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Visitor {
    pub signed_in: Option<SignedIn>,
    /// Goes into every form; empty where no form can be sent.
    pub token: String,
    /// Whether anybody can sign in.
    pub accounts: bool,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SignedIn {
    pub name: Arc<str>,
    pub role: Role,
}

impl Visitor {
    pub fn may(&self, role: Role) -> bool {
        self.signed_in
            .as_ref()
            .is_some_and(|person| person.role >= role)
    }
}

/// Why somebody is not signed in.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SignInError {
    #[error("Name and password do not fit. Nothing is locked: try again.")]
    Wrong,
    #[error("Too many wrong passwords: wait {} s, then try again.", .0.as_secs().max(1))]
    Wait(Duration),
    #[error(transparent)]
    Closed(#[from] Closed),
}

#[derive(Debug)]
struct Session {
    name: Arc<str>,
    began: Duration,
}

/// Cheap to clone.
#[derive(Clone)]
pub struct Accounts {
    entrance: Entrance,
    lasting: Duration,
    up: fn() -> Duration,
    key: Arc<hmac::Key>,
    sessions: Arc<Mutex<BTreeMap<[u8; 32], Session>>>,
    attempts: Arc<Mutex<Attempts>>,
    /// One password is hashed at a time: it takes 19 MiB.
    hashing: Arc<Semaphore>,
}

impl fmt::Debug for Accounts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Accounts").finish_non_exhaustive()
    }
}

impl Accounts {
    pub fn new(entrance: Entrance, lasting: Duration, up: fn() -> Duration) -> Self {
        let random = SystemRandom::new();
        let key = hmac::Key::generate(hmac::HMAC_SHA256, &random);
        Self {
            entrance,
            lasting,
            up,
            key: Arc::new(key.expect("the operating system gives random numbers")),
            sessions: Arc::default(),
            attempts: Arc::default(),
            hashing: Arc::new(Semaphore::new(1)),
        }
    }

    pub fn entrance(&self) -> &Entrance {
        &self.entrance
    }

    /// Who has these cookies: the session's, or else that of a visit.
    pub fn visitor(&self, session: Option<&str>, visit: Option<&str>) -> Visitor {
        let signed_in = session.and_then(|id| self.signed_in(id));
        let id = if signed_in.is_some() { session } else { visit };
        Visitor {
            signed_in,
            token: id.map(|id| self.token(id)).unwrap_or_default(),
            accounts: self.entrance.roster().has_accounts(),
        }
    }

    fn signed_in(&self, id: &str) -> Option<SignedIn> {
        let sessions = lock(&self.sessions);
        let session = sessions.get(&hashed(id))?;
        if (self.up)() >= session.began + self.lasting {
            return None;
        }
        // Out of the roster is out of the session, too.
        let person = self.entrance.roster().named(&session.name)?;
        person.password_hash.as_ref()?;
        Some(SignedIn {
            name: Arc::clone(&session.name),
            role: person.role,
        })
    }

    /// What a form of that cookie's owner has to bring along; no other site can know it.
    fn token(&self, id: &str) -> String {
        hexadecimal(hmac::sign(&self.key, id.as_bytes()).as_ref())
    }

    /// Whether a form was made for whoever sends it.
    pub fn is_token(&self, id: &str, token: &str) -> bool {
        let bytes: Option<Vec<u8>> = (0..token.len())
            .step_by(2)
            .map(|place| u8::from_str_radix(token.get(place..place + 2)?, 16).ok())
            .collect();
        bytes.is_some_and(|bytes| hmac::verify(&self.key, id.as_bytes(), &bytes).is_ok())
    }

    /// A new cookie's value.
    pub fn new_id() -> String {
        let mut bytes = [0; 32];
        let filled = SystemRandom::new().fill(&mut bytes);
        filled.expect("the operating system gives random numbers");
        hexadecimal(&bytes)
    }

    /// Begins a session; the answer is its cookie's value.
    pub async fn sign_in(
        &self,
        name: &str,
        password: String,
        from: IpAddr,
    ) -> Result<String, SignInError> {
        let wait = lock(&self.attempts).wait(from, name, (self.up)());
        if let Some(wait) = wait {
            return Err(SignInError::Wait(wait));
        }
        let person = self.entrance.roster().named(name);
        let known = person.and_then(|person| person.password_hash.clone());
        let is_known = known.is_some();
        let hash = known.unwrap_or_else(|| NOBODY.to_owned());
        let fits = {
            let _permit = self.hashing.acquire().await;
            let hashed = tokio::task::spawn_blocking(move || password::fits(&hash, &password));
            hashed.await.unwrap_or(false)
        };
        if !(fits && is_known) {
            lock(&self.attempts).wrong(from, name, (self.up)());
            let name: String = name.chars().filter(|c| !c.is_control()).take(80).collect();
            let text = format!("sign-in as \"{name}\" from {from}: name and password do not fit");
            self.entrance.record_refusal(None, text).await?;
            return Err(SignInError::Wrong);
        }
        lock(&self.attempts).right(from, name);
        let (id, name): (String, Arc<str>) = (Self::new_id(), name.into());
        self.begin(&id, Arc::clone(&name));
        let text = format!("signed in at the page, from {from}");
        self.entrance.record_session(name, text).await?;
        Ok(id)
    }

    fn begin(&self, id: &str, name: Arc<str>) {
        let (mut sessions, up) = (lock(&self.sessions), (self.up)());
        sessions.retain(|_, session| up < session.began + self.lasting);
        if sessions.len() >= MOST {
            let oldest = sessions.iter().min_by_key(|(_, session)| session.began);
            if let Some(oldest) = oldest.map(|(id, _)| *id) {
                sessions.remove(&oldest);
            }
        }
        sessions.insert(hashed(id), Session { name, began: up });
    }

    pub async fn sign_out(&self, id: &str) -> Result<(), Closed> {
        let ended = lock(&self.sessions).remove(&hashed(id));
        match ended {
            Some(session) => {
                let text = "signed out at the page".to_owned();
                self.entrance.record_session(session.name, text).await
            }
            None => Ok(()),
        }
    }
}

fn lock<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    // Nothing under these locks can panic half way.
    of.lock().unwrap_or_else(PoisonError::into_inner)
}

fn hashed(id: &str) -> [u8; 32] {
    let mut hash = [0; 32];
    hash.copy_from_slice(digest(&SHA256, id.as_bytes()).as_ref());
    hash
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string never fails.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
#[path = "accounts_tests.rs"]
mod tests;
