//! What is remembered besides events.

use super::*;
use crate::engine::memory::ProductMemory;

#[tokio::test]
async fn the_newest_memory_of_each_alarm_is_kept() {
    let place = Place::new();
    let Opened { journal, .. } = place.open();
    for (number, memory) in [(1, "a"), (2, "b")] {
        let mut step = step(number..=number);
        step.kept = vec![kept("LAH", memory), kept("LAL", "c")];
        write(&journal, [step]).await;
    }
    journal.close().await;
    let restored = Store::open(&place.settings.file).and_then(|store| store.restored());
    let alarm = |code, memory: &str| (kept(code, "").subject, memory.to_owned());
    assert_eq!(
        restored.expect("restored").remembered,
        [alarm("LAH", "b"), alarm("LAL", "c")]
    );
}

#[tokio::test]
async fn what_else_is_remembered_is_replaced_and_forgotten() {
    let place = Place::new();
    let Opened { journal, .. } = place.open();
    let product = |name: &str| {
        Remembered::Product(ProductMemory {
            product: name.into(),
            since: at(1),
            by: "Ada".into(),
        })
    };
    let remember = |tank: &str, memory: Option<&Remembered>| {
        Kept::other(RememberedKind::Product, tank.into(), memory)
    };
    let (raw, clear) = (product("raw"), product("clear"));
    for (number, kept) in [
        (1, remember("a", Some(&raw))),
        (2, remember("b", Some(&raw))),
        (3, remember("a", Some(&clear))),
        (4, remember("b", None)),
    ] {
        let mut step = step(number..=number);
        step.kept = vec![kept];
        write(&journal, [step]).await;
    }
    journal.close().await;
    let memory = place.open().memory.expect("it remembers");
    assert_eq!(memory.remembered, [("a".to_owned(), clear)]);
}

#[tokio::test]
async fn a_journal_of_the_first_form_is_brought_up_to_date() {
    let place = Place::new();
    let first = Connection::open(&place.settings.file).expect("it opens");
    first.execute_batch(schema::VERSIONS[0]).expect("made");
    first
        .pragma_update(None, "application_id", schema::APPLICATION)
        .and_then(|()| first.pragma_update(None, "user_version", 1))
        .expect("marked");
    assert_eq!(
        store::restored(&first).expect("readable").remembered,
        Vec::new()
    );
    drop(first);
    let Opened { journal, .. } = place.open();
    write(&journal, [step(1..=1)]).await;
    assert_eq!(place.numbers(), [1]);
}
