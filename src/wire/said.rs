//! What people say: one line that can be shown anywhere, in a log too.

/// The longest text that a person can give, in characters.
pub const LONGEST: usize = 2000;

/// The text as one line, its line breaks as spaces; an error says what is wrong with it.
///
/// Control characters would end a line of a log or steer a terminal; those that turn the direction of writing
/// (Unicode 16.0, UAX #9: LRE to RLO, LRI to PDI) show a text as another one than it is.
pub fn line(text: &str) -> Result<String, String> {
    let count = text.chars().count();
    if count > LONGEST {
        return Err(format!(
            "a text has {LONGEST} characters at most, this one has {count}"
        ));
    }
    let spaced = text.replace("\r\n", " ").replace(['\n', '\r', '\t'], " ");
    let turns = |c: char| matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    match spaced.chars().find(|c| c.is_control() || turns(*c)) {
        None => Ok(spaced),
        Some(c) => Err(format!(
            "a text has the character U+{:04X}, which can't be shown: leave it out",
            u32::from(c)
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_is_one_line_that_can_be_shown() {
        assert_eq!(
            line("Zoë: 3 µS\r\n\tlook").as_deref(),
            Ok("Zoë: 3 µS  look")
        );
        for (text, said) in [
            ("a\u{1b}[2Jb", "U+001B"),
            ("\u{202e}txt", "U+202E"),
            ("a\0", "U+0000"),
            (&"x".repeat(100_000), "100000"),
        ] {
            let refused = line(text).expect_err(said);
            assert!(refused.contains(said), "{refused}");
        }
    }
}
