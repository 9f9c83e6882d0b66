//! Volumes of published vessels by the real program's `strap`, and a strapping table made of them.

use crate::program::{SiteFile, number};
use crate::rows::{Row, rows};
use serde_json::Value;
use std::collections::BTreeSet;

/// The file gives ten digits.
const RELATIVE_TOLERANCE: f64 = 1e-8;
/// The rows of a vessel, lowest level first.
fn rows_of(case: &str) -> Vec<Row> {
    let found: Vec<Row> = rows("vessels.csv")
        .into_iter()
        .filter(|row| row.text("case") == case)
        .collect();
    assert!(found.len() >= 5, "{case}: {} rows", found.len());
    found
}

fn site(vessel: &str, marks: &str) -> SiteFile {
    SiteFile::new(&format!(
        r#"[site]
name = "Alder Rise"

[[link]]
name = "skid-a"
tcp = "127.0.0.1:1502"

[[transmitter]]
tag = "LT-1"
link = "skid-a"
register = "input 0"
type = "f32"
unit = "kPa"

[[tank]]
name = "vessel"
liquid = {{ kind = "water" }}
hookup = {{ kind = "vented", transmitter = "LT-1", at = "0.01 m" }}
{marks}
{vessel}
"#
    ))
}

fn vessel(row: &Row) -> String {
    let size = |key: &str, column: &str| format!("{key} = \"{} m\"", row.text(column));
    let head = |which: &str, more: &str| {
        let text = |column: &str| row.text(&format!("{which}_{column}"));
        match text("head") {
            family @ ("flat" | "hemisphere") => format!("{{ head = \"{family}\"{more} }}"),
            "torisphere" => format!(
                "{{ head = \"torisphere\", dish_radius = \"{} m\", knuckle_radius = \"{} m\"{more} }}",
                text("dish_radius_m"),
                text("knuckle_radius_m")
            ),
            family => format!(
                "{{ head = \"{family}\", depth = \"{} m\"{more} }}",
                text("depth_m")
            ),
        }
    };
    let inward = match row.text("inward") {
        "" => "",
        "bottom" => ", inward = true",
        other => panic!("{}: inward {other}", row.place()),
    };
    let (first, second) = (head("first", inward), head("second", ""));
    let shape = row.text("shape");
    let sizes = match shape {
        "upright-cylinder" => vec![
            size("diameter", "diameter_m"),
            size("height", "straight_m"),
            format!("bottom = {first}"),
            format!("top = {second}"),
        ],
        "horizontal-cylinder" => vec![
            size("diameter", "diameter_m"),
            size("length", "straight_m"),
            format!("heads = {{ left = {first}, right = {second} }}"),
        ],
        "sphere" => vec![size("diameter", "diameter_m")],
        "rectangular" => vec![
            size("length", "length_m"),
            size("width", "width_m"),
            size("height", "height_m"),
        ],
        other => panic!("{}: no shape {other}", row.place()),
    };
    format!("[tank.vessel]\nshape = \"{shape}\"\n{}", sizes.join("\n"))
}

/// `strap --json` at these levels, in the order asked.
fn strapped(file: &SiteFile, levels: &[String]) -> Vec<Value> {
    let mut rest = vec!["vessel"];
    for level in levels {
        rest.extend(["--at", level]);
    }
    let table = file.json("strap", &rest);
    let rows = table["rows"].as_array().expect("rows of a table").clone();
    assert_eq!(rows.len(), levels.len(), "{table}");
    rows
}

