//! How often somebody may try to sign in: a guess costs time, and a mistyped password does not lock anybody out.
//!
//! Counted for each address, and for each name from an address: who shuts out another person has to sit at the same
//! machine. Limits are common practice, no source.

use std::collections::BTreeMap;
use std::net::IpAddr;
use std::time::Duration;

/// Wrong passwords within [`WINDOW`] before the next try has to wait for its end.
const OF_A_NAME: u32 = 5;
const OF_AN_ADDRESS: u32 = 20;
const WINDOW: Duration = Duration::from_secs(60);
/// So many names and addresses are remembered; beyond, the oldest are forgotten.
const MOST: usize = 1024;

/// Of a name at an address, or with none of all names there.
type Who = (IpAddr, Option<String>);

#[derive(Debug, Default)]
pub struct Attempts(BTreeMap<Who, Count>);

#[derive(Clone, Copy, Debug)]
struct Count {
    wrong: u32,
    began: Duration,
}

impl Attempts {
    /// How long the next try has to wait.
    pub fn wait(&self, address: IpAddr, name: &str, up: Duration) -> Option<Duration> {
        let of = |who: Who, most: u32| {
            let count = self.0.get(&who).filter(|count| count.wrong >= most)?;
            (count.began + WINDOW)
                .checked_sub(up)
                .filter(|wait| !wait.is_zero())
        };
        let (name, all) = (
            of((address, Some(name.to_owned())), OF_A_NAME),
            of((address, None), OF_AN_ADDRESS),
        );
        name.max(all)
    }

    pub fn wrong(&mut self, address: IpAddr, name: &str, up: Duration) {
        self.0.retain(|_, count| count.began + WINDOW > up);
        for who in [(address, Some(name.to_owned())), (address, None)] {
            if self.0.len() >= MOST && !self.0.contains_key(&who) {
                let oldest = self.0.iter().min_by_key(|(_, count)| count.began);
                if let Some(oldest) = oldest.map(|(who, _)| who.clone()) {
                    self.0.remove(&oldest);
                }
            }
            let fresh = Count {
                wrong: 0,
                began: up,
            };
            self.0.entry(who).or_insert(fresh).wrong += 1;
        }
    }

    /// Whoever knows the password begins anew.
    pub fn right(&mut self, address: IpAddr, name: &str) {
        self.0.remove(&(address, Some(name.to_owned())));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HERE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::LOCALHOST);
    const THERE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 7));

    #[test]
    fn the_sixth_try_of_a_minute_waits_for_its_end() {
        let mut attempts = Attempts::default();
        let at = Duration::from_secs;
        for second in 0..5 {
            assert_eq!(attempts.wait(HERE, "Ada", at(second)), None);
            attempts.wrong(HERE, "Ada", at(second));
        }
        assert_eq!(attempts.wait(HERE, "Ada", at(10)), Some(at(50)));
        // Nobody else has to wait, and neither does she elsewhere.
        assert_eq!(attempts.wait(HERE, "Ben", at(10)), None);
        assert_eq!(attempts.wait(THERE, "Ada", at(10)), None);
        assert_eq!(attempts.wait(HERE, "Ada", at(60)), None);
    }

    #[test]
    fn many_names_from_one_address_wait_too() {
        let mut attempts = Attempts::default();
        for guess in 0..20 {
            attempts.wrong(HERE, &format!("guess {guess}"), Duration::ZERO);
        }
        let at = Duration::from_secs(1);
        assert!(attempts.wait(HERE, "Ada", at).is_some());
        assert_eq!(attempts.wait(THERE, "Ada", at), None);
    }

    #[test]
    fn memory_stays_bounded() {
        let mut attempts = Attempts::default();
        for guess in 0..5000 {
            attempts.wrong(
                HERE,
                &format!("guess {guess}"),
                Duration::from_millis(guess),
            );
        }
        assert!(attempts.0.len() <= MOST);
    }

    #[test]
    fn the_right_password_begins_anew() {
        let mut attempts = Attempts::default();
        for _ in 0..4 {
            attempts.wrong(HERE, "Ada", Duration::ZERO);
        }
        attempts.right(HERE, "Ada");
        attempts.wrong(HERE, "Ada", Duration::ZERO);
        assert_eq!(attempts.wait(HERE, "Ada", Duration::ZERO), None);
    }
}
