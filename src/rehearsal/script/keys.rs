//! The keys of the script, one line each.

use crate::quantity::Dimension::{Density, Flow, Length, Pressure, Temperature, Time};
use crate::site::key::Form::{Boolean, Choice, Quantity, Table, Tables, Text, Whole};
use crate::site::key::{Key, here, key, later, not_yet};

#[rustfmt::skip]
pub(super) static KEYS: &[Key] = &[
    // ---- the file ----
    key("", "site", Text, "\"../alder-rise.toml\"", "the site file, from where the script is").required(),
    key("", "seed", Whole, "7", "settles all noise").default("1"),
    key("", "last", Text, "\"02:00:00\"", "when it ends"),
    key("", "tank", Tables("tank"), "", "what a tank starts from"),
    key("", "at", Tables("at"), "", "what happens when"),
    not_yet("", "expect"),
    // ---- [[tank]] ----
    key("tank", "name", Text, "\"clearwell\"", "the tank, as the site file names it").required(),
    key("tank", "level", Quantity(Length), "\"3.0 m\"", "level at the start; the middle of its range if left out"),
    key("tank", "inflow", Quantity(Flow), "\"40 m3/h\"", "at the start").not_negative(),
    key("tank", "outflow", Quantity(Flow), "\"40 m3/h\"", "at the start").not_negative(),
    key("tank", "headspace", Quantity(Pressure), "\"12 kPa(g)\"", "pressure at the top of the vessel, at the start"),
    key("tank", "liquid_temperature", Quantity(Temperature), "\"12 degC\"", "at the start"),
    key("tank", "true", Table("tank.true"), "{ density = \"998 kg/m3\" }", "what differs from the site file"),
    key("tank.true", "density", Quantity(Density), "\"998 kg/m3\"", "of the liquid").above_zero(),
    key("tank.true", "leg_density", Quantity(Density), "\"1060 kg/m3\"", "of the seal liquid in its legs").above_zero(),
    key("tank.true", "transmitter_zero", Quantity(Pressure), "\"0.2 kPa\"", "what its transmitter reads with both sides equalised"),
    key("tank.true", "noise", Quantity(Pressure), "\"0.02 kPa\"", "standard deviation, of all its pressures").not_negative(),
    // ---- [[at]] ----
    key("at", "time", Text, "\"00:05:00\"", "from the start: hours, minutes, seconds").required(),
    key("at", "until", Text, "\"00:06:00\"", "makes a ramp, or ends a fault"),
    key("at", "every", Quantity(Time), "\"10 min\"", "happens again so often").above_zero(),
    not_yet("at", "jitter"),
    key("at", "tank", Text, "\"clearwell\"", "where it happens"),
    key("at", "transmitter", Text, "\"PDT-101\"", "where it happens"),
    key("at", "link", Text, "\"skid-a\"", "where it happens"),
    key("at", "inflow", Quantity(Flow), "\"40 m3/h\"", "into the tank").not_negative(),
    key("at", "outflow", Quantity(Flow), "\"40 m3/h\"", "out of the tank").not_negative(),
    key("at", "headspace", Quantity(Pressure), "\"12 kPa(g)\"", "pressure at the top of the vessel"),
    key("at", "liquid_temperature", Quantity(Temperature), "\"12 degC\"", "of the tank"),
    not_yet("at", "ambient"),
    not_yet("at", "agitation"),
    not_yet("at", "foam"),
    key("at", "fault", Table("at.fault"), "{ plugged = \"high\" }", "what is wrong from then on"),
    key("at", "command", Table("at.command"), "{ ack = \"clearwell LAH\", by = \"Ada\" }", "what somebody asks"),
    // ---- fault = { … } ----
    key("at.fault", "plugged", Choice(&[here("high"), here("low"), here("both")]), "\"high\"", "a side's pressure is trapped"),
    key("at.fault", "wet_leg_lost", Quantity(Length), "\"0.3 m\"", "height gone from the top of the low leg's fill").above_zero(),
    key("at.fault", "condensate", Quantity(Length), "\"0.2 m\"", "height of liquid in the dry low leg").above_zero(),
    key("at.fault", "equaliser", Choice(&[here("open"), later("leaking")]), "\"open\"", "high and low side are joined"),
    key("at.fault", "frozen", Boolean, "true", "the number stays"),
    key("at.fault", "nan", Boolean, "true", "the register says failure"),
    key("at.fault", "drift", Text, "\"0.5 kPa / 1 h\"", "the number runs away"),
    key("at.fault", "silent", Quantity(Time), "\"20 s\"", "nothing on the link answers for so long").above_zero(),
    key("at.fault", "exception", Quantity(Time), "\"20 s\"", "the link answers exceptions for so long").above_zero(),
    key("at.fault", "code", Whole, "4", "which exception").default("4"),
    not_yet("at.fault", "lag"),
    not_yet("at.fault", "low_leg_flooded"),
    not_yet("at.fault", "reset"),
    not_yet("at.fault", "late"),
    not_yet("at.fault", "torn"),
    not_yet("at.fault", "swapped"),
    // ---- command = { … } ----
    key("at.command", "ack", Text, "\"clearwell LAH\"", "tank and code of the alarm to acknowledge").required(),
    key("at.command", "by", Text, "\"Ada\"", "who asks").required(),
];
