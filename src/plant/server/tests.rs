//! The plant read over the loopback.

use super::*;
use crate::plant::tests::{dry_leg_model, level_output};
use crate::plant::{ContactModel, LinkFault, Senses};
use approx::assert_abs_diff_eq;
use std::time::Duration;
use tokio_modbus::Slave;
use tokio_modbus::client::{Context, Reader, Writer, tcp};
use tokio_modbus::slave::SlaveContext;

const WAIT: Duration = Duration::from_secs(5);

/// One tank whose level stands as a 32-bit number at input 0 of device 1.
async fn served(speed: f64) -> (Served, CancellationToken, Context) {
    let mut model = dry_leg_model();
    model.transmitters[0].senses = Senses::Level {
        tank: 0,
        ranging: crate::plant::Ranging::of_the_surface(),
    };
    model.transmitters[0].output = level_output();
    let stop = CancellationToken::new();
    let hand = |_: &mut Plant| {};
    let served = serve(
        Plant::new(model, 1),
        Ports::Each(0),
        speed,
        hand,
        stop.clone(),
    )
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
    let served = serve(
        Plant::new(model, 1),
        Ports::Each(0),
        1.0,
        |_| {},
        stop.clone(),
    )
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

/// A second link with a device of its own at the same register.
fn two_links(device: u8) -> Plant {
    let mut model = dry_leg_model();
    model.links.push("pumps".into());
    model.transmitters[0].senses = Senses::Level {
        tank: 0,
        ranging: crate::plant::Ranging::of_the_surface(),
    };
    model.transmitters[0].output = level_output();
    let mut second = model.transmitters[0].clone();
    second.senses = Senses::LiquidDensity { tank: 0 };
    (second.output.link, second.output.device) = (1, device);
    model.transmitters.push(second);
    Plant::new(model, 1)
}

#[tokio::test]
async fn several_links_answer_at_one_port_by_their_device_numbers() {
    let stop = CancellationToken::new();
    let served = serve(two_links(2), Ports::One(0), 1.0, |_| {}, stop.clone())
        .await
        .expect("a free port");
    let [(_, first), (_, second)] = &served.addresses[..] else {
        panic!("two links");
    };
    assert_eq!(first, second);
    let mut client = tcp::connect_slave(*first, Slave(1))
        .await
        .expect("it listens");
    assert_abs_diff_eq!(read_f32(&mut client).await, 3.0);
    client.set_slave(Slave(2));
    assert_abs_diff_eq!(read_f32(&mut client).await, 1000.0);
    // The fault of one link leaves the other alone.
    let fault = LinkFault::Exception(4);
    look_at(&served.plant, |plant| {
        plant.disturb(1, fault, Duration::from_secs(60))
    });
    assert_eq!(
        client.read_input_registers(0, 2).await.expect("an answer"),
        Err(ExceptionCode::new(4))
    );
    client.set_slave(Slave(1));
    assert_abs_diff_eq!(read_f32(&mut client).await, 3.0);
    client.set_slave(Slave(9));
    assert_eq!(
        client.read_input_registers(0, 2).await.expect("an answer"),
        Err(ExceptionCode::new(
            exception::GATEWAY_TARGET_FAILED_TO_RESPOND
        ))
    );
    stop.cancel();
    served.stopped().await;
}

#[tokio::test]
async fn two_devices_of_one_number_cannot_share_a_port() {
    let stop = CancellationToken::new();
    let refused = serve(two_links(1), Ports::One(0), 1.0, |_| {}, stop).await;
    let text = refused
        .expect_err("nobody could tell them apart")
        .to_string();
    assert_eq!(
        text,
        "device 1 is behind skid and behind pumps: at one port nobody could tell which is asked"
    );
}

async fn read_f32(client: &mut Context) -> f32 {
    let words = client.read_input_registers(0, 2).await;
    let words = words.expect("an answer").expect("no exception");
    f32::from_bits(u32::from(words[0]) << 16 | u32::from(words[1]))
}
