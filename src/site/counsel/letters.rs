//! What an alarm's code says by the letters of ANSI/ISA-5.1: `LAHH` is a high-high alarm of the level.

/// How far out an alarm stands, by its code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Letters {
    pub is_high: bool,
    /// Two of `LAHH`.
    pub count: usize,
}

/// None where the code is not of that form: an A with nothing but H's or L's behind it, at the end of the
/// letters that the code begins with.
pub fn letters(code: &str) -> Option<Letters> {
    let end = code.find(|c: char| !c.is_ascii_uppercase());
    let head = &code[..end.unwrap_or(code.len())];
    let (before, last) = head.rsplit_once('A')?;
    let of = |letter: char, is_high: bool| {
        let only = !last.is_empty() && last.chars().all(|c| c == letter);
        only.then_some(Letters {
            is_high,
            count: last.len(),
        })
    };
    // The measured quantity comes first: one letter, at most with a modifier (PDAH).
    let measured = (1..=2).contains(&before.len());
    of('H', true).or(of('L', false)).filter(|_| measured)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_of_the_standard_are_understood_and_words_are_not() {
        let of = |code| letters(code).map(|letters| (letters.is_high, letters.count));
        assert_eq!(of("LAH"), Some((true, 1)));
        assert_eq!(of("LAHH-101"), Some((true, 2)));
        assert_eq!(of("LALL"), Some((false, 2)));
        assert_eq!(of("PDAL"), Some((false, 1)));
        for word in ["FILL-HIGH", "LA", "RATE", "VOLUME-LOW", "AH", "LAHL", ""] {
            assert_eq!(of(word), None, "{word}");
        }
    }
}
