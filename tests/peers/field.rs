//! A link of ours against pymodbus.

use crate::modbus::ModbusServer;
use serde_json::json;
use standpipe::field::{ErrorKind, Message, Trouble, run};
use standpipe::site::settings::{
    Bit, ContactId, LinkAddress, LinkId, LinkSettings, NumberType, Point, Register, Space,
    TransmitterId, WordOrder,
};
use std::time::Duration;
use tokio::sync::mpsc;
use tokio_util::sync::CancellationToken;

const LINK: LinkId = LinkId(0);
const UP: Message = Message::Up { link: LINK };

/// Longest that a wanted read may take: the longest wait of the back-off, and time for a busy machine.
const PATIENCE: Duration = Duration::from_secs(30);

type Answer = Result<f64, Trouble>;
const SILENT: Answer = Err(Trouble::NoAnswer);

/// A link under way, stopped at the end of the test.
struct Polled {
    messages: mpsc::Receiver<Message>,
    stop: CancellationToken,
}

impl Drop for Polled {
    fn drop(&mut self) {
        self.stop.cancel();
    }
}

impl Polled {
    fn start(server: &ModbusServer, points: Vec<Point>) -> Polled {
        Polled::start_with(server, points, Vec::new())
    }

    fn start_with(server: &ModbusServer, points: Vec<Point>, bits: Vec<Bit>) -> Polled {
        let (sender, messages) = mpsc::channel(64);
        let stop = CancellationToken::new();
        let link = LinkSettings {
            id: LINK,
            name: "gallery".to_owned(),
            address: LinkAddress::Tcp(server.address()),
            poll_every: Duration::from_millis(100),
            timeout: Duration::from_millis(500),
            points,
            bits,
        };
        tokio::spawn(run(
            link,
            Duration::ZERO,
            sender,
            || Duration::ZERO,
            stop.clone(),
        ));
        Polled { messages, stop }
    }

    /// Reads until the contacts are as wanted.
    async fn until_bits(&mut self, wanted: &[Result<bool, Trouble>]) {
        let mut last = Vec::new();
        let reads = async {
            while last != wanted {
                if let Message::Read { contacts, .. } =
                    self.messages.recv().await.expect("the link is alive")
                {
                    last = contacts.into_iter().map(|(_, state)| state).collect();
                }
            }
        };
        let in_time = tokio::time::timeout(PATIENCE, reads).await;
        assert!(in_time.is_ok(), "wanted {wanted:?}, last {last:?}");
    }

    /// Reads until one is as wanted; returns all that was told till then and was no read.
    async fn until(&mut self, wanted: &[Answer]) -> Vec<Message> {
        let mut told = Vec::new();
        let mut last = Vec::new();
        let reads = async {
            loop {
                match self.messages.recv().await.expect("the link is alive") {
                    Message::Read { answers, .. } => {
                        last = answers.into_iter().map(|(_, answer)| answer).collect();
                        if last == wanted {
                            return;
                        }
                    }
                    other => told.push(other),
                }
            }
        };
        let in_time = tokio::time::timeout(PATIENCE, reads).await;
        assert!(
            in_time.is_ok(),
            "wanted {wanted:?}, last {last:?}, told {told:?}"
        );
        told
    }
}

fn point(device: u8, space: Space, address: u16, number: NumberType, order: WordOrder) -> Point {
    Point {
        transmitter: TransmitterId(address.into()),
        tag: format!("LT-{address}"),
        device,
        register: Register { space, address },
        number,
        order,
    }
}

/// An input register as it is.
fn word(device: u8, address: u16) -> Point {
    point(
        device,
        Space::Input,
        address,
        NumberType::U16,
        WordOrder::Abcd,
    )
}

fn errors(told: &[Message], kind: ErrorKind) -> usize {
    told.iter()
        .filter(|message| **message == Message::Error { link: LINK, kind })
        .count()
}

fn downs(told: &[Message]) -> usize {
    told.iter()
        .filter(|message| matches!(message, Message::Down { .. }))
        .count()
}

#[tokio::test(flavor = "multi_thread")]
async fn all_types_in_all_orders_of_both_spaces() {
    let mut server = ModbusServer::start(json!({}));
    let numbers = [
        ("i16", NumberType::I16, -12345.0),
        ("u16", NumberType::U16, 54321.0),
        ("i32", NumberType::I32, -123_456_789.0),
        ("u32", NumberType::U32, 3_456_789_012.0),
        ("f32", NumberType::F32, -4137.5),
        ("f64", NumberType::F64, 998.2071534),
    ];
    let orders = [
        ("ABCD", WordOrder::Abcd),
        ("CDAB", WordOrder::Cdab),
        ("BADC", WordOrder::Badc),
        ("DCBA", WordOrder::Dcba),
    ];
    let mut points = Vec::new();
    let mut values = Vec::new();
    for (space_name, space) in [("input", Space::Input), ("holding", Space::Holding)] {
        let mut address = 100;
        for (number_name, number, value) in numbers {
            for (order_name, order) in orders {
                server.number(1, space_name, address, value, number_name, order_name);
                points.push(point(1, space, address, number, order));
                values.push(Ok(value));
                address += number.words();
            }
        }
    }
    Polled::start(&server, points).until(&values).await;
}

