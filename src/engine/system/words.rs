//! What is said of the system's parts.

use std::sync::Arc;

pub fn link_failed(link: &str, trouble: &str) -> Arc<str> {
    format!("link {link} failed: {trouble}").into()
}

pub fn link_back(link: &str) -> Arc<str> {
    format!("link {link} answers").into()
}

/// The names of the codes are those of the Modbus application protocol (version 1.1b3, section 7).
pub fn exception(unit: u8, link: &str, code: u8) -> Arc<str> {
    let name = match code {
        1 => " (illegal function)",
        2 => " (illegal data address)",
        3 => " (illegal data value)",
        4 => " (server device failure)",
        6 => " (server device busy)",
        10 => " (gateway path unavailable)",
        11 => " (gateway target device failed to respond)",
        _ => "",
    };
    format!("device {unit} on {link} answers exception {code}{name}").into()
}

pub fn silent(unit: u8, link: &str) -> Arc<str> {
    format!("device {unit} on {link} does not answer, though its link does").into()
}

pub fn answers_again(unit: u8, link: &str) -> Arc<str> {
    format!("device {unit} on {link} answers").into()
}
