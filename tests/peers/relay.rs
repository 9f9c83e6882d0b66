//! A relay between client and broker that cuts the line, and remembers what the client said last.

use std::sync::{Arc, Mutex};
use tokio::io::{AsyncReadExt, AsyncWriteExt, copy};
use tokio::net::{TcpListener, TcpStream};

pub struct Relay {
    pub port: u16,
    /// All that clients sent, over all connections.
    pub sent: Arc<Mutex<Vec<u8>>>,
    /// How many connections were cut.
    pub cuts: Arc<Mutex<usize>>,
}

impl Relay {
    /// Cuts the first connections, each after so many bytes from the client; later ones stay.
    pub async fn start(broker: u16, cut_after: Vec<usize>) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
        let port = listener.local_addr().expect("it is bound").port();
        let (sent, cuts) = (Arc::default(), Arc::default());
        let relay = Self {
            port,
            sent: Arc::clone(&sent),
            cuts: Arc::clone(&cuts),
        };
        tokio::spawn(async move {
            let mut limits = cut_after.into_iter();
            while let Ok((client, _)) = listener.accept().await {
                let limit = limits.next();
                if carry(client, broker, limit, &sent).await {
                    *cuts.lock().expect("no panic holds it") += 1;
                }
            }
        });
        relay
    }
}

/// True if it was cut.
async fn carry(
    client: TcpStream,
    broker: u16,
    limit: Option<usize>,
    sent: &Mutex<Vec<u8>>,
) -> bool {
    let Ok(broker) = TcpStream::connect(("127.0.0.1", broker)).await else {
        return false;
    };
    let (mut from_client, mut to_client) = client.into_split();
    let (mut from_broker, mut to_broker) = broker.into_split();
    let up = async {
        let (mut buffer, mut total) = ([0; 1024], 0);
        while let Ok(count) = from_client.read(&mut buffer).await {
            sent.lock()
                .expect("no panic holds it")
                .extend_from_slice(&buffer[..count]);
            total += count;
            if limit.is_some_and(|limit| total > limit) {
                return true;
            }
            if count == 0 || to_broker.write_all(&buffer[..count]).await.is_err() {
                return false;
            }
        }
        false
    };
    tokio::select! {
        cut = up => cut,
        _ = copy(&mut from_broker, &mut to_client) => false,
    }
}
