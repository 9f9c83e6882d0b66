//! The rows of a published table, each with its place and source for the message of a failed check.
//!
//! `for row in rows("pressure-units.csv") { row.check_relative("factor", ours, row.number("pa_per_unit"), 1e-12); }`
//! Nothing is skipped in silence: a missing file or column, a cell that is no number and an empty table fail.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

thread_local! {
    /// The rows that this thread's tests have held something against: file and line.
    static MET: RefCell<BTreeSet<(String, u64)>> = RefCell::default();
}

/// The lines of a file whose rows have been met since the last call, by this thread.
pub fn take_met(file: &str) -> BTreeSet<u64> {
    MET.with_borrow_mut(|met| {
        let lines = met
            .iter()
            .filter(|(of, _)| of == file)
            .map(|(_, line)| *line);
        let lines = lines.collect();
        met.retain(|(of, _)| of != file);
        lines
    })
}

/// One row of a table in `tests/published/data`.
pub struct Row {
    file: String,
    line: u64,
    cells: BTreeMap<String, String>,
}

/// All rows of a CSV file with a header line; at least one.
pub fn rows(file: &str) -> Vec<Row> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/published/data");
    let mut reader = csv::Reader::from_path(folder.join(file))
        .unwrap_or_else(|error| panic!("{file} cannot be read: {error}"));
    let columns = reader.headers().expect("a header line").clone();
    let rows: Vec<Row> = reader
        .records()
        .map(|record| {
            let record = record.unwrap_or_else(|error| panic!("{file}: {error}"));
            let cells = columns.iter().zip(record.iter());
            Row {
                file: file.to_owned(),
                line: record.position().map_or(0, csv::Position::line),
                cells: cells
                    .map(|(column, cell)| (column.to_owned(), cell.trim().to_owned()))
                    .collect(),
            }
        })
        .collect();
    assert!(!rows.is_empty(), "{file} has no rows");
    rows
}

impl Row {
    /// The cell of a column, which may be blank.
    pub fn text(&self, column: &str) -> &str {
        self.cells
            .get(column)
            .unwrap_or_else(|| panic!("{} has no column {column:?}", self.file))
    }

    /// The number in a column.
    pub fn number(&self, column: &str) -> f64 {
        self.number_if_given(column)
            .unwrap_or_else(|| panic!("{}: {column} is blank", self.place()))
    }

    /// The number in a column, none where the cell is blank.
    pub fn number_if_given(&self, column: &str) -> Option<f64> {
        let cell = self.text(column);
        if cell.is_empty() {
            return None;
        }
        match cell.parse::<f64>() {
            Ok(number) if number.is_finite() => Some(number),
            _ => panic!("{}: {column} is no number: {cell:?}", self.place()),
        }
    }

    pub fn line(&self) -> u64 {
        self.line
    }

    /// Something was held against this row; a check of a number says so by itself.
    pub fn mark_met(&self) {
        MET.with_borrow_mut(|met| met.insert((self.file.clone(), self.line)));
    }

    /// File, line and, where the table has such a column, source.
    pub fn place(&self) -> String {
        match self.cells.get("source") {
            Some(source) => format!("{} line {} ({source})", self.file, self.line),
            None => format!("{} line {}", self.file, self.line),
        }
    }

    /// `ours` within `tolerance` × the published value.
    pub fn check_relative(&self, what: &str, ours: f64, published: f64, tolerance: f64) {
        self.check_absolute(what, ours, published, tolerance * published.abs());
    }

    /// `ours` within `tolerance`, in the unit of the value, of the published value.
    pub fn check_absolute(&self, what: &str, ours: f64, published: f64, tolerance: f64) {
        self.mark_met();
        // Written so that a value that is not a number fails.
        assert!(
            (ours - published).abs() <= tolerance,
            "{}: {what} is {ours}, published {published}, tolerance {tolerance:e}",
            self.place()
        );
    }
}
