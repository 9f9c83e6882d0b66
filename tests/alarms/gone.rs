//! A tank that is gone from the site file: its open alarms are shown until somebody answers them.

use crate::rig::{Rig, high};
use standpipe::engine::Memory;

/// What is remembered of the rig's tank, as of another one that the site file does not have.
fn of_another_tank(before: &Rig) -> Memory {
    let mut memory = before.memory();
    for (tank, ..) in &mut memory.alarms {
        if tank == "clearwell" {
            *tank = "old-tank".to_owned();
        }
    }
    memory
}

#[test]
fn its_open_alarm_is_closed_shown_and_answered() {
    let mut before = Rig::new(&high(""));
    before.at(3.5, 5);
    let rig = Rig::start(&high(""), Some(of_another_tank(&before)), before.now.utc);
    let closed = rig.last();
    assert_eq!(
        closed.text,
        "closed: the site file does not have this tank any more"
    );
    assert_eq!(closed.tank.as_deref(), Some("old-tank"));
    let gone = rig.snapshot().gone;
    let [gone] = &gone[..] else {
        panic!("{gone:?}")
    };
    assert!(gone.is_tank_gone);
    let alarm = gone.alarm.as_ref().expect("it is shown");
    assert_eq!((alarm.state.code(), alarm.removed), ("RTNUN", true));

    // And after another restart.
    let mut rig = rig.restart(&high(""), std::time::Duration::from_secs(60));
    assert!(rig.acknowledge_of("old-tank", "LAL").is_err());
    let answer = rig.acknowledge_of("old-tank", "LAH").expect("acknowledged");
    assert_eq!(answer, "old-tank LAH acknowledged by Ada: now normal");
    assert!(rig.acknowledge_of("old-tank", "LAH").is_err());
    assert_eq!(rig.last().to.map(|state| state.code()), Some("NORM"));

    // Then only its name is left, for the outlets that have to forget it.
    let rig = rig.restart(&high(""), std::time::Duration::from_secs(60));
    let gone = rig.snapshot().gone;
    assert!(gone.len() == 1 && gone[0].alarm.is_none(), "{gone:?}");
}
