//! Rehearsals as JUnit XML: a suite a script, a case an expectation. Machines of continuous integration read it.
//!
//! There is no standard of this form; elements and attributes are the ones that are in common use (common
//! practice, no source).

use super::Rehearsed;
use super::markup::escaped;
use super::script::shown;
use std::fmt::Write;

pub fn junit(rehearsed: &[Rehearsed]) -> String {
    let count = |is: fn(bool) -> bool| {
        let judged = rehearsed.iter().flat_map(|one| &one.judged);
        judged.filter(|judged| is(judged.met)).count()
    };
    let (tests, failures) = (count(|_| true), count(|met| !met));
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let mut line = |text: String| {
        out.push_str(&text);
        out.push('\n');
    };
    line(format!(
        "<testsuites name=\"rehearsal\" tests=\"{tests}\" failures=\"{failures}\">"
    ));
    for one in rehearsed {
        let name = escaped(&one.script.display().to_string());
        let failures = one.judged.iter().filter(|judged| !judged.met).count();
        let tests = one.judged.len();
        line(format!(
            "  <testsuite name=\"{name}\" tests=\"{tests}\" failures=\"{failures}\">"
        ));
        for judged in &one.judged {
            let case = escaped(&format!("line {}: {}", judged.line, judged.expected));
            if judged.met {
                line(format!(
                    "    <testcase classname=\"{name}\" name=\"{case}\"/>"
                ));
                continue;
            }
            let mut text = String::new();
            for (at, what) in &judged.around {
                // Writing to a text does not fail.
                let _ = writeln!(text, "{} {what}", shown(*at));
            }
            let (found, text) = (escaped(&judged.found), escaped(&text));
            line(format!(
                "    <testcase classname=\"{name}\" name=\"{case}\">"
            ));
            line(format!(
                "      <failure message=\"{found}\">{text}</failure>"
            ));
            line("    </testcase>".to_owned());
        }
        line("  </testsuite>".to_owned());
    }
    line("</testsuites>".to_owned());
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::{Coverage, Judged};
    use std::time::Duration;

    #[test]
    fn what_is_not_met_is_a_failure_with_its_moments() {
        let judged = |met, around| Judged {
            line: 7,
            expected: "a \"b\" & c".to_owned(),
            met,
            found: "x < y\u{1}".to_owned(),
            at: Duration::ZERO,
            around,
        };
        let around = vec![(Duration::from_secs(61), "level > 3 m".to_owned())];
        let rehearsed = Rehearsed {
            script: "one.toml".into(),
            seed: 1,
            last: Duration::from_secs(90),
            commands: 0,
            judged: vec![judged(true, Vec::new()), judged(false, around)],
            coverage: Coverage { alarms: Vec::new() },
            events: Vec::new(),
            strip: None,
        };
        assert_eq!(
            junit(&[rehearsed]),
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>
<testsuites name=\"rehearsal\" tests=\"2\" failures=\"1\">
  <testsuite name=\"one.toml\" tests=\"2\" failures=\"1\">
    <testcase classname=\"one.toml\" name=\"line 7: a &quot;b&quot; &amp; c\"/>
    <testcase classname=\"one.toml\" name=\"line 7: a &quot;b&quot; &amp; c\">
      <failure message=\"x &lt; y?\">00:01:01 level &gt; 3 m
</failure>
    </testcase>
  </testsuite>
</testsuites>
"
        );
    }
}
