//! Holding registers behind a Modbus TCP server of this test's own: only "read holding registers", as in
//! the Modbus application protocol V1.1b3, 6.3, and the TCP guide V1.0b, 3.1.3.

use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicU16, Ordering};

#[derive(Clone)]
pub struct Registers {
    pub port: u16,
    words: Arc<[AtomicU16; 8]>,
}

impl Registers {
    /// Serves until the test's process ends.
    pub fn serve() -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
        let registers = Self {
            port: listener.local_addr().expect("it is bound").port(),
            words: Arc::default(),
        };
        let served = registers.clone();
        std::thread::spawn(move || {
            for stream in listener.incoming().flatten() {
                let served = served.clone();
                std::thread::spawn(move || served.answer(stream));
            }
        });
        registers
    }

    /// The pressure of so much water in the `place`th transmitter, kPa as a float of two words.
    pub fn level(&self, place: usize, level_m: f32) {
        let bits = (level_m * 9.80665).to_bits();
        self.words[2 * place].store((bits >> 16) as u16, Ordering::Relaxed);
        self.words[2 * place + 1].store(bits as u16, Ordering::Relaxed);
    }

    /// Until the other side is gone.
    fn answer(&self, mut stream: TcpStream) -> Option<()> {
        loop {
            let mut request = [0; 12];
            stream.read_exact(&mut request).ok()?;
            let word = |at: usize| usize::from(u16::from_be_bytes([request[at], request[at + 1]]));
            let (first, count) = (word(8), word(10));
            let words = self.words.get(first..first + count)?;
            let mut answer = request[..4].to_vec();
            answer.extend((3 + 2 * count as u16).to_be_bytes());
            answer.extend([request[6], request[7], 2 * count as u8]);
            for word in words {
                answer.extend(word.load(Ordering::Relaxed).to_be_bytes());
            }
            stream.write_all(&answer).ok()?;
        }
    }
}
