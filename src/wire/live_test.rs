//! Live tests of alarms.

use super::time;
use crate::engine::snapshot::{AlarmTestView, TestView};
use schemars::JsonSchema;
use serde::Serialize;

/// A live test that is under way: what is said of the tank comes from the value that is put in.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "test")]
pub struct TestForm {
    /// The alarm that is tested.
    pub code: String,
    /// Where the value is put in.
    pub tag: String,
    pub value: String,
    pub by: String,
    #[schemars(extend("format" = "date-time"))]
    pub since: String,
    #[schemars(extend("format" = "date-time"))]
    pub until: String,
    /// False once the value is taken away and the alarm is to clear.
    pub put_in: bool,
}

/// When an alarm was tested, and when it is due.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "alarm_test")]
pub struct AlarmTestForm {
    pub tank: String,
    pub code: String,
    /// `test_every` of its record; null: it was tested all the same.
    pub every_s: Option<f64>,
    /// When a test was last passed; null: never, so far as is remembered.
    #[schemars(extend("format" = "date-time"))]
    pub passed: Option<String>,
    #[schemars(extend("format" = "date-time"))]
    pub due: Option<String>,
    pub overdue: bool,
    /// The last test, passed or not; by whom, and how it went.
    #[schemars(extend("format" = "date-time"))]
    pub last: Option<String>,
    pub by: Option<String>,
    pub result: Option<String>,
}

impl TestForm {
    pub fn new(test: &TestView) -> Self {
        Self {
            code: test.code.to_string(),
            tag: test.tag.to_string(),
            value: test.value.to_string(),
            by: test.by.to_string(),
            since: time(test.since),
            until: time(test.until),
            put_in: test.is_put_in,
        }
    }
}

impl AlarmTestForm {
    pub fn new(test: &AlarmTestView) -> Self {
        Self {
            tank: test.tank.to_string(),
            code: test.code.to_string(),
            every_s: test.every.map(|every| every.as_secs_f64()),
            passed: test.passed.map(time),
            due: test.due.map(time),
            overdue: test.overdue,
            last: test.last.map(time),
            by: test.by.as_deref().map(str::to_owned),
            result: test.result.as_deref().map(str::to_owned),
        }
    }
}
