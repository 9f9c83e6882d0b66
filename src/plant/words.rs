//! A number as the 16-bit words of a device, in its type and word order.
//!
//! The plant's own encoding: bytes are laid down most significant first, then exchanged as the order says.
//! ABCD: as they are. BADC: the two bytes of each word exchanged. CDAB: the words in reverse.
//! DCBA: both. Numbers of four words go by the same rule.
//! Source of the bit patterns: IEEE 754-2019 (binary32, binary64); the order of bytes within one register:
//! Modbus application protocol V1.1b3, section 4.2 (most significant first).

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Number {
    I16,
    U16,
    I32,
    U32,
    F32,
    F64,
}

impl Number {
    /// How many registers it takes.
    pub(super) fn words(self) -> usize {
        match self {
            Number::I16 | Number::U16 => 1,
            Number::I32 | Number::U32 | Number::F32 => 2,
            Number::F64 => 4,
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    Abcd,
    Cdab,
    Badc,
    Dcba,
}

/// The words of one number; four at most.
#[derive(Clone, Copy, Debug)]
pub(super) struct Words {
    words: [u16; 4],
    count: usize,
}

/// The words of a number. An integer is rounded to the nearest and stays at the end of its range, as the
/// output of an analogue card does; not-a-number is the lowest of it.
pub fn encode(value: f64, number: Number, order: Order) -> Vec<u16> {
    Words::of(value, number, order).all().to_vec()
}

impl Words {
    pub fn of(value: f64, number: Number, order: Order) -> Self {
        let (bytes, count) = (most_significant_first(value, number), number.words());
        let (bytes_exchanged, words_reversed) = match order {
            Order::Abcd => (false, false),
            Order::Badc => (true, false),
            Order::Cdab => (false, true),
            Order::Dcba => (true, true),
        };
        let mut words = [0; 4];
        for (word, pair) in words.iter_mut().zip(bytes.chunks_exact(2).take(count)) {
            *word = match bytes_exchanged {
                false => u16::from(pair[0]) << 8 | u16::from(pair[1]),
                true => u16::from(pair[1]) << 8 | u16::from(pair[0]),
            };
        }
        let mut all = Self { words, count };
        if words_reversed {
            all.all_mut().reverse();
        }
        all
    }

    pub fn all(&self) -> &[u16] {
        &self.words[..self.count]
    }

    pub fn all_mut(&mut self) -> &mut [u16] {
        &mut self.words[..self.count]
    }
}

/// `as` from floating point to integer keeps to the ends of the range; of not-a-number it makes 0, which is
/// a plausible reading, so that goes to the low end instead.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "saturating is what is wanted"
)]
fn most_significant_first(value: f64, number: Number) -> [u8; 8] {
    fn laid<const COUNT: usize>(bytes: [u8; COUNT]) -> [u8; 8] {
        let mut all = [0; 8];
        all[..COUNT].copy_from_slice(&bytes);
        all
    }
    let rounded = || match value.is_nan() {
        true => f64::NEG_INFINITY,
        false => value.round(),
    };
    match number {
        Number::I16 => laid((rounded() as i16).to_be_bytes()),
        Number::U16 => laid((rounded() as u16).to_be_bytes()),
        Number::I32 => laid((rounded() as i32).to_be_bytes()),
        Number::U32 => laid((rounded() as u32).to_be_bytes()),
        Number::F32 => laid((value as f32).to_be_bytes()),
        Number::F64 => laid(value.to_be_bytes()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rows of value and words in ABCD, CDAB, BADC, DCBA; IEEE 754-2019 binary32, made with the `struct`
    /// module of the Python standard library.
    #[test]
    fn binary32_in_every_order() {
        let rows: [(f64, [[u16; 2]; 4]); 4] = [
            (
                101_325.0,
                [
                    [0x47C5, 0xE680],
                    [0xE680, 0x47C5],
                    [0xC547, 0x80E6],
                    [0x80E6, 0xC547],
                ],
            ),
            (
                -4137.5,
                [
                    [0xC581, 0x4C00],
                    [0x4C00, 0xC581],
                    [0x81C5, 0x004C],
                    [0x004C, 0x81C5],
                ],
            ),
            (
                12.345,
                [
                    [0x4145, 0x851F],
                    [0x851F, 0x4145],
                    [0x4541, 0x1F85],
                    [0x1F85, 0x4541],
                ],
            ),
            (
                -273.15,
                [
                    [0xC388, 0x9333],
                    [0x9333, 0xC388],
                    [0x88C3, 0x3393],
                    [0x3393, 0x88C3],
                ],
            ),
        ];
        for (value, words) in rows {
            for (order, expected) in [Order::Abcd, Order::Cdab, Order::Badc, Order::Dcba]
                .into_iter()
                .zip(words)
            {
                assert_eq!(
                    encode(value, Number::F32, order),
                    expected,
                    "{value} {order:?}"
                );
            }
        }
    }

    /// Two's complement and plain binary; same origin.
    #[test]
    fn integers_in_every_order() {
        assert_eq!(encode(555.0, Number::U16, Order::Abcd), [0x022B]);
        assert_eq!(encode(-32_768.0, Number::I16, Order::Abcd), [0x8000]);
        assert_eq!(
            encode(123_456_789.0, Number::U32, Order::Cdab),
            [0xCD15, 0x075B]
        );
        assert_eq!(
            encode(-123_456_789.0, Number::I32, Order::Badc),
            [0xA4F8, 0xEB32]
        );
        assert_eq!(
            encode(-123_456_789.0, Number::I32, Order::Dcba),
            [0xEB32, 0xA4F8]
        );
    }

    /// IEEE 754-2019 binary64; same origin.
    #[test]
    fn binary64() {
        assert_eq!(
            encode(9.80665, Number::F64, Order::Abcd),
            [0x4023, 0x9D01, 0x3A92, 0xA305]
        );
        assert_eq!(
            encode(9.80665, Number::F64, Order::Cdab),
            [0xA305, 0x3A92, 0x9D01, 0x4023]
        );
        assert_eq!(
            encode(9.80665, Number::F64, Order::Dcba),
            [0x05A3, 0x923A, 0x019D, 0x2340]
        );
    }

    #[test]
    fn integers_stay_within_their_range() {
        assert_eq!(encode(1e9, Number::I16, Order::Abcd), [0x7FFF]);
        assert_eq!(encode(-1.0, Number::U16, Order::Abcd), [0]);
        assert_eq!(encode(f64::NAN, Number::I16, Order::Abcd), [0x8000]);
        assert!(f32::from_bits(0x7FC0_0000).is_nan());
        assert_eq!(encode(f64::NAN, Number::F32, Order::Abcd), [0x7FC0, 0x0000]);
    }
}