/// More than pymodbus, as the standard, answers in one request.
#[tokio::test(flavor = "multi_thread")]
async fn more_registers_than_a_request_holds() {
    let words: Vec<u16> = (0..300).collect();
    let server = ModbusServer::start(json!({ "7": { "input": { "1000": words } } }));
    let points: Vec<Point> = (0..300).map(|place| word(7, 1000 + place)).collect();
    let values: Vec<Answer> = words.into_iter().map(|word| Ok(word.into())).collect();
    let told = Polled::start(&server, points).until(&values).await;
    assert_eq!(errors(&told, ErrorKind::Exception), 0);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_server_that_dies_and_comes_back() {
    let mut server = ModbusServer::start(json!({ "1": { "input": { "0": [555] } } }));
    let mut polled = Polled::start(&server, vec![word(1, 0)]);
    assert_eq!(polled.until(&[Ok(555.0)]).await[0], UP);

    server.set(1, "input", 0, &[556]);
    server.kill();
    let told = polled.until(&[SILENT]).await;
    assert_eq!(
        (downs(&told), errors(&told, ErrorKind::Connect)),
        (1, 1),
        "{told:?}"
    );

    server.restart();
    let told = polled.until(&[Ok(556.0)]).await;
    assert_eq!((told.contains(&UP), downs(&told)), (true, 0), "{told:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_server_that_hangs_and_recovers() {
    let mut server = ModbusServer::start(json!({ "1": { "input": { "0": [555] } } }));
    let mut polled = Polled::start(&server, vec![word(1, 0)]);
    polled.until(&[Ok(555.0)]).await;

    server.mode("hang");
    let told = polled.until(&[SILENT]).await;
    assert_eq!(
        (downs(&told), errors(&told, ErrorKind::Timeout)),
        (1, 1),
        "{told:?}"
    );

    server.set(1, "input", 0, &[556]);
    server.mode("normal");
    assert!(polled.until(&[Ok(556.0)]).await.contains(&UP));
}

#[tokio::test(flavor = "multi_thread")]
async fn an_exception_is_told_apart_from_silence() {
    let mut server = ModbusServer::start(json!({
        "1": { "input": { "0": [10, 11, 12] } },
        "2": { "input": { "0": [20] } },
    }));
    // Device 3 has no registers: the server answers for it as a gateway does.
    let points = vec![word(1, 0), word(1, 1), word(1, 2), word(2, 0), word(3, 0)];
    let mut polled = Polled::start(&server, points);
    polled
        .until(&[Ok(10.0), Ok(11.0), Ok(12.0), Ok(20.0), SILENT])
        .await;

    server.refuse(1, "input", 1..=1, 2);
    server.refuse(2, "input", 0..=0, 4);
    let refused = |code| Err(Trouble::Exception(code));
    let told = polled
        .until(&[Ok(10.0), refused(2), Ok(12.0), refused(4), SILENT])
        .await;
    assert_eq!(
        (downs(&told), errors(&told, ErrorKind::Timeout)),
        (0, 0),
        "{told:?}"
    );

    server.refuse(1, "input", 1..=1, 0);
    server.refuse(2, "input", 0..=0, 0);
    polled
        .until(&[Ok(10.0), Ok(11.0), Ok(12.0), Ok(20.0), SILENT])
        .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn one_dead_device_behind_a_gateway() {
    let mut server = ModbusServer::start(json!({
        "1": { "input": { "0": [10] } },
        "2": { "input": { "0": [20] } },
    }));
    let mut polled = Polled::start(&server, vec![word(1, 0), word(2, 0)]);
    polled.until(&[Ok(10.0), Ok(20.0)]).await;

    server.silence(1, true);
    let mut told = polled.until(&[SILENT, Ok(20.0)]).await;
    server.set(2, "input", 0, &[21]);
    told.extend(polled.until(&[SILENT, Ok(21.0)]).await);
    assert!(errors(&told, ErrorKind::Timeout) >= 1);

    server.silence(1, false);
    told.extend(polled.until(&[Ok(10.0), Ok(21.0)]).await);
    assert_eq!((downs(&told), told.contains(&UP)), (0, false), "{told:?}");
}

/// Bits come packed in bytes; which of them is which, pymodbus says.
#[tokio::test(flavor = "multi_thread")]
async fn bits_of_every_table() {
    let bits: Vec<u16> = (0..21).map(|place| u16::from(place % 3 == 0)).collect();
    let mut server = ModbusServer::start(json!({
        "1": {
            "discrete": { "3": bits },
            "coil": { "100": [0, 1] },
            "holding": { "12": [0x8004] },
            "input": { "0": [555] },
        },
    }));
    let contact = |space, address, bit| Bit {
        contact: ContactId(u32::from(address)),
        tag: format!("P-{address}"),
        device: 1,
        register: Register { space, address },
        bit,
    };
    let mut contacts: Vec<Bit> = (3..24)
        .map(|address| contact(Space::Discrete, address, None))
        .collect();
    contacts.extend([
        contact(Space::Coil, 100, None),
        contact(Space::Coil, 101, None),
        contact(Space::Holding, 12, Some(2)),
        contact(Space::Holding, 12, Some(3)),
        contact(Space::Holding, 12, Some(15)),
        contact(Space::Coil, 7, None),
    ]);
    let mut wanted: Vec<Result<bool, Trouble>> = (0..21).map(|place| Ok(place % 3 == 0)).collect();
    wanted.extend([Ok(false), Ok(true), Ok(true), Ok(false), Ok(true)]);
    // Not there: illegal data address.
    wanted.push(Err(Trouble::Exception(2)));
    let mut polled = Polled::start_with(&server, vec![word(1, 0)], contacts);
    polled.until_bits(&wanted).await;
    polled.until(&[Ok(555.0)]).await;

    server.set(1, "discrete", 3, &[0]);
    server.set(1, "coil", 100, &[1]);
    (wanted[0], wanted[21]) = (Ok(false), Ok(true));
    polled.until_bits(&wanted).await;
}
