//! A link against a small server that answers, refuses, keeps silent, closes and talks nonsense as
//! each test wants it. Byte layout: Modbus Messaging on TCP/IP Implementation Guide V1.0b, section 3.1.

use super::*;
use crate::site::settings::{LinkId, NumberType, Register, TransmitterId, WordOrder};
use std::sync::Arc;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpListener;
use tokio::task::AbortHandle;

/// A request as it came.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Asked {
    /// Which connection since the start, from 0.
    connection: usize,
    /// Which request on this connection, from 0.
    request: usize,
    device: u8,
    function: u8,
    address: u16,
    count: u16,
}

/// What the server does then.
enum Act {
    Words(Vec<u16>),
    Late(Duration, Vec<u16>),
    Exception(u8),
    Silence,
    Close,
    /// The answer of another transaction.
    OtherTransaction,
}

/// Ends with the test.
struct Server {
    port: u16,
    task: AbortHandle,
}

impl Drop for Server {
    fn drop(&mut self) {
        self.task.abort();
    }
}

async fn server(act: impl Fn(Asked) -> Act + Send + Sync + 'static) -> Server {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
    let port = listener.local_addr().expect("it is bound").port();
    let act = Arc::new(act);
    let task = tokio::spawn(async move {
        let mut connections = tokio::task::JoinSet::new();
        for connection in 0.. {
            let Ok((stream, _)) = listener.accept().await else {
                return;
            };
            connections.spawn(serve(stream, connection, Arc::clone(&act)));
        }
    });
    Server {
        port,
        task: task.abort_handle(),
    }
}

async fn serve(mut stream: TcpStream, connection: usize, act: Arc<impl Fn(Asked) -> Act>) {
    for request in 0.. {
        let mut asked = [0; 12];
        if stream.read_exact(&mut asked).await.is_err() {
            return;
        }
        let word = |at: usize| u16::from_be_bytes([asked[at], asked[at + 1]]);
        let (device, function) = (asked[6], asked[7]);
        let (address, count) = (word(8), word(10));
        let mut head = vec![asked[0], asked[1]];
        let mut pdu = vec![function];
        let mut put = |words: Vec<u16>| {
            pdu.push(2 * words.len() as u8);
            pdu.extend(words.into_iter().flat_map(u16::to_be_bytes));
        };
        match act(Asked {
            connection,
            request,
            device,
            function,
            address,
            count,
        }) {
            Act::Words(words) => put(words),
            Act::Late(wait, words) => {
                sleep(wait).await;
                put(words);
            }
            Act::Exception(code) => pdu = vec![function | 0x80, code],
            Act::Silence => continue,
            Act::Close => return,
            Act::OtherTransaction => {
                head[1] = head[1].wrapping_add(7);
                put(vec![0; count.into()]);
            }
        }
        head.extend([0, 0, 0, pdu.len() as u8 + 1, device]);
        head.extend(pdu);
        if stream.write_all(&head).await.is_err() {
            return;
        }
    }
}

/// A link of one-word points, each a device and an address; transmitters are numbered from 0.
fn link(port: u16, points: &[(u8, u16)]) -> LinkSettings {
    let points = points
        .iter()
        .zip(0..)
        .map(|(&(device, address), transmitter)| Point {
            transmitter: TransmitterId(transmitter),
            tag: format!("LT-{transmitter}"),
            device,
            register: Register {
                space: Space::Input,
                address,
            },
            number: NumberType::U16,
            order: WordOrder::Abcd,
        });
    LinkSettings {
        id: LinkId(3),
        name: "gallery".to_owned(),
        address: LinkAddress::Tcp(format!("127.0.0.1:{port}")),
        poll_every: Duration::from_millis(40),
        timeout: Duration::from_millis(300),
        points: points.collect(),
        bits: Vec::new(),
    }
}

struct Listener {
    messages: mpsc::Receiver<Message>,
    stop: CancellationToken,
}

impl Drop for Listener {
    fn drop(&mut self) {
        self.stop.cancel();
    }
}

fn listen(link: LinkSettings) -> Listener {
    let (sender, messages) = mpsc::channel(16);
    let stop = CancellationToken::new();
    tokio::spawn(run(
        link,
        Duration::ZERO,
        sender,
        || Duration::ZERO,
        stop.clone(),
    ));
    Listener { messages, stop }
}

type Answers = Vec<Result<f64, Trouble>>;

impl Listener {
    async fn next(&mut self) -> Message {
        timeout(Duration::from_secs(10), self.messages.recv())
            .await
            .expect("a message within 10 s")
            .expect("the task is alive")
    }

    /// The next whole read, and what was told before it.
    async fn read(&mut self) -> (Answers, Vec<Message>) {
        let mut before = Vec::new();
        loop {
            match self.next().await {
                Message::Read { answers, .. } => {
                    return (
                        answers.into_iter().map(|(_, answer)| answer).collect(),
                        before,
                    );
                }
                other => before.push(other),
            }
        }
    }

