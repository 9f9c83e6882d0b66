//! What goes out, word by word: a change here is a change of the public interface.

#[path = "../peers/snapshots.rs"]
mod snapshots;

mod metrics;
mod page;
mod wire;
