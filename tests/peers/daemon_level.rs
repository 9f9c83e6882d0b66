//! From registers to a level, against hydrostatics worked by hand.
//!
//! dp/dz = −ρ g in each column (any textbook of fluid mechanics). Densities: `../published/data`, water by
//! IAPWS-95 and dry air at 1 atm; nitrogen as an ideal gas, ρ = p M/(R T).

use crate::broker::Broker;
use crate::daemon::Daemon;
use crate::metrics;
use crate::subscriber::retained_json;
use crate::works::{TOPIC, Works, field};
use serde_json::Value;

const WATER: &str = include_str!("../published/data/water-density.csv");
const AIR: &str = include_str!("../published/data/dry-air.csv");

/// A tenth of a millimetre.
const TOLERANCE_M: f64 = 1e-4;
/// As the site file says.
const G_M_S2: f64 = 9.8116;

/// The number in a column of the row that begins so.
fn published(data: &str, row: &str, column: usize) -> f64 {
    let line = data.lines().find(|line| line.starts_with(row));
    let cell = line.expect("the row is there").split(',').nth(column);
    cell.expect("so is the column").parse().expect("a number")
}

fn water_kg_m3(row: &str) -> f64 {
    published(WATER, row, 1)
}

/// Clearwell: a gauge reads the liquid above it less the air that its own vent has and the surface lacks.
///
/// p = ρl g (h − zT) − ρair g (h − zT), so h = zT + p/((ρl − ρair) g)
fn clearwell_m(kilopascals: f64) -> f64 {
    // Begins with a quoted "air, dry", which holds a comma: the density is in the sixth piece.
    let rho_air = published(AIR, "\"air, dry\",20,", 5);
    0.25 + 1000.0 * kilopascals / ((water_kg_m3("20.0,") - rho_air) * G_M_S2)
}

/// Soft: zT = −0.50 m, zH = 0.30 m, zL = 6.20 m; both legs of water at 20 °C, the tank at 40 °C.
///
/// p_high = pG + g·[ ρv(zL − h) + ρl(h − zH) + ρa(zH − zT) ], p_low = pG + g·ρb(zL − zT);
/// with Δp = p_high − p_low, h = [ Δp/g − ρv zL + ρl zH − ρa(zH − zT) + ρb(zL − zT) ]/(ρl − ρv)
fn soft_m(kilopascals: f64) -> f64 {
    let (z_t, z_h, z_l) = (-0.50, 0.30, 6.20);
    let (rho_l, rho_leg) = (water_kg_m3("40.0,"), water_kg_m3("20.0,"));
    // N2: 2 × 14.007 g/mol (IUPAC 2021), at 5 kPa over 1 atm and 293.15 K
    let rho_v = (101_325.0 + 5_000.0) * 28.014e-3 / (8.314_462_618 * 293.15);
    let columns = -rho_v * z_l + rho_l * z_h - rho_leg * (z_h - z_t) + rho_leg * (z_l - z_t);
    (1000.0 * kilopascals / G_M_S2 + columns) / (rho_l - rho_v)
}

fn level_m(reading: &Value) -> f64 {
    reading["level_m"].as_f64().expect("a level")
}

fn assert_near(found: f64, worked_out: f64) {
    assert!(
        (found - worked_out).abs() < TOLERANCE_M,
        "{found} m, by hand {worked_out} m"
    );
}

#[test]
fn the_same_level_everywhere_and_it_is_the_one_worked_by_hand() {
    let (mut server, broker) = (field(), Broker::start());
    let works = Works::with_broker(&server, broker.port);
    let daemon = Daemon::start(&works);
    let tanks = [
        ("clearwell", "input", 0, "ABCD", [33.0, 1.5, 56.0]),
        ("soft", "holding", 10, "CDAB", [-30.0, -57.0, -4.0]),
    ];
    for (tank, space, address, order, pressures) in tanks {
        for kilopascals in pressures {
            let by_hand = match tank {
                "clearwell" => clearwell_m(kilopascals),
                _ => soft_m(kilopascals),
            };
            server.number(1, space, address, kilopascals, "f32", order);
            let near = |it: &Value| {
                it["level_m"]
                    .as_f64()
                    .is_some_and(|level| (level - by_hand).abs() < 0.01)
            };
            let reading = daemon.reading(tank, near);
            assert_eq!(
                (&reading["quality"], &reading["reasons"]),
                (&"good".into(), &serde_json::json!([]))
            );
            assert_near(level_m(&reading), by_hand);
            let series = format!("standpipe_tank_level_meters{{tank=\"{tank}\"}}");
            assert_near(daemon.metric(&series).expect("there is one"), by_hand);
            // Readings go out at most every 200 ms.
            std::thread::sleep(std::time::Duration::from_millis(600));
            let kept = retained_json(broker.port, &format!("{TOPIC}/tank/{tank}/reading"));
            assert_eq!(kept["quality"], "good");
            assert_near(level_m(&kept), by_hand);
        }
    }
    let metrics = daemon.page("/metrics");
    metrics::assert_accepted(&metrics);
    assert_eq!(daemon.link_up(), Some(1.0));
    for tank in ["clearwell", "soft"] {
        let valid = format!("standpipe_tank_reading_valid{{tank=\"{tank}\"}}");
        assert_eq!(daemon.metric(&valid), Some(1.0));
    }
}

/// What is made of the level: V = π/4 D² h, m = ρ V.
#[test]
fn volume_and_mass_follow_from_the_level() {
    let server = field();
    let works = Works::new(&server);
    let daemon = Daemon::start(&works);
    let reading = daemon.reading("clearwell", |it| it["quality"] == "good");
    let volume_m3 = std::f64::consts::PI / 4.0 * 4.2 * 4.2 * clearwell_m(33.0);
    let found = reading["volume_m3"].as_f64().expect("a volume");
    assert!(
        (found / volume_m3 - 1.0).abs() < 1e-4,
        "{found} m3, by hand {volume_m3} m3"
    );
    let mass_kg = volume_m3 * water_kg_m3("20.0,");
    let found = reading["mass_kg"].as_f64().expect("a mass");
    assert!(
        (found / mass_kg - 1.0).abs() < 1e-4,
        "{found} kg, by hand {mass_kg} kg"
    );
}
