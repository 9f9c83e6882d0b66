//! How expectations came out, all in all.

use super::Judged;
use std::fmt;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Nothing was expected: it proves nothing.
    Untested,
    Passed {
        all: usize,
    },
    Failed {
        unmet: usize,
        all: usize,
    },
}

impl Outcome {
    pub fn of<'j>(judged: impl Iterator<Item = &'j Judged>) -> Self {
        let (all, unmet) = judged.fold((0, 0), |(all, unmet), one| {
            (all + 1, unmet + usize::from(!one.met))
        });
        match (all, unmet) {
            (0, _) => Outcome::Untested,
            (all, 0) => Outcome::Passed { all },
            (all, unmet) => Outcome::Failed { unmet, all },
        }
    }

    pub fn is_failed(self) -> bool {
        matches!(self, Outcome::Failed { .. })
    }
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Outcome::Untested => f.write_str("NOT TESTED: nothing is expected"),
            Outcome::Passed { all } => write!(f, "PASSED: {all} of {all} expectations met"),
            Outcome::Failed { unmet, all } => {
                write!(f, "FAILED: {unmet} of {all} expectations not met")
            }
        }
    }
}
