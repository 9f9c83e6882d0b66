//! Waiting for what is to come, and not for ever.

use standpipe::daemon::clock::up;
use std::time::Duration;

/// How long anything may take: the longest wait of a back-off, the 10 s after which silence is bad, and
/// time for a busy machine.
const PATIENCE: Duration = Duration::from_secs(40);

/// Tries again and again until there is something, within the longest patience.
pub fn attempt<T>(mut found: impl FnMut() -> Option<T>) -> Option<T> {
    let begun = up();
    loop {
        if let Some(found) = found() {
            return Some(found);
        }
        if up() - begun > PATIENCE {
            return None;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
}

/// The same; what never comes fails the test.
pub fn until<T>(what: &str, found: impl FnMut() -> Option<T>) -> T {
    attempt(found).unwrap_or_else(|| panic!("in vain: {what}"))
}
