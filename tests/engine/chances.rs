//! The scenes that budgets are held against chance in: every hookup, on vessels whose surface depends on the
//! level too. All numbers are made up; what is checked is how they go together.

pub struct Scene {
    pub name: &'static str,
    gravity: &'static str,
    ambient: &'static str,
    transmitters: &'static str,
    tank: &'static str,
    /// What each transmitter shows, in SI units.
    set: &'static [(&'static str, f64)],
    /// Lines that its budget must have.
    pub lines: &'static [&'static str],
    /// Rows of the vessel's strapping table, m and m³, where it has one.
    pub table: &'static [(f64, f64)],
    /// Whether the density of the outside air is drawn too: where nothing else depends on its pressure.
    pub air_is_drawn: bool,
}

impl Scene {
    pub fn site(&self) -> String {
        let Self {
            gravity,
            ambient,
            transmitters,
            tank,
            ..
        } = self;
        format!(
            "[site]\nname = \"Alder Rise\"\ngravity = {gravity}\n{ambient}\n\
             [[link]]\nname = \"a\"\ntcp = \"127.0.0.1:1502\"\n{transmitters}\n\
             [[tank]]\nname = \"chance\"\n{tank}"
        )
    }

    pub fn shown(&self, tag: &str) -> f64 {
        let (_, shown) = (self.set.iter().find(|(of, _)| *of == tag))
            .unwrap_or_else(|| panic!("{}: {tag} shows nothing", self.name));
        *shown
    }
}

