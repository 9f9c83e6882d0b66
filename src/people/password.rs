//! Passwords: argon2id (RFC 9106) in the PHC string format, with the crate's defaults (19 MiB, two passes).

use argon2::Argon2;
use argon2::password_hash::{PasswordHash, PasswordHasher, PasswordVerifier, SaltString};
use ring::rand::{SecureRandom, SystemRandom};

/// The shortest password that is taken, in characters (NIST SP 800-63B, 5.1.1.2, from memory).
pub const SHORTEST: usize = 8;
/// Longer is no password, but work for whoever has to hash it.
pub const LONGEST: usize = 256;

/// Why a password gets no hash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PasswordError {
    #[error("a password has at least {SHORTEST} characters: several words are easily kept in mind")]
    TooShort,
    #[error("a password has at most {LONGEST} characters")]
    TooLong,
    #[error("the operating system gives no random numbers")]
    NoRandom,
}

/// The line for `password_hash`; another one each time.
pub fn hash(password: &str) -> Result<String, PasswordError> {
    match password.chars().count() {
        0..SHORTEST => return Err(PasswordError::TooShort),
        SHORTEST..=LONGEST => {}
        _ => return Err(PasswordError::TooLong),
    }
    let mut salt = [0; 16];
    let filled = SystemRandom::new().fill(&mut salt);
    filled.map_err(|_| PasswordError::NoRandom)?;
    let salt = SaltString::encode_b64(&salt).expect("16 bytes are a salt");
    let hash = Argon2::default().hash_password(password.as_bytes(), &salt);
    Ok(hash.expect("the defaults are in range").to_string())
}

/// Whether it is that password's; takes a noticeable time, whatever the answer.
pub fn fits(hash: &str, password: &str) -> bool {
    if password.chars().count() > LONGEST {
        return false;
    }
    let checked = PasswordHash::new(hash)
        .and_then(|hash| Argon2::default().verify_password(password.as_bytes(), &hash));
    checked.is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hash_fits_its_password_only() {
        let made = hash("seven mild rivers").expect("a hash");
        assert!(
            made.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"),
            "{made}"
        );
        assert!(fits(&made, "seven mild rivers"));
        assert!(!fits(&made, "seven mild river"));
        assert!(!fits(&made, ""));
        assert!(!fits("no hash", ""));
        assert_ne!(hash("seven mild rivers").expect("a hash"), made);
    }

    #[test]
    fn what_is_too_short_or_too_long_gets_none() {
        assert_eq!(hash("1234567"), Err(PasswordError::TooShort));
        assert_eq!(hash(&"x".repeat(257)), Err(PasswordError::TooLong));
    }

    /// RFC 9106, 5.3 has its vector with a secret and associated data, which the PHC format does not carry; this
    /// one is the reference implementation's own (phc-winner-argon2, test.c: version 0x13, argon2id, t = 2,
    /// m = 2^16, p = 1, "password", "somesalt"), from memory.
    #[test]
    fn the_reference_implementation_made_this_hash() {
        let reference = "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc";
        assert!(fits(reference, "password"));
        assert!(!fits(reference, "passwore"));
    }
}
