//! The site file: as written, checked, and as the rest of the program needs it.

mod check;
pub mod counsel;
pub mod file;
pub mod key;
#[cfg(test)]
mod key_tests;
pub mod keys;
#[cfg(test)]
mod liquid_tests;
#[cfg(test)]
mod notice_tests;
pub mod problem;
pub mod settings;
#[cfg(test)]
mod stream_tests;
#[cfg(test)]
mod tests;
mod tree;

pub use problem::{Problem, Problems, Source};

use crate::engine::Plan;
use file::{Document, FileRead};
use settings::{
    BrokerSettings, CommandSettings, HeartbeatSettings, JournalSettings, LinkSettings,
    ListenerSettings, NoticeSettings, PersonSettings, ShowUnits,
};
use std::path::Path;

/// A site that was read and found right; one that exists is right.
#[derive(Clone, Debug)]
pub struct Site {
    pub plan: Plan,
    pub links: Vec<LinkSettings>,
    pub show: ShowUnits,
    pub timezone: Option<String>,
    /// When shifts begin, in the site's time zone; in the order of the day.
    pub shifts: Vec<jiff::civil::Time>,
    pub mqtt: Option<BrokerSettings>,
    pub http: Option<ListenerSettings>,
    pub journal: JournalSettings,
    pub commands: CommandSettings,
    /// Who may give commands; empty: anybody who calls as the user that the daemon runs as.
    pub people: Vec<PersonSettings>,
    pub notices: NoticeSettings,
    pub heartbeat: HeartbeatSettings,
    /// Files that the site file names, as they were read.
    pub files: Vec<FileRead>,
}

/// Reads a site file.
pub fn read(path: &Path) -> Result<Site, Problems> {
    parse(&text(path)?, path)
}

/// The text of a site file.
pub fn text(path: &Path) -> Result<String, Problems> {
    std::fs::read_to_string(path).map_err(|error| {
        let problem = Problem::of_file(format!("{} cannot be read: {error}", path.display()));
        let cure = "check the path, and that the file may be read and is UTF-8 text";
        Problems::new(path, "", vec![problem.cure(cure)])
    })
}

/// A site from the text of its file; `path` is for messages and for files named relative to it.
pub fn parse(text: &str, path: &Path) -> Result<Site, Problems> {
    let document = Document::parse(text, path, keys::KEYS);
    let site = check::site(&document, text);
    match document.problems() {
        Some(problems) => Err(problems),
        None => Ok(site.expect("what is not a site has a problem")),
    }
}

#[cfg(test)]
mod reading_tests {
    use super::*;

    #[test]
    fn a_file_that_is_not_there_is_a_problem() {
        let problems = read(Path::new("no/such/site.toml"))
            .expect_err("it is not there")
            .to_string();
        assert!(
            problems.starts_with("error: no/such/site.toml cannot be read"),
            "{problems}"
        );
    }
}
