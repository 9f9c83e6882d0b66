//! Text as it may stand in XML and HTML, in an element or in an attribute in double quotes.
//!
//! Escaped by XML 1.0, section 2.4; characters that XML does not have become "?" (section 2.2: no control
//! character but these two, and neither U+FFFE nor U+FFFF).

pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for sign in text.chars() {
        match sign {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\n' | '\t' => out.push(sign),
            control if control.is_control() || ['\u{FFFE}', '\u{FFFF}'].contains(&control) => {
                out.push('?');
            }
            other => out.push(other),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_cannot_bring_markup() {
        assert_eq!(
            escaped("<b a=\"1\">A & B</b>\u{1}\u{FFFE}\n"),
            "&lt;b a=&quot;1&quot;&gt;A &amp; B&lt;/b&gt;??\n"
        );
    }
}
