//! What can't be read, among what can.

use super::*;

/// What one row or one minute holds is no reason to keep the others back.
#[tokio::test]
async fn an_entry_and_a_minute_that_cannot_be_read_hide_no_others() {
    let place = Place::new();
    let opened = place.open();
    write(&opened.journal, [step(1..=5)]).await;
    opened.journal.close().await;
    place.alter("UPDATE event SET kind = 'flood' WHERE number = 2");
    place.alter("UPDATE event SET person = CAST(x'ff' AS TEXT) WHERE number = 4");
    let events = place.reader().first(&Filter::default(), 10).expect("read");
    let told: Vec<(u64, bool)> = events
        .iter()
        .map(|event| (event.number, event.kind == EventKind::Unknown))
        .collect();
    assert_eq!(
        told,
        [(1, false), (2, true), (3, false), (4, true), (5, false)]
    );
    assert!(events[1].text.contains("flood"), "{}", events[1].text);
    assert_eq!(events[1].time, at(2));
    assert!(
        events[3].text.contains("can't be read"),
        "{}",
        events[3].text
    );

    let mut store = Store::open(&place.settings.file).expect("it opens");
    let rows: Vec<MinuteRow> = (0..3)
        .map(|more| row(30_000_000 + more, &[1.0, 2.0]))
        .collect();
    store.sample(&rows).expect("written");
    drop(store);
    place.alter("UPDATE sample SET data = x'00ff' WHERE minute = 30000001");
    let reader = place.reader();
    let (id, ..) = reader.series().expect("read").remove(0);
    let all = reader.samples(id, at(0), at(600)).expect("read");
    assert_eq!(all.len(), 4);
    assert_eq!(reader.lost(), [at(60)]);
}
