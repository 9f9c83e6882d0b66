//! Words and numbers against IEEE 754 and two's complement as another language encodes them, and the
//! bytes on the wire against the examples of the Modbus documents.
//!
//! The source of each value stands in the `source` column of its file under `data`.

use crate::rows::{Row, rows};
use standpipe::field::registers::{decode, encode};
use standpipe::field::{Message, Trouble, run};
use standpipe::site::settings::{
    Bit, ContactId, LinkAddress, LinkId, LinkSettings, NumberType, Point, Register, Space,
    TransmitterId, WordOrder,
};
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::mpsc;
use tokio_util::sync::CancellationToken;

const ORDERS: [(&str, WordOrder); 4] = [
    ("ABCD", WordOrder::Abcd),
    ("CDAB", WordOrder::Cdab),
    ("BADC", WordOrder::Badc),
    ("DCBA", WordOrder::Dcba),
];

/// "4049 0FDB" → words.
fn words(hexadecimal: &str) -> Vec<u16> {
    let word = |text| u16::from_str_radix(text, 16).expect("four hexadecimal digits");
    hexadecimal.split_whitespace().map(word).collect()
}

/// "03 00 6B" → bytes.
fn bytes(hexadecimal: &str) -> Vec<u8> {
    let byte = |text| u8::from_str_radix(text, 16).expect("two hexadecimal digits");
    hexadecimal.split_whitespace().map(byte).collect()
}

fn order(name: &str) -> WordOrder {
    ORDERS
        .iter()
        .find(|(known, _)| *known == name)
        .expect("one of the four orders")
        .1
}

/// The same number to the last bit; not-a-number is one number here.
fn check_same(row: &Row, what: &str, ours: Option<f64>, published: f64) {
    row.mark_met();
    let ours = ours.unwrap_or_else(|| panic!("{}: {what} is no number", row.place()));
    let same = ours.to_bits() == published.to_bits() || (ours.is_nan() && published.is_nan());
    assert!(
        same,
        "{}: {what} is {ours:e}, published {published:e}",
        row.place()
    );
}

fn float(row: &Row, column: &str) -> f64 {
    row.text(column)
        .parse()
        .unwrap_or_else(|_| panic!("{}: {column} is no number", row.place()))
}

#[test]
pub fn floats_in_all_four_orders() {
    for row in rows("float-registers.csv") {
        let value = float(&row, "value_as_float32");
        for (name, order) in ORDERS {
            let published = words(row.text(&format!("{name}_hex")));
            check_same(
                &row,
                name,
                decode(&published, NumberType::F32, order),
                value,
            );
            let ours = encode(value, NumberType::F32, order);
            assert_eq!(ours, Some(published), "{}: {name}", row.place());
        }
    }
}

#[test]
pub fn long_floats() {
    for row in rows("float-registers.csv") {
        // The rows that are named instead of written are the 32-bit number, widened.
        let value = row
            .text("value")
            .parse()
            .unwrap_or_else(|_| float(&row, "value_as_float32"));
        let published = words(row.text("float64_ABCDEFGH_hex"));
        check_same(
            &row,
            "f64",
            decode(&published, NumberType::F64, WordOrder::Abcd),
            value,
        );
        let ours = encode(value, NumberType::F64, WordOrder::Abcd);
        assert_eq!(ours.as_ref(), Some(&published), "{}", row.place());
        let reversed: Vec<u16> = published.iter().rev().copied().collect();
        check_same(
            &row,
            "f64",
            decode(&reversed, NumberType::F64, WordOrder::Cdab),
            value,
        );
    }
}

#[test]
pub fn floats_read_in_a_wrong_order_are_wrong_in_the_known_way() {
    for row in rows("float-wrong-order.csv") {
        let registers = words(row.text("registers_hex"));
        let as_read = order(row.text("decoded_as"));
        check_same(
            &row,
            "value",
            decode(&registers, NumberType::F32, as_read),
            row.number("value_read"),
        );
        let written = encode(
            row.number("true_value"),
            NumberType::F32,
            order(row.text("device_order")),
        );
        assert_eq!(written, Some(registers), "{}", row.place());
    }
}

#[test]
pub fn integers() {
    for row in rows("int-registers.csv") {
        let number = match row.text("type") {
            "i16" => NumberType::I16,
            "u16" => NumberType::U16,
            "i32" => NumberType::I32,
            "u32" => NumberType::U32,
            other => panic!("{}: unknown type {other}", row.place()),
        };
        for (name, order) in ORDERS {
            let published = match (name, number.words()) {
                // One register: the order of words says nothing, that of bytes has no published row.
                ("ABCD", _) | ("CDAB", 1) => words(row.text("AB_or_ABCD")),
                (_, 1) => continue,
                (name, _) => words(row.text(name)),
            };
            let value = row.number("value");
            check_same(&row, name, decode(&published, number, order), value);
            assert_eq!(
                encode(value, number, order),
                Some(published),
                "{}: {name}",
                row.place()
            );
        }
    }
}

