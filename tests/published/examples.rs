//! The worked examples of `data/hydrostatic-examples.json`: inputs, expected values, and what was checked.
//!
//! R.. are printed, M.. are from memory, D.. are derived from the balance of columns, with their steps.
//! An example whose expected values are not all looked at fails; so does an input that is not there.

use serde_json::Value;
use std::cell::RefCell;
use std::collections::BTreeSet;

/// A print with tolerance 0 is exact arithmetic; what binary numbers round is allowed.
const ROUNDING: f64 = 1e-12;

pub struct Example {
    pub id: String,
    title: String,
    source: String,
    inputs: Value,
    expected: Value,
    checked: RefCell<BTreeSet<String>>,
}

/// Every example of the file, in its order.
pub fn examples() -> Vec<Example> {
    let text = include_str!("data/hydrostatic-examples.json");
    let all: Value = serde_json::from_str(text).expect("the examples are JSON");
    let all = all.as_array().expect("a list of examples");
    assert_eq!(all.len(), 39);
    all.iter()
        .map(|example| {
            let text = |key: &str| example[key].as_str().expect(key).to_owned();
            Example {
                id: text("id"),
                title: text("title"),
                source: text("source"),
                inputs: example["inputs"].clone(),
                expected: example["expected"].clone(),
                checked: RefCell::default(),
            }
        })
        .collect()
}

/// The example of an id.
pub fn example(id: &str) -> Example {
    let found = examples().into_iter().find(|example| example.id == id);
    found.unwrap_or_else(|| panic!("no example {id}"))
}

impl Example {
    /// Id, title and source, for the message of a failed check.
    pub fn place(&self) -> String {
        format!("{} {:?} ({})", self.id, self.title, self.source)
    }

    pub fn input(&self, name: &str) -> f64 {
        self.inputs[name]
            .as_f64()
            .unwrap_or_else(|| panic!("{}: no input {name}", self.place()))
    }

    /// The value that is expected, and how far ours may be off.
    pub fn expected(&self, name: &str) -> (f64, f64) {
        self.checked.borrow_mut().insert(name.to_owned());
        let number = |key: &str| {
            self.expected[name][key]
                .as_f64()
                .unwrap_or_else(|| panic!("{}: no {key} of {name}", self.place()))
        };
        (number("value"), number("abs_tolerance"))
    }

    /// `ours`, in the unit of the expected value, within its tolerance.
    pub fn check(&self, name: &str, ours: f64) {
        let (value, tolerance) = self.expected(name);
        let allowed = tolerance.max(ROUNDING * value.abs().max(1.0));
        // Written so that a value that is not a number fails.
        assert!(
            (ours - value).abs() <= allowed,
            "{}: {name} is {ours}, expected {value}, tolerance {tolerance:e}",
            self.place()
        );
    }

    /// Fails if an expected value was not looked at.
    pub fn is_done(&self) {
        let expected = self.expected.as_object().expect("expected values");
        let checked = self.checked.borrow();
        for name in expected.keys() {
            assert!(
                checked.contains(name),
                "{}: {name} is not checked",
                self.place()
            );
        }
    }
}
