//! How many files and sockets may be open, and what of that the page may take.

use nix::sys::resource::{Resource, getrlimit, setrlimit};

/// What the page has at most.
const MOST: u64 = 256;
/// What it has at least: whoever allows so few descriptors has fewer people.
const LEAST: u64 = 8;
/// Open files of one connection: itself, and the journal while it is read (its file, its log, its index).
const EACH: u64 = 4;
/// For the local socket's callers, the journal's writer, the broker, notices, and what the program itself needs.
const OTHERS: u64 = 64 + 48;

/// Takes as many descriptors as the system gives without asking; where it gives no more, what there is has to do.
pub fn raise() {
    let Ok((soft, hard)) = getrlimit(Resource::RLIMIT_NOFILE) else {
        return;
    };
    if soft < hard
        && let Err(error) = setrlimit(Resource::RLIMIT_NOFILE, hard, hard)
    {
        tracing::debug!("{soft} open files at most, it stays so: {error}");
    }
}

/// How many connections the page may have, so that every link keeps its own.
pub fn connections(links: usize) -> usize {
    let open = getrlimit(Resource::RLIMIT_NOFILE).map_or(1024, |(soft, _)| soft);
    usize::try_from(share(open, links as u64)).unwrap_or(usize::MAX)
}

fn share(open: u64, links: u64) -> u64 {
    let left = open.saturating_sub(OTHERS).saturating_sub(links);
    (left / EACH).clamp(LEAST, MOST)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_takes_what_the_others_leave() {
        for (open, links, page) in [
            (u64::MAX, 2, 256),
            (1024, 10, 225),
            (256, 4, 35),
            (128, 4, 8),
            (64, 100, 8),
        ] {
            assert_eq!(share(open, links), page, "{open} {links}");
        }
    }
}