    /// What is told up to the first read that is as wanted; at most a hundred reads.
    async fn until(&mut self, wanted: impl Fn(&Answers) -> bool) -> Vec<Message> {
        let mut told = Vec::new();
        for _ in 0..100 {
            let (answers, before) = self.read().await;
            told.extend(before);
            if wanted(&answers) {
                return told;
            }
        }
        panic!("no such read in a hundred; told: {told:?}");
    }
}

fn error(kind: ErrorKind) -> Message {
    Message::Error {
        link: LinkId(3),
        kind,
    }
}

const UP: Message = Message::Up { link: LinkId(3) };
const SILENT: Result<f64, Trouble> = Err(Trouble::NoAnswer);

/// Each register holds its address and the device's hundred.
fn own_words(asked: Asked) -> Act {
    let first = u16::from(asked.device) * 100 + asked.address;
    Act::Words((first..first + asked.count).collect())
}

#[tokio::test]
async fn a_whole_read_a_round_and_up_once() {
    let server = server(own_words).await;
    let mut listener = listen(link(server.port, &[(1, 5), (2, 0), (1, 4)]));
    let (answers, before) = listener.read().await;
    assert_eq!(answers, [Ok(105.0), Ok(200.0), Ok(104.0)]);
    assert_eq!(before[0], UP);
    assert_eq!(
        before.len(),
        3,
        "up, and the time of two requests: {before:?}"
    );
    let (_, before) = listener.read().await;
    assert!(
        before
            .iter()
            .all(|message| matches!(message, Message::RoundTrip { .. }))
    );
}

#[tokio::test]
async fn a_register_that_is_not_there_does_not_blind_its_neighbours() {
    let server = server(|asked| {
        let misses = (asked.address..asked.address + asked.count).contains(&5);
        if misses {
            Act::Exception(2)
        } else {
            own_words(asked)
        }
    })
    .await;
    let mut listener = listen(link(server.port, &[(1, 4), (1, 5), (1, 6), (2, 0)]));
    for _ in 0..3 {
        let (answers, _) = listener.read().await;
        let refused = Err(Trouble::Exception(2));
        assert_eq!(answers, [Ok(104.0), refused, Ok(106.0), Ok(200.0)]);
    }
}

#[tokio::test]
async fn another_exception_is_told_of_all_points_of_its_request() {
    let server = server(|asked| {
        if asked.device == 1 {
            Act::Exception(4)
        } else {
            own_words(asked)
        }
    })
    .await;
    let mut listener = listen(link(server.port, &[(1, 4), (1, 5), (2, 0)]));
    let (answers, before) = listener.read().await;
    let failed = Err(Trouble::Exception(4));
    assert_eq!(answers, [failed, failed, Ok(200.0)]);
    assert!(before.contains(&UP) && before.contains(&error(ErrorKind::Exception)));
}

#[tokio::test]
async fn a_dead_device_does_not_blind_its_neighbours_nor_take_the_link_down() {
    let server = server(|asked| {
        if asked.device == 2 {
            Act::Silence
        } else {
            own_words(asked)
        }
    })
    .await;
    let mut listener = listen(link(server.port, &[(1, 0), (2, 0), (3, 0)]));
    let mut told = Vec::new();
    for _ in 0..4 {
        let (answers, before) = listener.read().await;
        assert_eq!(answers, [Ok(100.0), SILENT, Ok(300.0)]);
        told.extend(before);
    }
    assert_eq!(
        told.iter()
            .filter(|message| **message == error(ErrorKind::Timeout))
            .count(),
        4
    );
    assert!(
        !told
            .iter()
            .any(|message| matches!(message, Message::Down { .. }))
    );
}

#[tokio::test]
async fn a_gateway_that_misses_its_device_is_silence() {
    let server = server(|asked| {
        if asked.device == 2 {
            Act::Exception(0x0B)
        } else {
            own_words(asked)
        }
    })
    .await;
    let mut listener = listen(link(server.port, &[(1, 0), (2, 0), (2, 1)]));
    for _ in 0..3 {
        let (answers, _) = listener.read().await;
        assert_eq!(answers, [Ok(100.0), SILENT, SILENT]);
    }
}

#[tokio::test]
async fn a_late_answer_is_never_taken_for_the_next() {
    let server = server(|asked| match (asked.connection, asked.request) {
        (0, 0) => Act::Late(Duration::from_millis(500), vec![13]),
        _ => Act::Words(vec![42]),
    })
    .await;
    let mut listener = listen(link(server.port, &[(1, 0)]));
    let (answers, before) = listener.read().await;
    assert_eq!(answers, [SILENT]);
    let trouble = format!(
        "device 1 at 127.0.0.1:{} gave no answer within 0.3 s",
        server.port
    );
    let down = Message::Down {
        link: LinkId(3),
        trouble,
    };
    assert_eq!(before, [error(ErrorKind::Timeout), down]);
    let told = listener.until(|answers| *answers != [SILENT]).await;
    assert!(
        matches!(told[..], [UP, Message::RoundTrip { .. }]),
        "{told:?}"
    );
    assert_eq!(listener.read().await.0, [Ok(42.0)]);
}

