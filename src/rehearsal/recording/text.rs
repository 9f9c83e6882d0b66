//! The text of a CSV file, as a reader of lines wants it: each line ends in a line feed alone, the last one too.

use super::RecordingError;
use std::io::{self, BufRead, BufReader, Read};

/// Carriage returns before line feeds are left out, so that lines are counted as an editor does.
#[derive(Debug)]
pub struct Text<R> {
    source: BufReader<R>,
    /// The last byte that came; a carriage return waits for the next one.
    last: u8,
    state: State,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Running,
    /// It ended; `cut`: without a line feed.
    Ended {
        cut: bool,
    },
}

impl<R: Read> Text<R> {
    /// What is no text at all is refused at once. `file` is for messages.
    pub fn open(source: R, file: &str) -> Result<Self, RecordingError> {
        let mut source = BufReader::with_capacity(1 << 16, source);
        let what = match source.fill_buf()? {
            [] => "it is empty: a line of headers is due",
            [0x1f, 0x8b, ..] | [0x28, 0xb5, 0x2f, 0xfd, ..] | [b'P', b'K', ..] => {
                "it is compressed: unpack it first"
            }
            [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => "it is UTF-16 text: save it as UTF-8",
            bytes if bytes.contains(&0) => "it is no text: a CSV file, in UTF-8, is due",
            _ => {
                return Ok(Self {
                    source,
                    last: b'\n',
                    state: State::Running,
                });
            }
        };
        Err(RecordingError::Of {
            file: file.to_owned(),
            what: what.to_owned(),
        })
    }

    /// The last line has no end: what stands there may be cut.
    pub fn is_cut(&self) -> bool {
        self.state == State::Ended { cut: true }
    }

    /// How many bytes it put at the front of `into`: none at the end, or where all that came waits.
    fn some(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let bytes = self.source.fill_buf()?;
        if bytes.is_empty() {
            self.state = State::Ended {
                cut: self.last != b'\n',
            };
            into[0] = b'\n';
            return Ok(usize::from(self.is_cut()));
        }
        let (mut taken, mut written) = (0, 0);
        for &byte in bytes {
            // One that waits, and the byte itself.
            if written + 2 > into.len() {
                break;
            }
            if self.last == b'\r' && byte != b'\n' {
                into[written] = b'\r';
                written += 1;
            }
            if byte != b'\r' {
                into[written] = byte;
                written += 1;
            }
            self.last = byte;
            taken += 1;
        }
        self.source.consume(taken);
        Ok(written)
    }
}

impl<R: Read> Read for Text<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if into.len() < 2 {
            return Err(io::Error::other("too little room to read a text into"));
        }
        while self.state == State::Running {
            let written = self.some(into)?;
            if written > 0 {
                return Ok(written);
            }
        }
        Ok(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Comes in pieces of so many bytes.
    struct Pieces<'a>(&'a [u8], usize);

    impl Read for Pieces<'_> {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            let count = self.0.len().min(self.1).min(into.len());
            let (piece, rest) = self.0.split_at(count);
            into[..count].copy_from_slice(piece);
            self.0 = rest;
            Ok(count)
        }
    }

    #[test]
    fn every_line_ends_in_a_line_feed_however_it_comes() {
        for (text, is, cut) in [
            ("a,b\r\n1,2\r\n", "a,b\n1,2\n", false),
            ("a,b\n1,2", "a,b\n1,2\n", true),
            ("a\r\n\r\n1\r", "a\n\n1\n", true),
            ("a\rb\r\r\nc\n", "a\rb\r\nc\n", false),
            ("a\n", "a\n", false),
        ] {
            for pieces in 1..6 {
                for room in 2..6 {
                    let source = Pieces(text.as_bytes(), pieces);
                    let mut source = Text::open(source, "data.csv").expect("a text");
                    let (mut all, mut some) = (Vec::new(), vec![0; room]);
                    loop {
                        match source.read(&mut some).expect("read") {
                            0 => break,
                            count => all.extend_from_slice(&some[..count]),
                        }
                    }
                    assert_eq!(
                        String::from_utf8(all).expect("UTF-8"),
                        is,
                        "{pieces} {room}"
                    );
                    assert_eq!(source.is_cut(), cut, "{text:?}");
                }
            }
        }
    }

    #[test]
    fn what_is_no_text_is_named() {
        for (bytes, what) in [
            (&b""[..], "empty"),
            (b"\x1f\x8b\x08\x00", "unpack"),
            (b"\xff\xfet\x00", "UTF-16"),
            (b"t\x00i\x00", "no text"),
        ] {
            let refused = Text::open(bytes, "data.csv").expect_err("it is no text");
            assert!(refused.to_string().contains(what), "{refused}");
        }
    }
}
