//! Site files for worked examples: one tank, its hookup as the example says.
//!
//! It holds no values: the source of each stands beside the check that uses this.

use crate::examples::Example;

/// Air of 1.2 kg/m³, as the examples take it: p = ρRT/M at 20 °C with 8.314 462 6 J/(mol K) and
/// 28.965 46 g/mol (CIPM-2007).
const AIR: &str = r#"{ temperature = "20 degC", pressure = "100977.6 Pa" }"#;

/// One tank called `vessel` in a site of its own; `tank` is what follows the vessel.
pub fn site(gravity_m_s2: f64, transmitters: &str, height_m: f64, tank: &str) -> String {
    format!(
        r#"[site]
name = "Alder Rise"
gravity = "{gravity_m_s2} m/s2"
ambient = {AIR}

[[link]]
name = "skid-a"
tcp = "127.0.0.1:1502"

{transmitters}
[[tank]]
name = "vessel"

[tank.vessel]
shape = "upright-cylinder"
diameter = "2 m"
height = "{height_m} m"

{tank}"#
    )
}

/// A pressure transmitter that is accurate to a tenth of a pascal; `more` are further keys.
pub fn transmitter(tag: &str, register: u16, more: &str) -> String {
    format!(
        r#"[[transmitter]]
tag = "{tag}"
link = "skid-a"
register = "input {register}"
type = "f32"
unit = "Pa"
accuracy = "0.1 Pa"
{more}
"#
    )
}

fn constant(density_kg_m3: f64) -> String {
    format!(r#"{{ kind = "constant", density = "{density_kg_m3} kg/m3" }}"#)
}

/// A derived example that is open to the air.
pub fn vented(example: &Example) -> String {
    let at = |name: &str| example.input(name);
    let tank = format!(
        r#"[tank.liquid]
kind = "constant"
density = "{} kg/m3"

[tank.hookup]
kind = "vented"
transmitter = "LT-1"
at = "{} m"
high = {{ tap = "{} m" }}
"#,
        at("rho_liq"),
        at("z_tx"),
        at("z_lo")
    );
    site(at("g"), &transmitter("LT-1", 0, ""), at("z_hi"), &tank)
}

/// A derived example of a closed vessel: dry, wet or sealed legs by their densities.
pub fn differential(example: &Example, reversed: bool) -> String {
    let at = |name: &str| example.input(name);
    let same = |first: &str, second: &str| at(first).total_cmp(&at(second)).is_eq();
    let low = if same("rho_lleg", "rho_gas") {
        r#""gas""#.to_owned()
    } else {
        constant(at("rho_lleg"))
    };
    let high = if same("rho_hleg", "rho_liq") {
        String::new()
    } else {
        format!(", leg = {}", constant(at("rho_hleg")))
    };
    let tank = format!(
        r#"[tank.liquid]
kind = "constant"
density = "{} kg/m3"

[tank.gas]
density = "{} kg/m3"

[tank.hookup]
kind = "differential"
transmitter = "LT-1"
at = "{} m"
high = {{ tap = "{} m"{high} }}
low = {{ tap = "{} m", leg = {low} }}
reversed = {reversed}
"#,
        at("rho_liq"),
        at("rho_gas"),
        at("z_tx"),
        at("z_lo"),
        at("z_hi")
    );
    site(at("g"), &transmitter("LT-1", 0, ""), at("z_hi"), &tank)
}