#[tokio::test]
async fn an_answer_that_does_not_fit_is_no_reading() {
    let server = server(|asked| match asked.connection {
        0 => Act::Words(vec![1]),
        1 => Act::OtherTransaction,
        2 => Act::Words(vec![1, 2, 3]),
        _ => Act::Words(vec![20, 30]),
    })
    .await;
    let mut listener = listen(link(server.port, &[(1, 0), (1, 1)]));
    let told = listener
        .until(|answers| *answers == [Ok(20.0), Ok(30.0)])
        .await;
    let malformed = told
        .iter()
        .filter(|message| **message == error(ErrorKind::Malformed));
    assert_eq!(malformed.count(), 3, "{told:?}");
    assert_eq!(
        told.iter()
            .filter(|told| matches!(told, Message::Down { .. }))
            .count(),
        1
    );
}

#[tokio::test]
async fn a_connection_closed_while_idle_costs_no_reading() {
    let server = server(|asked| {
        if asked.request == 0 {
            own_words(asked)
        } else {
            Act::Close
        }
    })
    .await;
    let mut listener = listen(link(server.port, &[(1, 0)]));
    for _ in 0..5 {
        let (answers, before) = listener.read().await;
        assert_eq!(answers, [Ok(100.0)]);
        assert!(
            !before
                .iter()
                .any(|message| matches!(message, Message::Down { .. }))
        );
    }
}

#[tokio::test]
async fn no_connection_is_told_once_and_read_as_silence_in_every_period() {
    let port = server(own_words).await.port;
    let mut listener = listen(link(port, &[(1, 0), (2, 0)]));
    let mut told = Vec::new();
    for _ in 0..8 {
        let (answers, before) = listener.read().await;
        assert_eq!(answers, [SILENT, SILENT]);
        told.extend(before);
    }
    let downs: Vec<&String> = told
        .iter()
        .filter_map(|message| match message {
            Message::Down { trouble, .. } => Some(trouble),
            _ => None,
        })
        .collect();
    let [trouble] = downs[..] else {
        panic!("told: {told:?}")
    };
    // The first wait is 0.4 to 0.5 s, eight periods of 40 ms are less.
    assert!(
        told.iter()
            .filter(|message| **message == error(ErrorKind::Connect))
            .count()
            <= 2
    );
    assert!(
        trouble.starts_with(&format!("cannot connect to 127.0.0.1:{port}: ")),
        "{trouble}"
    );
}

#[tokio::test]
async fn a_full_channel_does_not_hold_up_the_end() {
    let server = server(own_words).await;
    let (sender, mut messages) = mpsc::channel(1);
    let stop = CancellationToken::new();
    let link = link(server.port, &[(1, 0)]);
    let task = tokio::spawn(run(
        link,
        Duration::ZERO,
        sender,
        || Duration::ZERO,
        stop.clone(),
    ));
    sleep(Duration::from_millis(400)).await;
    assert_eq!(messages.try_recv(), Ok(UP));
    stop.cancel();
    timeout(Duration::from_secs(5), task)
        .await
        .expect("it ends")
        .expect("without panic");
}

#[tokio::test]
async fn rounds_that_were_missed_are_not_made_up_for() {
    let server = server(|asked| match asked.request {
        1 => Act::Late(Duration::from_millis(400), vec![0]),
        _ => own_words(asked),
    })
    .await;
    let mut link = link(server.port, &[(1, 0)]);
    link.timeout = Duration::from_secs(2);
    let mut listener = listen(link);
    listener.until(|answers| *answers == [Ok(0.0)]).await;
    let mut reads = 0;
    let some_time = async {
        loop {
            listener.read().await;
            reads += 1;
        }
    };
    let _over = timeout(Duration::from_millis(400), some_time).await;
    // Ten periods; the nine missed before would make nineteen.
    assert!((1..=14).contains(&reads), "{reads} reads in ten periods");
}

#[tokio::test]
async fn nobody_listening_ends_the_task() {
    let server = server(own_words).await;
    let (sender, messages) = mpsc::channel(1);
    let task = tokio::spawn(run(
        link(server.port, &[]),
        Duration::ZERO,
        sender,
        || Duration::ZERO,
        CancellationToken::new(),
    ));
    drop(messages);
    timeout(Duration::from_secs(5), task)
        .await
        .expect("it ends")
        .expect("without panic");
}
