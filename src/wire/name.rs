//! Names as they stand in topics, labels and addresses.
//!
//! Site and tank names are folded; tags and alarm codes go out as written, their grammar fits a topic.

/// Lower case, letters, digits and `-`: "Alder Rise" becomes `alder-rise`. Whatever else stands between
/// two words becomes one `-`; none stands at an end.
pub fn fold(name: &str) -> String {
    let mut folded = String::with_capacity(name.len());
    for letter in name.chars() {
        if letter.is_alphanumeric() {
            folded.extend(
                letter
                    .to_lowercase()
                    .filter(|lower| lower.is_alphanumeric()),
            );
        } else if !folded.is_empty() && !folded.ends_with('-') {
            folded.push('-');
        }
    }
    if folded.ends_with('-') {
        folded.pop();
    }
    folded
}

#[cfg(test)]
mod tests {
    use super::fold;

    #[test]
    fn folds_to_lower_case_letters_digits_and_hyphens() {
        assert_eq!(fold("Alder Rise"), "alder-rise");
        assert_eq!(fold("  Tank #3 / north+"), "tank-3-north");
        assert_eq!(fold("clearwell"), "clearwell");
        assert_eq!(fold("Wäsche 2"), "wäsche-2");
        assert_eq!(fold("+/#"), "");
    }
}