#[tokio::test]
pub async fn requests_and_answers_on_the_wire() {
    for row in rows("modbus-exchanges.csv") {
        let exchange = exchange(&row);
        let limit = Duration::from_secs(10);
        tokio::time::timeout(limit, exchange)
            .await
            .unwrap_or_else(|_| panic!("{}: hangs", row.place()));
    }
}

/// Lets a link poll a server that holds its request against the row and gives the row's answer.
async fn exchange(row: &Row) {
    let request = bytes(row.text("request_pdu"));
    let unit = bytes(row.text("unit"))[0];
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
    let port = listener.local_addr().expect("it is bound").port();
    let (sender, mut messages) = mpsc::channel(64);
    let stop = CancellationToken::new();
    let link = link_that_asks(&request, unit, port);
    let task = tokio::spawn(run(
        link,
        Duration::ZERO,
        sender,
        || Duration::ZERO,
        stop.clone(),
    ));

    let (mut stream, _) = listener.accept().await.expect("the link connects");
    answer_as_published(&mut stream, row, unit, &request).await;
    let (answers, contacts) = loop {
        match messages.recv().await.expect("the link is alive") {
            Message::Read {
                answers, contacts, ..
            } => break (answers, contacts),
            _ => continue,
        }
    };
    stop.cancel();
    task.await.expect("the link ends well");

    // A bit is told as 0 or 1 here, as it is published.
    let bits = contacts.into_iter().map(|(_, state)| state.map(f64::from));
    let numbers = answers.into_iter().map(|(_, answer)| answer);
    let read: Vec<_> = numbers.chain(bits).collect();
    let published: Vec<Result<f64, Trouble>> = match row.text("exception") {
        "" => row
            .text("words")
            .split(' ')
            .map(|word| Ok(word.parse().expect("a number")))
            .collect(),
        "11" => vec![Err(Trouble::NoAnswer)],
        code => vec![Err(Trouble::Exception(code.parse().expect("a code")))],
    };
    row.mark_met();
    assert_eq!(read, published, "{}: {}", row.place(), row.text("name"));
}

/// A link whose points are the registers of the request, each by itself.
fn link_that_asks(request: &[u8], unit: u8, port: u16) -> LinkSettings {
    let space = match request[0] {
        1 => Space::Coil,
        2 => Space::Discrete,
        3 => Space::Holding,
        _ => Space::Input,
    };
    let first = u16::from_be_bytes([request[1], request[2]]);
    let count = u16::from_be_bytes([request[3], request[4]]);
    let register = |place| Register {
        space,
        address: first + place,
    };
    let points = (0..count).filter(|_| !space.is_bits());
    let bits = (0..count).filter(|_| space.is_bits());
    let points = points.map(|place| Point {
        transmitter: TransmitterId(place.into()),
        tag: format!("LT-{place}"),
        device: unit,
        register: register(place),
        number: NumberType::U16,
        order: WordOrder::Abcd,
    });
    LinkSettings {
        id: LinkId(0),
        name: "published".to_owned(),
        address: LinkAddress::Tcp(format!("127.0.0.1:{port}")),
        poll_every: Duration::from_secs(60),
        timeout: Duration::from_secs(5),
        points: points.collect(),
        bits: bits
            .map(|place| Bit {
                contact: ContactId(place.into()),
                tag: format!("P-{place}"),
                device: unit,
                register: register(place),
                bit: None,
            })
            .collect(),
    }
}

/// Header: transaction, protocol 0, length of unit and PDU, unit (MODBUS Messaging on TCP/IP
/// Implementation Guide V1.0b section 3.1.3).
async fn answer_as_published(stream: &mut TcpStream, row: &Row, unit: u8, request: &[u8]) {
    let mut asked = [0; 12];
    stream
        .read_exact(&mut asked)
        .await
        .expect("a whole request");
    assert_eq!(asked[2..7], [0, 0, 0, 6, unit], "{}: header", row.place());
    assert_eq!(asked[7..], *request, "{}: request", row.place());
    let answer = bytes(row.text("answer_pdu"));
    let mut sent = vec![asked[0], asked[1], 0, 0, 0, answer.len() as u8 + 1, unit];
    sent.extend(answer);
    stream
        .write_all(&sent)
        .await
        .expect("the link takes the answer");
}