pub const SCENES: &[Scene] = &[
    Scene {
        name: "vented, a liquid and a shell that expand with a measured temperature",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "PT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "gauge"
span = ["0 kPa", "60 kPa"]
accuracy = "0.5 %"
[[transmitter]]
tag = "TT-1"
link = "a"
register = "input 2"
type = "f32"
unit = "degC"
reads = "temperature"
accuracy = "3 K""#,
        tank: r#"vessel = { shape = "upright-cylinder", diameter = "4 m", height = "6 m", shell = { expansion = "1e-4 /K", reference = "20 degC" } }
liquid = { kind = "expanding", density = "850 kg/m3", at = "15 degC", coefficient = "9e-4 /K", uncertainty = "4 kg/m3", temperature = "TT-1" }
[tank.hookup]
kind = "vented"
transmitter = "PT-1"
at = "-0.4 m"
high = { tap = "0.3 m" }
elevations = { uncertainty = "6 mm" }"#,
        set: &[("PT-1", 32000.0), ("TT-1", 318.15)],
        lines: &[
            "liquid temperature",
            "liquid density",
            "gravity",
            "transmitter accuracy",
        ],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "a dry leg under a gas whose pressure and temperature are measured",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "PDT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "differential"
span = ["-70 kPa", "70 kPa"]
accuracy = "0.3 %"
temperature_effect = "0.1 % / 10 K"
stability = "0.2 % / 1 y"
resolution = "0.2 kPa"
[[transmitter]]
tag = "PT-2"
link = "a"
register = "input 2"
type = "f32"
unit = "kPa(g)"
accuracy = "4 kPa"
[[transmitter]]
tag = "TT-2"
link = "a"
register = "input 4"
type = "f32"
unit = "degC"
reads = "temperature"
accuracy = "12 K""#,
        tank: r#"vessel = { shape = "upright-cylinder", diameter = "4 m", height = "6 m" }
liquid = { kind = "constant", density = "640 kg/m3", uncertainty = "2 kg/m3" }
gas = { molar_mass = "120 g/mol", pressure = "PT-2", temperature = "TT-2" }
[tank.hookup]
kind = "differential"
transmitter = "PDT-1"
at = "0.1 m"
high = { tap = "0.2 m" }
low = { tap = "5.8 m", leg = "gas" }
elevations = { uncertainty = "3 mm" }"#,
        set: &[("PDT-1", 16000.0), ("PT-2", 90000.0), ("TT-2", 320.0)],
        lines: &[
            "gas pressure",
            "gas temperature",
            "gas density",
            "transmitter stability",
            "transmitter temperature effect",
            "transmitter resolution",
        ],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "a wet leg beside a lying cylinder, its high leg with the tank's own liquid",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "PDT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "differential"
span = ["-70 kPa", "70 kPa"]
accuracy = "0.3 %"
temperature_effect = "0.1 % / 10 K"
stability = "0.2 % / 1 y"
resolution = "0.2 kPa""#,
        tank: r#"vessel = { shape = "horizontal-cylinder", diameter = "3 m", length = "8 m", heads = { head = "ellipsoid" } }
liquid = { kind = "constant", density = "870 kg/m3", uncertainty = "8 kg/m3" }
gas = { density = "6 kg/m3" }
[tank.hookup]
kind = "differential"
transmitter = "PDT-1"
at = "-1 m"
high = { tap = "0.2 m" }
low = { tap = "2.9 m", leg = { kind = "constant", density = "1060 kg/m3", uncertainty = "6 kg/m3" } }
elevations = { uncertainty = "10 mm" }"#,
        set: &[("PDT-1", -26000.0)],
        lines: &["liquid density", "low leg density", "low tap elevation"],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "two seals on one fill, the transmitter far below",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "PDT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "differential"
span = ["-70 kPa", "70 kPa"]
accuracy = "0.3 %"
temperature_effect = "0.1 % / 10 K"
stability = "0.2 % / 1 y"
resolution = "0.2 kPa""#,
        tank: r#"vessel = { shape = "upright-cylinder", diameter = "4 m", height = "6 m" }
liquid = { kind = "constant", density = "1000 kg/m3", uncertainty = "3 kg/m3" }
gas = { density = "1.2 kg/m3" }
[tank.hookup]
kind = "differential"
transmitter = "PDT-1"
at = "-6 m"
high = { tap = "0.5 m", leg = { kind = "constant", density = "930 kg/m3", uncertainty = "15 kg/m3" } }
low = { tap = "5.5 m", leg = { kind = "constant", density = "930 kg/m3", uncertainty = "15 kg/m3" } }
elevations = { uncertainty = "4 mm" }"#,
        set: &[("PDT-1", -20000.0)],
        lines: &["high leg density"],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "a reversed differential on a steeply sloped cylinder, corrected",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "PDT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "differential"
span = ["-70 kPa", "70 kPa"]
accuracy = "0.3 %"
temperature_effect = "0.1 % / 10 K"
stability = "0.2 % / 1 y"
resolution = "0.2 kPa""#,
        tank: r#"vessel = { shape = "horizontal-cylinder", diameter = "3 m", length = "4 m", slope = "20 deg" }
liquid = { kind = "constant", density = "900 kg/m3", uncertainty = "5 kg/m3" }
gas = { density = "2 kg/m3" }
[tank.hookup]
kind = "differential"
transmitter = "PDT-1"
at = "-1 m"
reversed = true
high = { tap = "0.2 m" }
low = { tap = "3.2 m", leg = { kind = "constant", density = "1000 kg/m3", uncertainty = "6 kg/m3" } }
elevations = { uncertainty = "12 mm" }
correction = { gain = 1.05, offset = "-20 mm" }"#,
        set: &[("PDT-1", 20000.0)],
        lines: &["liquid density", "low leg density"],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "two gauges on a tank with a strapping table",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "PT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "gauge"
span = ["0 kPa", "150 kPa"]
accuracy = "0.1 %"
[[transmitter]]
tag = "PT-2"
link = "a"
register = "input 2"
type = "f32"
unit = "kPa"
measures = "gauge"
span = ["0 kPa", "150 kPa"]
accuracy = "0.1 %"
temperature_effect = "0.1 % / 10 K""#,
        tank: r#"vessel = { shape = "strapping", rows = [["0.0 m", "5.0 m3"], ["1.0 m", "10.5 m3"], ["2.0 m", "18.5 m3"], ["3.0 m", "29.5 m3"], ["4.0 m", "44.5 m3"]], uncertainty = "0.3 m3" }
liquid = { kind = "constant", density = "1000 kg/m3", uncertainty = "4 kg/m3" }
gas = { molar_mass = "28 g/mol", pressure = "PT-2" }
[tank.hookup]
kind = "two-transmitter"
bottom = { transmitter = "PT-1", at = "0.1 m" }
headspace = { transmitter = "PT-2", at = "4.2 m" }
elevations = { uncertainty = "5 mm" }"#,
        set: &[("PT-1", 75000.0), ("PT-2", 50000.0)],
        lines: &["headspace transmitter accuracy", "strapping table"],
        table: &[
            (0.0, 5.0),
            (1.0, 10.5),
            (2.0, 18.5),
            (3.0, 29.5),
            (4.0, 44.5),
        ],
        air_is_drawn: false,
    },
    Scene {
        name: "a gauge at the bottom, an absolute one in the headspace, and a barometer",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC", pressure = "PT-3", at = "1.5 m" }"#,
        transmitters: r#"[[transmitter]]
tag = "PT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "gauge"
span = ["0 kPa", "150 kPa"]
accuracy = "0.1 %"
[[transmitter]]
tag = "PT-2"
link = "a"
register = "input 2"
type = "f32"
unit = "kPa"
measures = "absolute"
accuracy = "0.1 kPa"
[[transmitter]]
tag = "PT-3"
link = "a"
register = "input 4"
type = "f32"
unit = "hPa"
measures = "absolute"
accuracy = "2 hPa""#,
        tank: r#"vessel = { shape = "horizontal-cylinder", diameter = "3 m", length = "8 m", heads = { head = "ellipsoid" } }
liquid = { kind = "constant", density = "1000 kg/m3", uncertainty = "4 kg/m3" }
gas = { density = "1.5 kg/m3" }
[tank.hookup]
kind = "two-transmitter"
bottom = { transmitter = "PT-1", at = "0.1 m" }
headspace = { transmitter = "PT-2", at = "3 m" }
elevations = { uncertainty = "5 mm" }"#,
        set: &[("PT-1", 70000.0), ("PT-2", 151000.0), ("PT-3", 100500.0)],
        lines: &["barometer accuracy", "headspace transmitter accuracy"],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "three transmitters that measure the density",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "PT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "gauge"
span = ["0 kPa", "150 kPa"]
accuracy = "0.05 %"
[[transmitter]]
tag = "PT-2"
link = "a"
register = "input 2"
type = "f32"
unit = "kPa"
measures = "gauge"
span = ["0 kPa", "150 kPa"]
accuracy = "0.05 %"
[[transmitter]]
tag = "PT-3"
link = "a"
register = "input 4"
type = "f32"
unit = "kPa"
measures = "gauge"
span = ["0 kPa", "150 kPa"]
accuracy = "0.05 %""#,
        tank: r#"vessel = { shape = "upright-cylinder", diameter = "4 m", height = "6 m" }
liquid = { kind = "constant", density = "820 kg/m3", uncertainty = "30 kg/m3" }
gas = { density = "1.5 kg/m3" }
[tank.hookup]
kind = "three-transmitter"
bottom = { transmitter = "PT-1", at = "-0.6 m", tap = "0.2 m" }
middle = { transmitter = "PT-2", at = "1.6 m", tap = "1.7 m", leg = { kind = "constant", density = "900 kg/m3", uncertainty = "40 kg/m3" } }
headspace = { transmitter = "PT-3", at = "5.8 m" }
margin = "0.2 m"
elevations = { uncertainty = "4 mm" }"#,
        set: &[("PT-1", 58153.2), ("PT-2", 40090.6), ("PT-3", 20000.0)],
        lines: &[
            "middle transmitter accuracy",
            "middle tap elevation",
            "middle leg density",
            "high leg density",
        ],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "three transmitters on a lying cylinder",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "PT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "gauge"
span = ["0 kPa", "150 kPa"]
accuracy = "0.05 %"
[[transmitter]]
tag = "PT-2"
link = "a"
register = "input 2"
type = "f32"
unit = "kPa"
measures = "gauge"
span = ["0 kPa", "150 kPa"]
accuracy = "0.05 %"
[[transmitter]]
tag = "PT-3"
link = "a"
register = "input 4"
type = "f32"
unit = "kPa"
measures = "gauge"
span = ["0 kPa", "150 kPa"]
accuracy = "0.05 %""#,
        tank: r#"vessel = { shape = "horizontal-cylinder", diameter = "5.6 m", length = "9 m", heads = { head = "dish", depth = "0.8 m" } }
liquid = { kind = "constant", density = "820 kg/m3", uncertainty = "30 kg/m3" }
gas = { density = "1.5 kg/m3" }
[tank.hookup]
kind = "three-transmitter"
bottom = { transmitter = "PT-1", at = "-0.6 m", tap = "0.2 m" }
middle = { transmitter = "PT-2", at = "1.6 m", tap = "1.7 m", leg = { kind = "constant", density = "900 kg/m3", uncertainty = "40 kg/m3" } }
headspace = { transmitter = "PT-3", at = "5.8 m" }
margin = "0.2 m"
elevations = { uncertainty = "4 mm" }"#,
        set: &[("PT-1", 61483.2), ("PT-2", 43420.6), ("PT-3", 20000.0)],
        lines: &["middle transmitter accuracy"],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "three transmitters, the level below the middle one: the stated density",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "PT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "gauge"
span = ["0 kPa", "150 kPa"]
accuracy = "0.05 %"
[[transmitter]]
tag = "PT-2"
link = "a"
register = "input 2"
type = "f32"
unit = "kPa"
measures = "gauge"
span = ["0 kPa", "150 kPa"]
accuracy = "0.05 %"
[[transmitter]]
tag = "PT-3"
link = "a"
register = "input 4"
type = "f32"
unit = "kPa"
measures = "gauge"
span = ["0 kPa", "150 kPa"]
accuracy = "0.05 %""#,
        tank: r#"vessel = { shape = "upright-cylinder", diameter = "4 m", height = "6 m" }
liquid = { kind = "constant", density = "820 kg/m3", uncertainty = "12 kg/m3" }
gas = { density = "1.5 kg/m3" }
[tank.hookup]
kind = "three-transmitter"
bottom = { transmitter = "PT-1", at = "-0.6 m", tap = "0.2 m" }
middle = { transmitter = "PT-2", at = "1.6 m", tap = "1.7 m", leg = { kind = "constant", density = "900 kg/m3", uncertainty = "40 kg/m3" } }
headspace = { transmitter = "PT-3", at = "5.8 m" }
margin = "0.2 m"
elevations = { uncertainty = "4 mm" }"#,
        set: &[("PT-1", 34598.2), ("PT-2", 20943.4), ("PT-3", 20000.0)],
        lines: &["liquid density", "headspace transmitter accuracy"],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "a dip tube in an open sphere, its purge losing pressure",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "PT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "gauge"
span = ["0 kPa", "40 kPa"]
accuracy = "0.3 %""#,
        tank: r#"vessel = { shape = "sphere", diameter = "3 m" }
liquid = { kind = "constant", density = "1100 kg/m3", uncertainty = "8 kg/m3" }
[tank.hookup]
kind = "dip-tube"
transmitter = "PT-1"
at = "30 m"
tube_end = "0.15 m"
purge = { molar_mass = "146 g/mol" }
friction = { pressure = "1.2 kPa", uncertainty = "0.2 kPa" }
elevations = { uncertainty = "5 mm" }"#,
        set: &[("PT-1", 22000.0)],
        lines: &["purge friction", "purge gas density", "tube end elevation"],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "a dip tube against the headspace",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "PDT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "differential"
span = ["-70 kPa", "70 kPa"]
accuracy = "0.3 %"
temperature_effect = "0.1 % / 10 K"
stability = "0.2 % / 1 y"
resolution = "0.2 kPa""#,
        tank: r#"vessel = { shape = "horizontal-cylinder", diameter = "3 m", length = "8 m", heads = { head = "ellipsoid" } }
liquid = { kind = "constant", density = "1100 kg/m3", uncertainty = "8 kg/m3" }
gas = { molar_mass = "60 g/mol", pressure = "60 kPa(g)" }
[tank.hookup]
kind = "dip-tube"
transmitter = "PDT-1"
at = "4 m"
tube_end = "0.15 m"
purge = { molar_mass = "40 g/mol" }
low = { tap = "3.1 m", leg = "gas" }
elevations = { uncertainty = "5 mm" }"#,
        set: &[("PDT-1", 18000.0)],
        lines: &["purge gas density", "tube end elevation"],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "an absolute transmitter under the liquid of a sloped cylinder, and a barometer",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC", pressure = "PT-3", at = "1.5 m" }"#,
        transmitters: r#"[[transmitter]]
tag = "PT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "absolute"
span = ["80 kPa", "160 kPa"]
accuracy = "0.1 %"
[[transmitter]]
tag = "PT-3"
link = "a"
register = "input 4"
type = "f32"
unit = "hPa"
measures = "absolute"
accuracy = "1 hPa"
stability = "1 hPa / 1 y""#,
        tank: r#"vessel = { shape = "horizontal-cylinder", diameter = "3 m", length = "4 m", slope = "20 deg" }
liquid = { kind = "constant", density = "1000 kg/m3", uncertainty = "6 kg/m3" }
[tank.hookup]
kind = "barometer"
transmitter = "PT-1"
at = "0.1 m"
elevations = { uncertainty = "10 mm" }"#,
        set: &[("PT-1", 117000.0), ("PT-3", 100500.0)],
        lines: &[
            "barometer accuracy",
            "barometer stability",
            "transmitter accuracy",
        ],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "the boundary of two liquids, its low leg filled with the upper one",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "PDT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "differential"
span = ["-20 kPa", "20 kPa"]
accuracy = "0.3 %"
temperature_effect = "0.1 % / 10 K"
stability = "0.2 % / 1 y"
resolution = "0.02 kPa"
[[transmitter]]
tag = "TT-1"
link = "a"
register = "input 2"
type = "f32"
unit = "degC"
reads = "temperature"
accuracy = "2 K""#,
        tank: r#"vessel = { shape = "horizontal-cylinder", diameter = "3 m", length = "8 m", heads = { head = "ellipsoid" } }
liquid = { kind = "expanding", density = "860 kg/m3", at = "15 degC", coefficient = "8e-4 /K", uncertainty = "4 kg/m3", temperature = "TT-1" }
[tank.hookup]
kind = "interface"
transmitter = "PDT-1"
at = "-0.5 m"
high = { tap = "0.2 m" }
low = { tap = "2.8 m", leg = { kind = "expanding", density = "860 kg/m3", at = "15 degC", coefficient = "8e-4 /K", uncertainty = "4 kg/m3", temperature = "TT-1" } }
lower = { kind = "constant", density = "1020 kg/m3", uncertainty = "4 kg/m3" }
upper = { kind = "expanding", density = "860 kg/m3", at = "15 degC", coefficient = "8e-4 /K", uncertainty = "4 kg/m3", temperature = "TT-1" }
elevations = { uncertainty = "5 mm" }"#,
        set: &[("PDT-1", 2700.0), ("TT-1", 303.15)],
        lines: &[
            "lower liquid density",
            "upper liquid density",
            "liquid temperature",
        ],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "a level in percent, ranged for another density",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "LT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "%"
reads = "level"
span = ["0 %", "100 %"]
accuracy = "0.5 %""#,
        tank: r#"vessel = { shape = "horizontal-cylinder", diameter = "3 m", length = "8 m", heads = { head = "ellipsoid" } }
liquid = { kind = "constant", density = "930 kg/m3", uncertainty = "8 kg/m3" }
[tank.hookup]
kind = "level"
transmitter = "LT-1"
zero = "0.2 m"
full = "2.8 m"
ranged_for = { density = "1000 kg/m3" }
elevations = { uncertainty = "10 mm" }"#,
        set: &[("LT-1", 0.42)],
        lines: &["transmitter accuracy", "liquid density", "zero elevation"],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "a level in metres, ranged for another density",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "LT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "m"
reads = "level"
accuracy = "8 mm""#,
        tank: r#"vessel = { shape = "upright-cylinder", diameter = "4 m", height = "6 m" }
liquid = { kind = "constant", density = "800 kg/m3", uncertainty = "8 kg/m3" }
[tank.hookup]
kind = "level"
transmitter = "LT-1"
zero = "0.2 m"
ranged_for = { density = "1000 kg/m3" }
elevations = { uncertainty = "60 mm" }"#,
        set: &[("LT-1", 3.1)],
        lines: &["transmitter accuracy", "liquid density", "zero elevation"],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "a level in metres, ranged for this very liquid",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "LT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "m"
reads = "level"
accuracy = "8 mm""#,
        tank: r#"vessel = { shape = "upright-cylinder", diameter = "4 m", height = "6 m" }
liquid = { kind = "constant", density = "800 kg/m3", uncertainty = "8 kg/m3" }
[tank.hookup]
kind = "level"
transmitter = "LT-1""#,
        set: &[("LT-1", 3.1)],
        lines: &["transmitter accuracy", "liquid density"],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "a vented tank whose density a register tells",
        gravity: r#"{ latitude = "51.2 deg", elevation = "140 m" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "PT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "gauge"
span = ["0 kPa", "60 kPa"]
accuracy = "0.1 %"
[[transmitter]]
tag = "DT-1"
link = "a"
register = "input 2"
type = "f32"
unit = "kg/m3"
reads = "density"
accuracy = "5 kg/m3""#,
        tank: r#"vessel = { shape = "horizontal-cylinder", diameter = "3 m", length = "8 m", heads = { head = "ellipsoid" } }
liquid = { kind = "measured", density = "DT-1" }
[tank.hookup]
kind = "vented"
transmitter = "PT-1"
at = "-0.4 m"
high = { tap = "0.3 m" }
elevations = { uncertainty = "4 mm" }"#,
        set: &[("PT-1", 18000.0), ("DT-1", 980.0)],
        lines: &["liquid density", "transmitter accuracy"],
        table: &[],
        air_is_drawn: false,
    },
    Scene {
        name: "the outside air alone: a heavy gas below a high vent",
        gravity: r#"{ value = "9.81 m/s2" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "PT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "gauge""#,
        tank: r#"vessel = { shape = "horizontal-cylinder", diameter = "3 m", length = "8 m", heads = { head = "ellipsoid" } }
liquid = { kind = "constant", density = "700 kg/m3" }
gas = { density = "9 kg/m3" }
[tank.hookup]
kind = "vented"
transmitter = "PT-1"
at = "0 m"
vent = "25 m""#,
        set: &[("PT-1", 12000.0)],
        lines: &["air density"],
        table: &[],
        air_is_drawn: true,
    },
    Scene {
        name: "gravity given with what it may be off",
        gravity: r#"{ value = "9.81 m/s2", uncertainty = "0.05 m/s2" }"#,
        ambient: r#"ambient = { temperature = "8 degC" }"#,
        transmitters: r#"[[transmitter]]
tag = "PT-1"
link = "a"
register = "input 0"
type = "f32"
unit = "kPa"
measures = "gauge"
resolution = "10 Pa""#,
        tank: r#"vessel = { shape = "horizontal-cylinder", diameter = "3 m", length = "8 m", heads = { head = "ellipsoid" } }
liquid = { kind = "constant", density = "700 kg/m3" }
[tank.hookup]
kind = "vented"
transmitter = "PT-1"
at = "0 m""#,
        set: &[("PT-1", 12000.0)],
        lines: &["gravity"],
        table: &[],
        air_is_drawn: false,
    },
];
