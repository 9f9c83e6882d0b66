//! Words ⇄ numbers: how a number lies in 16-bit registers.
//!
//! A register travels high byte first (Modbus Application Protocol V1.1b3, section 4.2); the standard
//! says nothing of numbers longer than one register, so makers differ. Four orders are in use, named by
//! where the bytes of a 32-bit number A B C D, A the most significant, are found (common practice, no
//! source). Of one register only the order of its two bytes is left, of a 64-bit number in four
//! registers CDAB reverses all four words (GHEFCDAB).
//! Numbers are IEEE 754 and two's complement. What is not finite stays not finite; it is not judged here.

use crate::site::settings::{NumberType, WordOrder};

/// The number in `words`; none if they are not as many as the type takes.
pub fn decode(words: &[u16], number: NumberType, order: WordOrder) -> Option<f64> {
    if words.len() != usize::from(number.words()) {
        return None;
    }
    // The words, most significant first, as one integer.
    let bits = in_order(words, order).fold(0_u64, |bits, word| bits << 16 | u64::from(word));
    // Each type is in the low bits; cutting off the rest is meant.
    Some(match number {
        NumberType::I16 => f64::from(bits as u16 as i16),
        NumberType::U16 => f64::from(bits as u16),
        NumberType::I32 => f64::from(bits as u32 as i32),
        NumberType::U32 => f64::from(bits as u32),
        NumberType::F32 => f64::from(f32::from_bits(bits as u32)),
        NumberType::F64 => f64::from_bits(bits),
    })
}

/// The words of a number, rounded to the nearest that the type can hold; none if it can't: an integer
/// type beyond its range or not finite, a 32-bit float beyond its range.
pub fn encode(value: f64, number: NumberType, order: WordOrder) -> Option<Vec<u16>> {
    let integer = |lowest: f64, highest: f64| {
        let rounded = value.round();
        (lowest..=highest)
            .contains(&rounded)
            .then_some(rounded as i64 as u64)
    };
    let bits = match number {
        NumberType::I16 => integer(i16::MIN.into(), i16::MAX.into())?,
        NumberType::U16 => integer(0.0, u16::MAX.into())?,
        NumberType::I32 => integer(i32::MIN.into(), i32::MAX.into())?,
        NumberType::U32 => integer(0.0, u32::MAX.into())?,
        NumberType::F32 => {
            let short = value as f32;
            if value.is_finite() && !short.is_finite() {
                return None;
            }
            u64::from(short.to_bits())
        }
        NumberType::F64 => value.to_bits(),
    };
    let count = u32::from(number.words());
    let words: Vec<u16> = (0..count)
        .rev()
        .map(|place| (bits >> (16 * place)) as u16)
        .collect();
    // Each order is its own inverse.
    Some(in_order(&words, order).collect())
}

/// Words as they lie → words most significant first, each high byte first; and back.
fn in_order(words: &[u16], order: WordOrder) -> impl Iterator<Item = u16> {
    let (words_reversed, bytes_swapped) = match order {
        WordOrder::Abcd => (false, false),
        WordOrder::Cdab => (true, false),
        WordOrder::Badc => (false, true),
        WordOrder::Dcba => (true, true),
    };
    let count = words.len();
    (0..count).map(move |place| {
        let word = words[if words_reversed {
            count - 1 - place
        } else {
            place
        }];
        if bytes_swapped {
            word.swap_bytes()
        } else {
            word
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const TYPES: [NumberType; 6] = [
        NumberType::I16,
        NumberType::U16,
        NumberType::I32,
        NumberType::U32,
        NumberType::F32,
        NumberType::F64,
    ];
    const ORDERS: [WordOrder; 4] = [
        WordOrder::Abcd,
        WordOrder::Cdab,
        WordOrder::Badc,
        WordOrder::Dcba,
    ];

    #[test]
    fn a_wrong_count_of_words_is_no_number() {
        for number in TYPES {
            for count in (0..6).filter(|count| *count != usize::from(number.words())) {
                assert_eq!(decode(&vec![0; count], number, WordOrder::Abcd), None);
            }
        }
    }

    #[test]
    fn what_is_not_finite_stays_so() {
        for order in ORDERS {
            for number in [NumberType::F32, NumberType::F64] {
                for value in [f64::INFINITY, f64::NEG_INFINITY, f64::NAN] {
                    let words = encode(value, number, order).expect("a float type holds it");
                    let back = decode(&words, number, order).expect("as many words as it takes");
                    assert_eq!(back.is_nan(), value.is_nan());
                    assert!(value.is_nan() || back.to_bits() == value.to_bits());
                }
            }
        }
    }

    #[test]
    fn a_type_refuses_what_it_cannot_hold() {
        let refused = |value, number| encode(value, number, WordOrder::Abcd).is_none();
        assert!(refused(32768.0, NumberType::I16) && refused(-32769.0, NumberType::I16));
        assert!(refused(-1.0, NumberType::U16) && refused(65536.0, NumberType::U16));
        assert!(
            refused(2_147_483_648.0, NumberType::I32) && refused(4_294_967_296.0, NumberType::U32)
        );
        assert!(refused(1e39, NumberType::F32) && refused(f64::NAN, NumberType::U32));
        assert_eq!(
            encode(-0.4, NumberType::U16, WordOrder::Abcd),
            Some(vec![0])
        );
        assert_eq!(
            encode(11.6, NumberType::U16, WordOrder::Dcba),
            Some(vec![0x0C00])
        );
    }

    proptest! {
        #[test]
        fn any_words_are_read_and_written_back(
            words in prop::array::uniform4(any::<u16>()),
            number in prop::sample::select(&TYPES[..]),
            order in prop::sample::select(&ORDERS[..]),
        ) {
            let words = &words[..usize::from(number.words())];
            let value = decode(words, number, order).expect("as many words as it takes");
            // A not-a-number has more than one form; which one is not kept.
            if !value.is_nan() {
                prop_assert_eq!(encode(value, number, order).expect("it was read from this type"), words);
            }
        }
    }
}
