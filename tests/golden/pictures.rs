//! The pages of one rehearsed moment, as they are sent: the pictures of `tests/page/pictures` are taken of them.

use crate::compare;
use crate::page::{answer, state};
use standpipe::engine::Snapshot;
use standpipe::journal::{Journal, Recorder};
use standpipe::page::PageState;
use standpipe::rehearsal::{Script, look_on};
use standpipe::site;
use standpipe::site::settings::JournalSettings;
use std::path::Path;
use std::time::Duration;
use tokio_util::sync::CancellationToken;

const PAGES: [(&str, &str); 3] = [
    ("overview", "/"),
    ("alarms", "/alarms"),
    ("tank", "/tank/surge?span=hour"),
];
/// Samples for the trends are taken so far apart.
const EVERY: Duration = Duration::from_secs(2);

/// A second after the end of the script.
fn up() -> Duration {
    Duration::from_secs(45 * 60 + 1)
}

#[tokio::test(flavor = "multi_thread")]
async fn the_pages_that_pictures_are_taken_of() {
    let folder = Path::new("tests/page/pictures");
    let script = Script::read(&folder.join("moment.toml")).expect("a script");
    let site = site::read(Path::new("config/alder-rise.toml")).expect("a site");
    let place = tempfile::tempdir().expect("a folder");
    let settings = JournalSettings {
        file: place.path().join("moment.db"),
        keep_samples: None,
        keep_events: None,
    };
    let journal = Journal::open(&settings, false, script.begins);
    let journal = journal.expect("a new journal").journal;
    let (mut recorder, mut last) = (Recorder::default(), None::<Snapshot>);
    look_on(&site, &script, EVERY, |snapshot| {
        journal.sample(recorder.take(snapshot));
        last = Some(snapshot.clone());
    })
    .expect("it is rehearsed");
    journal.sample(recorder.rest());
    journal.close().await;
    let moment = last.expect("it has an end");
    for (name, path) in PAGES {
        let mut state: PageState = state(moment.clone(), CancellationToken::new());
        state.up = up;
        state.journal.clone_from(&settings.file);
        state.settings.simulated = true;
        state.shown.units = site.show;
        state.shown.zone = jiff::tz::TimeZone::get("Europe/London").expect("time zone data");
        let (status, _, body) = answer(state, path, "127.0.0.1:8470").await;
        assert_eq!(status, 200, "{path}");
        compare(&folder.join(format!("{name}.html")), &body);
    }
}