#[test]
pub fn vessels_by_the_program_s_strap() {
    let mut checked = 0;
    let all = rows("vessels.csv");
    let cases: BTreeSet<&str> = all.iter().map(|row| row.text("case")).collect();
    for case in cases {
        let mut rows = rows_of(case);
        // From the top down and one out of turn: the order of the answer is that of the question.
        rows.reverse();
        rows.swap(0, 2);
        let levels: Vec<String> = rows
            .iter()
            .map(|row| format!("{} m", row.text("level_m")))
            .collect();
        let answers = strapped(&site(&vessel(&rows[0]), ""), &levels);
        for (row, answer) in rows.iter().zip(&answers) {
            row.check_absolute(
                "level",
                number(answer, "level_m"),
                row.number("level_m"),
                1e-12,
            );
            let published = row.number("volume_m3");
            row.check_relative(
                "volume",
                number(answer, "volume_m3"),
                published,
                RELATIVE_TOLERANCE,
            );
            checked += 1;
        }
    }
    assert_eq!(checked, 521);
}

/// Half a metre above the lowest point, the site's zero: the same volumes at levels half a metre lower.
#[test]
pub fn levels_below_the_site_s_zero_are_negative() {
    let rows = rows_of("PV009");
    let file = site(&vessel(&rows[0]), "marks = { zero = \"0.5 m\" }");
    let levels: Vec<String> = (rows.iter())
        .map(|row| format!("{} m", row.number("level_m") - 0.5))
        .collect();
    assert!(levels[0].starts_with('-'), "{levels:?}");
    for (row, answer) in rows.iter().zip(strapped(&file, &levels)) {
        let published = row.number("volume_m3");
        row.check_relative(
            "volume",
            number(&answer, "volume_m3"),
            published,
            RELATIVE_TOLERANCE,
        );
    }
    let below = strapped(&file, &["-0.75 m".to_owned()]);
    assert!(number(&below[0], "volume_m3").abs() < 1e-12, "{below:?}");
}

/// A strapping table holds its rows, and a straight line between them (common practice, no source).
#[test]
pub fn a_strapping_table_of_a_published_vessel() {
    let rows = rows_of("PH002");
    let mut table = vec![r#"["0 m", "0 m3"]"#.to_owned()];
    let row = |row: &Row| {
        format!(
            r#"["{} m", "{} m3"]"#,
            row.text("level_m"),
            row.text("volume_m3")
        )
    };
    table.extend(rows.iter().map(row));
    let text = format!(
        "[tank.vessel]\nshape = \"strapping\"\nrows = [{}]",
        table.join(", ")
    );
    let file = site(&text, "");

    let at_rows: Vec<String> = rows
        .iter()
        .map(|row| format!("{} m", row.text("level_m")))
        .collect();
    for (row, answer) in rows.iter().zip(strapped(&file, &at_rows)) {
        let published = row.number("volume_m3");
        row.check_relative("volume", number(&answer, "volume_m3"), published, 1e-12);
    }
    let between: Vec<String> = (rows.windows(2))
        .map(|pair| {
            format!(
                "{} m",
                f64::midpoint(pair[0].number("level_m"), pair[1].number("level_m"))
            )
        })
        .collect();
    for (pair, answer) in rows.windows(2).zip(strapped(&file, &between)) {
        let (level, volume) = (
            pair[1].number("level_m") - pair[0].number("level_m"),
            pair[1].number("volume_m3") - pair[0].number("volume_m3"),
        );
        let middle = f64::midpoint(pair[0].number("volume_m3"), pair[1].number("volume_m3"));
        pair[0].check_relative("volume", number(&answer, "volume_m3"), middle, 1e-12);
        pair[0].check_relative("area", number(&answer, "area_m2"), volume / level, 1e-9);
    }
}

#[test]
pub fn strap_refuses_what_it_cannot_do() {
    let file = site(&vessel(&rows_of("PV001")[0]), "");
    for rest in [
        &["vessel"][..],
        &["vessel", "--at", "3"],
        &["vessel", "--at", "3 kPa"],
        &["bottle", "--at", "1 m"],
        &["vessel", "--every", "0 m"],
    ] {
        let answer = file.ask("strap", rest);
        assert_eq!(answer.status, 2, "{rest:?}: {}", answer.out);
        assert!(!answer.err.is_empty(), "{rest:?}");
    }
}
