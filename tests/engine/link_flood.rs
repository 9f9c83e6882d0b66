//! A link that fifty tanks hang on fails: one annunciation, and no more when it is back.

use crate::rig::Rig;
use standpipe::engine::alarm::AlarmState;
use standpipe::engine::{Fault, Input, LinkId, LinkState, Sample, TransmitterId};

const TANKS: u32 = 50;

fn site() -> String {
    let mut text = "[site]\nname = \"Alder Rise\"\n\
         [[link]]\nname = \"skid-a\"\ntcp = \"127.0.0.1:1502\"\npoll_every = \"1 s\"\n"
        .to_owned();
    for place in 0..TANKS {
        // Every third annunciates on bad data; ten devices.
        let on_bad = ["hold", "hold", "annunciate"][place as usize % 3];
        text.push_str(&format!(
            "[[transmitter]]\ntag = \"PT-{place}\"\nlink = \"skid-a\"\ndevice = {}\nregister = \"input {}\"\n\
             type = \"f32\"\nunit = \"kPa\"\n\
             [[tank]]\nname = \"tank-{place}\"\n\
             vessel = {{ shape = \"upright-cylinder\", diameter = \"4 m\", height = \"6 m\" }}\n\
             liquid = {{ kind = \"constant\", density = \"1000 kg/m3\" }}\n\
             hookup = {{ kind = \"vented\", transmitter = \"PT-{place}\", at = \"0 m\" }}\n\
             [[tank.alarm]]\ncode = \"LAH\"\nwatch = \"level\"\nabove = \"5 m\"\npriority = \"high\"\n\
             on_bad = \"{on_bad}\"\n",
            1 + place % 10,
            2 * place,
        ));
    }
    text
}

fn read(rig: &mut Rig, raw: Result<f64, Fault>) {
    rig.pass(1.0);
    let of = |place| Sample {
        transmitter: TransmitterId(place),
        raw,
    };
    let samples: Vec<Sample> = (0..TANKS).map(of).collect();
    rig.step(Input::Samples(&samples));
}

fn annunciated(rig: &Rig) -> Vec<&str> {
    let came = |to| to == Some(AlarmState::Unacknowledged);
    let events = rig.events.iter().filter(|event| came(event.to));
    events.filter_map(|event| event.code.as_deref()).collect()
}

#[test]
fn a_failed_link_with_fifty_tanks_is_one_annunciation() {
    let mut rig = Rig::start(&site());
    rig.step(Input::Link(LinkId(0), LinkState::Up));
    (0..10).for_each(|_| read(&mut rig, Ok(20.0)));
    let trouble = "no route to host".into();
    rig.step(Input::Link(LinkId(0), LinkState::Down { trouble }));
    (0..600).for_each(|_| read(&mut rig, Err(Fault::NoAnswer)));
    assert_eq!(annunciated(&rig), ["LINK-SKID-A"]);
    let system = rig.engine.snapshot().system;
    // Of every tank its measurement, and the alarms that bad data bring about.
    assert_eq!(system[0].follows.len() as u32, TANKS + TANKS / 3);
    let text = system[0].record.consequence.as_deref().expect("a text");
    assert!(text.contains("tank-11 and 38 more"), "{text}");

    rig.step(Input::Link(LinkId(0), LinkState::Up));
    (0..60).for_each(|_| read(&mut rig, Ok(20.0)));
    assert_eq!(annunciated(&rig), ["LINK-SKID-A"]);
    let snapshot = rig.engine.snapshot();
    let open = snapshot
        .alarms()
        .filter(|(_, alarm)| alarm.state != AlarmState::Normal);
    let open: Vec<_> = open.map(|(tank, alarm)| (tank, &*alarm.code)).collect();
    assert_eq!(open, [("system", "LINK-SKID-A")]);
}

#[test]
fn a_device_with_five_tanks_is_one_annunciation() {
    let mut rig = Rig::start(&site());
    rig.step(Input::Link(LinkId(0), LinkState::Up));
    for second in 0..120 {
        rig.pass(1.0);
        let of = |place: u32| Sample {
            transmitter: TransmitterId(place),
            raw: if second >= 10 && place % 10 == 3 {
                Err(Fault::NoAnswer)
            } else {
                Ok(20.0)
            },
        };
        let samples: Vec<Sample> = (0..TANKS).map(of).collect();
        rig.step(Input::Samples(&samples));
    }
    assert_eq!(annunciated(&rig), ["DEVICE-SKID-A-4"]);
}
