//! Golden texts: what people are told and what goes out, word by word, compared with what was read and
//! found good. A change of what goes out is a change of the public interface.
//!
//! `STANDPIPE_GOLDEN=write cargo test --test golden` writes them anew; read the difference before keeping it.

mod metrics;
mod page;
mod pictures;
mod rehearsal;
mod report;
mod sites;
#[path = "../peers/snapshots.rs"]
mod snapshots;
mod wire;

use std::path::Path;

/// Compares with the golden text, or writes it.
fn compare(path: &Path, text: &str) {
    if std::env::var("STANDPIPE_GOLDEN").is_ok_and(|mode| mode == "write") {
        std::fs::write(path, text).expect("the golden file can be written");
        return;
    }
    let golden = std::fs::read_to_string(path).unwrap_or_default();
    assert!(
        golden == text,
        "{} differs; it is now:\n{text}",
        path.display()
    );
}
