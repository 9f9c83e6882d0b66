//! What was entered once is not entered twice: each form that adds something has a number of its own, which is taken
//! with the first answer that does it. A reload, a second press or the way back find it taken.

use std::collections::VecDeque;
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

/// The newest numbers are remembered; a form is not older than that many entries.
const REMEMBERED: usize = 1024;

/// Cheap to clone.
#[derive(Clone, Default)]
pub struct Once(Arc<Mutex<VecDeque<String>>>);

impl fmt::Debug for Once {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Once").finish_non_exhaustive()
    }
}

impl Once {
    /// Takes a form's number; false where it is taken already. A form without one can be sent again.
    pub fn take(&self, number: &str) -> bool {
        if number.is_empty() {
            return true;
        }
        let mut taken = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if taken.iter().any(|one| one == number) {
            return false;
        }
        if taken.len() >= REMEMBERED {
            taken.pop_front();
        }
        taken.push_back(number.to_owned());
        true
    }

    /// Nothing was entered: the form may be sent again.
    pub fn give_back(&self, number: &str) {
        let mut taken = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        taken.retain(|one| one != number);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_taken_once_until_it_is_given_back() {
        let once = Once::default();
        assert!(once.take("a") && !once.take("a"));
        once.give_back("a");
        assert!(once.take("a"));
        assert!(once.take("") && once.take(""));
        for number in 0..REMEMBERED {
            assert!(once.take(&number.to_string()));
        }
        assert!(once.take("a"), "the oldest are forgotten");
    }
}
