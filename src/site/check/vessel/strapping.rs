//! A strapping table: rows in the site file, or a file of its own.

use super::report;
use crate::physics::vessel::StrappingTable;
use crate::quantity::{Dimension, Length, Unit, Volume, cubic_metres, metres, parse_unit};
use crate::site::file::Table;

pub fn strapping(table: &Table<'_>) -> Option<StrappingTable> {
    let uncertainty = table.si("uncertainty").map(cubic_metres);
    let (file, rows) = (table.text("table"), table.rows("rows"));
    if table.has("table") == table.has("rows") {
        let problem = table.problem_at(
            "rows",
            "a strapping table comes from a file or stands here as rows: one of the two",
        );
        table.report(problem.cure("give table = \"tank.csv\", or rows = [[\"0 m\", \"0 m3\"], …]"));
        return None;
    }
    let (place, rows) = match file {
        Some(file) => ("table", file_rows(table, file)?),
        None => (
            "rows",
            rows?
                .iter()
                .map(|(level, volume)| (metres(level.si), cubic_metres(volume.si)))
                .collect(),
        ),
    };
    match StrappingTable::new(rows, uncertainty) {
        Ok(strapping) => Some(strapping),
        Err(error) if error.key == "uncertainty" => {
            report(table, &error);
            None
        }
        Err(error) => {
            let problem = table.problem_at(
                place,
                format!("the strapping table's {} {}", error.key, error.message),
            );
            table.report(problem.cure("check the row against the calibration certificate; entries count from 1, without the header"));
            None
        }
    }
}

/// The rows of a table's file: levels and volumes, with their units in the header.
fn file_rows(table: &Table<'_>, file: &str) -> Option<Vec<(Length, Volume)>> {
    let refuse = |message: String| {
        let problem = table.problem_at("table", message);
        table.report(problem.cure("two columns, units in the header: a line \"level m,volume m3\", then lines such as \"0.10,0.52\""));
        None
    };
    let text = match table.document().read_named(file) {
        Ok(text) => text,
        Err(error) => {
            let problem = table.problem_at("table", format!("{file} cannot be read: {error}"));
            table.report(problem.cure("check its name; it is taken relative to the site file"));
            return None;
        }
    };
    match parse_rows(&text) {
        Ok(rows) => Some(rows),
        Err(fault) => refuse(format!("{file}, {fault}")),
    }
}

fn parse_rows(text: &str) -> Result<Vec<(Length, Volume)>, String> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let header = reader
        .headers()
        .map_err(|error| format!("header: {error}"))?
        .clone();
    if header.len() != 2 {
        return Err(format!("header: two columns are due, not {}", header.len()));
    }
    let level_unit = column_unit(&header[0], "level", Dimension::Length)?;
    let volume_unit = column_unit(&header[1], "volume", Dimension::Volume)?;
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| error.to_string())?;
        let line = record.position().map_or(0, csv::Position::line);
        let number = |column: usize| -> Result<f64, String> {
            let cell = &record[column];
            let finite = cell.parse::<f64>().ok().filter(|number| number.is_finite());
            finite.ok_or_else(|| format!("line {line}: \"{cell}\" is no number"))
        };
        rows.push((
            metres(level_unit.to_si(number(0)?)),
            cubic_metres(volume_unit.to_si(number(1)?)),
        ));
    }
    Ok(rows)
}

/// "level m", "level (m)" or "level [m]".
fn column_unit(cell: &str, name: &str, dimension: Dimension) -> Result<&'static Unit, String> {
    let rest = cell.strip_prefix(name).map(str::trim).unwrap_or("");
    let symbol = rest
        .trim_start_matches(['(', '['])
        .trim_end_matches([')', ']']);
    match parse_unit(symbol, dimension) {
        Ok((unit, _)) => Ok(unit),
        Err(_) => Err(format!(
            "header: \"{cell}\" should be \"{name} {}\", or with another unit of it",
            dimension.usual_unit()
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_strapping_file_has_its_units_in_the_header() {
        let rows =
            parse_rows("# drawing 12\nlevel cm,volume (L)\n0,0\n10, 52.5\n").expect("a good file");
        assert_eq!(rows.len(), 2);
        assert!((rows[1].0.value - 0.1).abs() < 1e-12 && (rows[1].1.value - 0.0525).abs() < 1e-12);
    }

    #[test]
    fn what_is_wrong_in_a_strapping_file_is_told_with_its_line() {
        assert_eq!(
            parse_rows("level,volume\n0,0\n").expect_err("no units"),
            "header: \"level\" should be \"level m\", or with another unit of it"
        );
        assert_eq!(
            parse_rows("level m,volume m3\n0,0\n1,x\n").expect_err("no number"),
            "line 3: \"x\" is no number"
        );
        assert!(parse_rows("level m,volume m3\n0\n").is_err());
        assert!(parse_rows("").is_err());
    }
}
