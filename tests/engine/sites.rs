//! The texts of small sites: one tank of 10 m² and 4 m, its transmitter's register in Pa.

/// The site, a link, a transmitter `LT` of pressure; `keys` are further ones of the transmitter.
pub fn head(measures: &str, keys: &str) -> String {
    format!(
        r#"
[site]
name    = "Alder Rise"
gravity = "9.81 m/s2"
ambient = {{ temperature = "15 degC", pressure = "1013.25 hPa" }}

[[link]]
name       = "skid-a"
tcp        = "127.0.0.1:1502"
poll_every = "1 s"

[[transmitter]]
tag      = "LT"
link     = "skid-a"
register = "input 0"
type     = "f64"
measures = "{measures}"
unit     = "Pa"
accuracy = "20 Pa"
{keys}
"#
    )
}

/// The tank, with liquid and hookup as given.
pub fn tank(liquid: &str, hookup: &str) -> String {
    format!(
        r#"
[[tank]]
name   = "day"
vessel = {{ shape = "rectangular", length = "5 m", width = "2 m", height = "4 m" }}
liquid = {liquid}
hookup = {hookup}
"#
    )
}

pub const HEAVY: &str = r#"{ kind = "constant", density = "1000 kg/m3" }"#;
pub const VENTED: &str = r#"{ kind = "vented", transmitter = "LT", at = "0.10 m" }"#;
/// The diaphragm at the high tap, so that a flooded leg reads "at or below the tap".
pub const DRY: &str = r#"{ kind = "differential", transmitter = "LT", at = "0.20 m", high = { tap = "0.20 m" }, low = { tap = "3.60 m", leg = "gas" } }"#;
pub const WET: &str = r#"{ kind = "differential", transmitter = "LT", at = "0.00 m", high = { tap = "0.20 m" }, low = { tap = "3.60 m", leg = { kind = "constant", density = "1080 kg/m3" } } }"#;

/// A level alarm: `limit` is `above = "…"` or `below = "…"`, `keys` further lines.
pub fn alarm(code: &str, limit: &str, keys: &str) -> String {
    format!(
        r#"
[[tank.alarm]]
code     = "{code}"
watch    = "level"
{limit}
deadband = "0.05 m"
{keys}
"#
    )
}

pub fn low(keys: &str) -> String {
    alarm("LAL", "below = \"0.50 m\"", keys)
}

pub fn high(keys: &str) -> String {
    alarm("LAH", "above = \"3.50 m\"", keys)
}

/// The vented tank with these alarms and further tables.
pub fn vented(tables: &str) -> String {
    head("gauge", "") + &tank(HEAVY, VENTED) + tables
}

/// A closed tank on a differential transmitter.
pub fn closed(hookup: &str, tables: &str) -> String {
    head("differential", "") + &tank(HEAVY, hookup) + tables
}

/// Streams of 36 m³/h each way, 1 mm/s of level, and the jump check on them.
pub const JUMP: &str = r#"
[[tank.stream]]
name      = "inlet"
direction = "in"
at_most   = "36 m3/h"

[[tank.stream]]
name      = "outlet"
direction = "out"
at_most   = "36 m3/h"

[tank.checks]
jump = {}
"#;

/// Streams with meters of their own, FT-201 in and FT-202 out, in m³/h.
pub const METERED: &str = r#"
[[tank.stream]]
name = "inlet"
direction = "in"
flow = "FT-201"

[[tank.stream]]
name = "draw"
direction = "out"
flow = "FT-202"

[[transmitter]]
tag      = "FT-201"
link     = "skid-a"
reads    = "flow"
register = "input 8"
type     = "f64"
unit     = "m3/h"

[[transmitter]]
tag      = "FT-202"
link     = "skid-a"
reads    = "flow"
register = "input 12"
type     = "f64"
unit     = "m3/h"
"#;
