//! Who is let in, and for how long.

use super::*;
use axum::response::Sse;
use axum::response::sse::Event;
use axum::routing::{get, post};
use futures_util::stream;
use std::convert::Infallible;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::time::sleep;

struct House {
    address: SocketAddr,
    stop: CancellationToken,
}

impl Drop for House {
    fn drop(&mut self) {
        self.stop.cancel();
    }
}

async fn house(room: Room) -> House {
    let routes = Router::new()
        .route("/", get(|| async { "at home\n" }))
        .route("/tell", post(|body: String| async move { body }))
        .route(
            "/live",
            get(|| async {
                let beats = stream::unfold((), |()| async {
                    sleep(Duration::from_secs(20)).await;
                    Some((Ok::<Event, Infallible>(Event::default().data("beat")), ()))
                });
                Sse::new(beats)
            }),
        );
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port");
    let address = listener.local_addr().expect("an address");
    let stop = CancellationToken::new();
    let stops = (stop.clone(), (|| Duration::ZERO) as fn() -> Duration);
    tokio::spawn(serve(listener, routes, room, stops));
    House { address, stop }
}

impl House {
    async fn say(&self, what: &str) -> TcpStream {
        let mut stream = TcpStream::connect(self.address).await.expect("a stream");
        let said = stream.write_all(what.as_bytes()).await;
        said.expect("there is room for it");
        stream
    }
}

/// What comes until it is hung up on.
async fn all_of(stream: &mut TcpStream) -> String {
    let mut all = Vec::new();
    // A reset after the answer ends it too.
    let _ = stream.read_to_end(&mut all).await;
    String::from_utf8_lossy(&all).into_owned()
}

const ASK: &str = "GET / HTTP/1.1\r\nHost: here\r\n\r\n";

/// Time goes as fast as nothing else is to be done, so that nobody waits for it.
#[tokio::test(start_paused = true)]
async fn who_does_not_ask_is_hung_up_on() {
    let house = house(Room::of(8)).await;
    for said in ["", "GET / HTTP/1.1\r\nHost: he"] {
        let mut stream = house.say(said).await;
        assert!(!all_of(&mut stream).await.contains("at home"), "{said}");
    }
    // One that asked and stays is let stay a while only.
    let mut stream = house.say(ASK).await;
    let answer = all_of(&mut stream).await;
    assert!(answer.starts_with("HTTP/1.1 200 OK"), "{answer}");
}

#[tokio::test(start_paused = true)]
async fn who_sends_half_of_a_form_is_answered_without_it() {
    let house = house(Room::of(8)).await;
    let form = "POST /tell HTTP/1.1\r\nHost: here\r\nContent-Length: 100\r\n\r\nhalf";
    let mut stream = house.say(form).await;
    let answer = all_of(&mut stream).await;
    assert!(answer.starts_with("HTTP/1.1 408"), "{answer}");
}

#[tokio::test(start_paused = true)]
async fn what_is_kept_live_goes_on() {
    let house = house(Room::of(8)).await;
    let mut stream = house.say("GET /live HTTP/1.1\r\nHost: here\r\n\r\n").await;
    let mut all = String::new();
    let mut some = [0; 1024];
    while all.matches("beat").count() < 20 {
        let count = stream.read(&mut some).await.expect("it goes on");
        assert!(count > 0, "hung up on after {all}");
        all += &String::from_utf8_lossy(&some[..count]);
    }
}

#[tokio::test]
async fn one_too_many_is_told_so_and_the_others_stay() {
    let house = house(Room {
        most: 3,
        from_one: 2,
    })
    .await;
    let first = house.say("GET").await;
    let mut second = house.say("GET").await;
    // Both are in before the third calls.
    sleep(Duration::from_millis(200)).await;
    let mut third = TcpStream::connect(house.address).await.expect("a stream");
    let answer = all_of(&mut third).await;
    assert!(answer.starts_with("HTTP/1.1 503"), "{answer}");
    let (_, body) = answer.split_once("\r\n\r\n").expect("a body");
    assert!(
        answer.contains(&format!("Content-Length: {}\r\n", body.len())),
        "{answer}"
    );
    second.write_all(&ASK.as_bytes()[3..]).await.expect("sent");
    let mut some = [0; 64];
    let count = second.read(&mut some).await.expect("an answer");
    assert!(some[..count].starts_with(b"HTTP/1.1 200 OK"));
    // Whoever leaves makes room.
    drop(first);
    sleep(Duration::from_millis(200)).await;
    let mut fourth = house.say(ASK).await;
    let count = fourth.read(&mut some).await.expect("an answer");
    assert!(some[..count].starts_with(b"HTTP/1.1 200 OK"));
}

#[test]
fn one_address_does_not_take_all_of_it() {
    let guests = Arc::new(Guests::default());
    let room = Room::of(8);
    let [one, other]: [IpAddr; 2] = [[127, 0, 0, 1].into(), [127, 0, 0, 2].into()];
    let mut inside: Vec<_> = (0..6).map_while(|_| guests.enter(one, room)).collect();
    assert_eq!(inside.len(), 6);
    assert!(guests.enter(one, room).is_none());
    inside.extend((0..2).map_while(|_| guests.enter(other, room)));
    assert_eq!(inside.len(), 8);
    assert!(guests.enter(other, room).is_none());
    inside.clear();
    assert!(guests.enter(one, room).is_some());
}
