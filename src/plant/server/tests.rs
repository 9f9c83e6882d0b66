//! The plant read over the loopback.

use super::*;
use crate::plant::tests::{dry_leg_model, level_output};
use crate::plant::{ContactModel, LinkFault, Senses};
use std::time::Duration;
use tokio_modbus::Slave;
use tokio_modbus::client::{Context, Reader, Writer, tcp};

const WAIT: Duration = Duration::from_secs(5);

/// One tank whose level stands as a 32-bit number at input 0 of device 1.
async fn served(speed: f64) -> (Served, CancellationToken, Context) {
    let mut model = dry_leg_model();
    model.transmitters[0].senses = Senses::Level { tank: 0 };
    model.transmitters[0].output = level_output();
    let stop = CancellationToken::new();
    let hand = |_: &mut Plant| {};
    let served = serve(Plant::new(model, 1), 0, speed, hand, stop.clone())
        .await
        .expect("the loopback has free ports");
    let context = tcp::connect_slave(served.addresses[0].1, Slave(1))
        .await
        .expect("it listens");
    (served, stop, context)
}

fn level(words: &[u16]) -> f32 {
    f32::from_bits(u32::from(words[0]) << 16 | u32::from(words[1]))
}

#[tokio::test]
async fn a_client_reads_the_level() {
    let (served, stop, mut context) = served(1.0).await;
    let words = context
        .read_input_registers(0, 2)
        .await
        .expect("an answer")
        .expect("no exception");
    assert!((level(&words) - 3.0).abs() < 1e-6);
    stop.cancel();
    tokio::time::timeout(WAIT, served.stopped())
        .await
        .expect("it stops");
}

#[tokio::test]
async fn a_client_reads_contacts_in_every_table() {
    let mut model = dry_leg_model();
    let contact = |space, bit, inverted| ContactModel {
        tag: "P-101".into(),
        link: 0,
        device: 1,
        space,
        address: 40,
        bit,
        inverted,
        on: false,
    };
    model.contacts = vec![
        contact(Space::Discrete, None, false),
        contact(Space::Coil, None, true),
        contact(Space::Holding, Some(3), false),
        contact(Space::Holding, Some(15), true),
    ];
    let stop = CancellationToken::new();
    let served = serve(Plant::new(model, 1), 0, 1.0, |_| {}, stop.clone())
        .await
        .expect("the loopback has free ports");
    let mut context = tcp::connect_slave(served.addresses[0].1, Slave(1))
        .await
        .expect("it listens");
    let mut read = async || {
        let discrete = context.read_discrete_inputs(40, 1).await;
        let coil = context.read_coils(40, 1).await;
        let word = context.read_holding_registers(40, 1).await;
        (
            discrete.expect("an answer").expect("bits")[0],
            coil.expect("an answer").expect("bits")[0],
            word.expect("an answer").expect("words")[0],
        )
    };
    assert_eq!(read().await, (false, true, 0x8000));
    (0..4).for_each(|place| look_at(&served.plant, |plant| plant.switch(place, true)));
    assert_eq!(read().await, (true, false, 0x0008));
    stop.cancel();
}

#[tokio::test]
async fn what_it_does_not_have_it_refuses() {
    let (_served, stop, mut context) = served(1.0).await;
    let unknown = context.read_input_registers(0, 3).await.expect("an answer");
    assert_eq!(unknown, Err(ExceptionCode::IllegalDataAddress));
    let other_table = context
        .read_holding_registers(0, 2)
        .await
        .expect("an answer");
    assert_eq!(other_table, Err(ExceptionCode::IllegalDataAddress));
    let bits = context.read_coils(0, 1).await.expect("an answer");
    assert_eq!(bits, Err(ExceptionCode::IllegalDataAddress));
    let written = context.write_single_coil(0, true).await.expect("an answer");
    assert_eq!(written, Err(ExceptionCode::IllegalFunction));
    let mut elsewhere = tcp::connect_slave(_served.addresses[0].1, Slave(9))
        .await
        .expect("it listens");
    let absent = elsewhere
        .read_input_registers(0, 2)
        .await
        .expect("an answer");
    assert_eq!(absent, Err(ExceptionCode::GatewayTargetDevice));
    stop.cancel();
}

#[tokio::test]
async fn a_disturbed_link_refuses_or_says_nothing() {
    let (served, stop, mut context) = served(1.0).await;
    let disturb = |fault| {
        look_at(&served.plant, |plant| {
            plant.disturb(0, fault, plant.time() + WAIT)
        })
    };
    disturb(LinkFault::Exception(6));
    assert_eq!(
        context.read_input_registers(0, 2).await.expect("an answer"),
        Err(ExceptionCode::ServerDeviceBusy)
    );
    disturb(LinkFault::Silent);
    let silence = tokio::time::timeout(
        Duration::from_millis(200),
        context.read_input_registers(0, 2),
    )
    .await;
    assert!(silence.is_err(), "{silence:?}");
    stop.cancel();
}

#[tokio::test]
async fn time_goes_at_its_speed() {
    let (served, stop, _) = served(100.0).await;
    tokio::time::timeout(WAIT, async {
        while look_at(&served.plant, |plant| plant.time()) < Duration::from_secs(10) {
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
    })
    .await
    .expect("ten seconds go by in a tenth");
    stop.cancel();
}

#[tokio::test]
async fn a_link_that_resets_or_drops_ends_the_connection_and_a_late_one_is_late() {
    let (served, stop, mut context) = served(1.0).await;
    let disturb = |fault, lasting| {
        look_at(&served.plant, |plant| {
            plant.disturb(0, fault, plant.time() + lasting)
        })
    };
    disturb(LinkFault::Late(Duration::from_millis(300)), WAIT);
    {
        let mut asked = std::pin::pin!(context.read_input_registers(0, 2));
        let early = tokio::time::timeout(Duration::from_millis(200), &mut asked).await;
        assert!(early.is_err(), "{early:?}");
        let late = tokio::time::timeout(WAIT, asked).await.expect("it comes");
        assert!(late.expect("an answer").is_ok());
    }
    disturb(LinkFault::Reset, WAIT);
    let ended = tokio::time::timeout(WAIT, context.read_input_registers(0, 2)).await;
    assert!(ended.expect("it ends at once").is_err());
    // It takes the next connection, as far as that goes.
    let mut next = tcp::connect_slave(served.addresses[0].1, Slave(1))
        .await
        .expect("it listens");
    disturb(LinkFault::Reset, Duration::ZERO);
    let words = next.read_input_registers(0, 2).await;
    assert!(words.expect("an answer").is_ok());
    disturb(LinkFault::Dropped, WAIT);
    let mut dropped = tcp::connect_slave(served.addresses[0].1, Slave(1))
        .await
        .expect("it listens");
    let ended = tokio::time::timeout(WAIT, dropped.read_input_registers(0, 2)).await;
    assert!(ended.expect("it ends at once").is_err());
    stop.cancel();
}
