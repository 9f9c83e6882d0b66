//! Addresses: host and port, and where in a device's registers a number stands.

use crate::site::file::Table;
use crate::site::settings::{Register, Space};

/// "host:port"; an IPv6 address stands in brackets.
pub fn host_and_port(text: &str) -> Option<(&str, u16)> {
    let (host, port) = text.rsplit_once(':')?;
    let is_bracketed = host.starts_with('[') && host.ends_with(']');
    let is_plain = !host.is_empty() && !host.contains([':', '/', '@', ' ', '[', ']']);
    let port = port.parse().ok().filter(|port| *port != 0)?;
    (is_bracketed || is_plain).then_some((host, port))
}

/// The address of a key, as it was written.
pub fn endpoint(table: &Table<'_>, name: &'static str) -> Option<String> {
    let text = table.text(name)?;
    if host_and_port(text).is_some() {
        return Some(text.to_owned());
    }
    let problem = table.problem_at(
        name,
        format!("`{name}` must be a host and a port, not \"{text}\""),
    );
    let example = table.example(name);
    table.report(problem.cure(format!(
        "for example {example}; an IPv6 address stands in brackets"
    )));
    None
}

/// The register of a transmitter's number; `words`: how many it takes, where that is known.
pub fn register(table: &Table<'_>, words: Option<u16>) -> Option<Register> {
    let text = table.text("register")?;
    let Some(register) = parse_register(text) else {
        let problem = table.problem_at(
            "register",
            format!("`register` \"{text}\" is no place of a number"),
        );
        table.report(problem.cure(
            "write \"input 0\" or \"holding 0\", zero-based as on the wire (0 to 65535), \
             or one-based \"30001\" or \"40001\"; coils and discrete inputs hold no number",
        ));
        return None;
    };
    let words = words.unwrap_or(1);
    if u32::from(register.address) + u32::from(words) > 65_536 {
        let message = format!(
            "the number takes {words} registers from {} and runs past the last one, 65535",
            register.address
        );
        table.report(
            table
                .problem_at("register", message)
                .cure("check `register` and `type`"),
        );
        return None;
    }
    Some(register)
}

/// The place of a contact's bit: a discrete input, a coil, or a bit of a word.
pub fn bit(table: &Table<'_>) -> Option<(Register, Option<u8>)> {
    let text = table.text("bit")?;
    let bit = parse_bit(text);
    if bit.is_none() {
        let problem = table.problem_at("bit", format!("`bit` \"{text}\" is no place of a bit"));
        table.report(problem.cure(
            "write \"discrete 3\" or \"coil 3\", zero-based as on the wire (0 to 65535), \
             or a bit of a word, 0 the least and 15 the most: \"holding 12.3\" or \"input 12.3\"",
        ));
    }
    bit
}

fn parse_bit(text: &str) -> Option<(Register, Option<u8>)> {
    let (space, place) = text.split_once(' ')?;
    let number = |digits: &str| {
        let plain = digits.bytes().all(|byte| byte.is_ascii_digit());
        plain.then(|| digits.parse::<u16>().ok()).flatten()
    };
    let space = match space {
        "discrete" => Space::Discrete,
        "coil" => Space::Coil,
        "input" => Space::Input,
        "holding" => Space::Holding,
        _ => return None,
    };
    if space.is_bits() {
        let address = number(place)?;
        return Some((Register { space, address }, None));
    }
    let (address, bit) = place.split_once('.')?;
    let (address, bit) = (number(address)?, number(bit)?);
    (bit < 16).then_some((Register { space, address }, Some(bit as u8)))
}

fn parse_register(text: &str) -> Option<Register> {
    if let Some((space, address)) = text.split_once(' ') {
        let space = match space {
            "input" => Space::Input,
            "holding" => Space::Holding,
            _ => return None,
        };
        let digits = address.bytes().all(|byte| byte.is_ascii_digit());
        return digits
            .then(|| address.parse().ok())
            .flatten()
            .map(|address| Register { space, address });
    }
    // One-based references: 3xxxx input, 4xxxx holding; five digits or six.
    if !matches!(text.len(), 5 | 6) || !text.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let space = match text.as_bytes()[0] {
        b'3' => Space::Input,
        b'4' => Space::Holding,
        _ => return None,
    };
    let one_based: u32 = text[1..].parse().ok()?;
    let address = u16::try_from(one_based.checked_sub(1)?).ok()?;
    Some(Register { space, address })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn registers_are_zero_based_as_on_the_wire() {
        let input = |address| {
            Some(Register {
                space: Space::Input,
                address,
            })
        };
        let holding = |address| {
            Some(Register {
                space: Space::Holding,
                address,
            })
        };
        assert_eq!(parse_register("input 0"), input(0));
        assert_eq!(parse_register("holding 65535"), holding(65_535));
        assert_eq!(parse_register("30001"), input(0));
        assert_eq!(parse_register("40010"), holding(9));
        assert_eq!(parse_register("465536"), holding(65_535));
        for wrong in [
            "input -1",
            "input +1",
            "holding 65536",
            "30000",
            "465537",
            "50001",
            "coil 3",
            "input",
            "4",
            "٣٠٠٠١",
        ] {
            assert_eq!(parse_register(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn bits_stand_in_four_tables() {
        let at = |space, address, bit| Some((Register { space, address }, bit));
        assert_eq!(parse_bit("discrete 3"), at(Space::Discrete, 3, None));
        assert_eq!(parse_bit("coil 65535"), at(Space::Coil, 65_535, None));
        assert_eq!(parse_bit("holding 12.3"), at(Space::Holding, 12, Some(3)));
        assert_eq!(parse_bit("input 0.15"), at(Space::Input, 0, Some(15)));
        for wrong in [
            "discrete",
            "discrete 1.2",
            "coil -1",
            "coil 65536",
            "holding 12",
            "holding 12.16",
            "holding .3",
            "holding 12.",
            "10001",
            "register 3.1",
        ] {
            assert_eq!(parse_bit(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn an_address_is_a_host_and_a_port() {
        assert_eq!(host_and_port("127.0.0.1:502"), Some(("127.0.0.1", 502)));
        assert_eq!(host_and_port("[::1]:502"), Some(("[::1]", 502)));
        for wrong in [
            "127.0.0.1",
            ":502",
            "host:0",
            "host:99999",
            "::1:502",
            "a@b:5",
        ] {
            assert_eq!(host_and_port(wrong), None, "{wrong}");
        }
    }
}
