//! The elements of the picture as SVG 1.1 text, with their looks in one style sheet for light and dark.
//!
//! Nothing is told by colour alone: states have their codes in writing, bad data a hatch and a gap. No custom
//! properties in the style sheet: not every program that draws SVG knows them.

use super::super::markup::escaped;
use std::fmt::Write;

/// How wide a letter is at most, as a share of its height (common practice, no source).
const LETTER: f64 = 0.58;

pub const STYLE: &str = "\
text{font-family:sans-serif;font-size:12px;fill:#1b1f23}
.title{font-size:19px;font-weight:bold}
.tank{font-size:14px;font-weight:bold}
.quiet{fill:#56606a}
.small{font-size:11px}
.loose{font-size:11px;stroke:#fbfaf7;stroke-width:3px;paint-order:stroke}
.failed{font-weight:bold;fill:#9c2f12}
.paper{fill:#fbfaf7}
.frame{fill:none;stroke:#8d969e;stroke-width:1}
.grid{stroke:#d9dbd8;stroke-width:1}
.water{fill:#c6dae6}
.surface{fill:none;stroke:#4d7f9c;stroke-width:1.2}
.pen{fill:none;stroke:#1b1f23;stroke-width:1.7;stroke-linejoin:round}
.doubted{stroke-dasharray:5 3}
.bound{fill:none;stroke:#1b1f23;stroke-width:1.3;stroke-dasharray:1.5 3}
.solid{fill:#1b1f23}
.limit{stroke:#9c2f12;stroke-width:1.2;stroke-dasharray:7 3}
.band{fill:#9c2f12;fill-opacity:.12}
.mark{stroke:#56606a;stroke-width:1;stroke-dasharray:2 3}
.track{stroke:#d9dbd8;stroke-width:1}
.told{fill:#9c2f12;stroke:#9c2f12}
.on-told{fill:#ffffff}
.answered{fill:#f3dcd0;stroke:#9c2f12}
.waits{fill:#fbfaf7;stroke:#9c2f12;stroke-dasharray:3 2}
.hidden{fill:url(#thin);stroke:#56606a}
.bad{fill:url(#thick);stroke:#1b1f23}
.doubt{fill:url(#thin);stroke:#56606a}
.found{fill:#efe6c9;stroke:#7a6415}
.hatch{stroke:#56606a;stroke-width:1}
.heavy{stroke:#1b1f23;stroke-width:2}
.bracket{fill:none;stroke:#56606a;stroke-width:1.2}
.met{fill:none;stroke:#1f6b45;stroke-width:2.2}
.unmet{fill:none;stroke:#9c2f12;stroke-width:2.6}
@media (prefers-color-scheme:dark){
text{fill:#e9e7e1}
.quiet{fill:#a5aeb6}
.failed{fill:#f0a27f}
.loose{stroke:#14181c}
.paper{fill:#14181c}
.frame{stroke:#6b747d}
.grid,.track{stroke:#2c343b}
.water{fill:#22404f}
.surface{stroke:#79b4d3}
.pen,.bound{stroke:#f4f2ec}
.solid{fill:#f4f2ec}
.limit{stroke:#f0a27f}
.band{fill:#f0a27f}
.mark{stroke:#a5aeb6}
.told{fill:#f0a27f;stroke:#f0a27f}
.on-told{fill:#14181c}
.answered{fill:#4a2a1d;stroke:#f0a27f}
.waits{fill:#14181c;stroke:#f0a27f}
.hidden,.doubt{stroke:#a5aeb6}
.bad{stroke:#f4f2ec}
.found{fill:#3d3618;stroke:#d8c26a}
.hatch{stroke:#a5aeb6}
.heavy{stroke:#f4f2ec}
.bracket{stroke:#a5aeb6}
.met{stroke:#7fcfa2}
.unmet{stroke:#f0a27f}
}
";

const PATTERNS: &str = "<defs>\
<pattern id=\"thin\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
<path class=\"hatch\" d=\"M0 0V6\"/></pattern>\
<pattern id=\"thick\" width=\"5\" height=\"5\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(-45)\">\
<path class=\"heavy\" d=\"M0 0V5\"/></pattern></defs>\n";

#[derive(Clone, Debug, Default)]
pub struct Pen {
    out: String,
}

/// Where a text stands against its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

/// How wide a text is at most, at that height of its letters.
pub fn width(text: &str, size: f64) -> f64 {
    text.chars().count() as f64 * size * LETTER
}

impl Pen {
    /// The whole picture: what was drawn, on paper of that size.
    pub fn finish(self, (width, height): (f64, f64), title: &str, says: &str) -> String {
        let (title, says) = (escaped(title), escaped(says));
        format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
             <svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" \
             height=\"{height}\" role=\"img\" aria-labelledby=\"title says\">\n\
             <title id=\"title\">{title}</title>\n<desc id=\"says\">{says}</desc>\n\
             <style>\n{STYLE}</style>\n{PATTERNS}\
             <rect class=\"paper\" width=\"{width}\" height=\"{height}\"/>\n{}</svg>\n",
            self.out
        )
    }

    pub fn text(&mut self, class: &str, (x, y): (f64, f64), anchor: Anchor, text: &str) {
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let text = escaped(text);
        self.line(format_args!(
            "<text class=\"{class}\" x=\"{x:.1}\" y=\"{y:.1}\"{anchor}>{text}</text>"
        ));
    }

    pub fn path(&mut self, class: &str, path: &str) {
        if !path.is_empty() {
            self.line(format_args!("<path class=\"{class}\" d=\"{path}\"/>"));
        }
    }

    /// A rectangle from one corner to the other, and what it says to whoever points at it.
    pub fn rectangle(&mut self, class: &str, from: (f64, f64), to: (f64, f64), says: &str) {
        let (x, y, width, height) = (from.0, from.1, to.0 - from.0, to.1 - from.1);
        let says = match says.is_empty() {
            true => String::new(),
            false => format!("<title>{}</title>", escaped(says)),
        };
        self.line(format_args!(
            "<rect class=\"{class}\" x=\"{x:.1}\" y=\"{y:.1}\" width=\"{width:.1}\" height=\"{height:.1}\">{says}</rect>"
        ));
    }

    /// Something with a point of its own, said to whoever points at it.
    pub fn spot(&mut self, class: &str, path: &str, says: &str) {
        let says = escaped(says);
        self.line(format_args!(
            "<path class=\"{class}\" d=\"{path}\"><title>{says}</title></path>"
        ));
    }

    fn line(&mut self, text: std::fmt::Arguments<'_>) {
        // Writing to a text does not fail.
        let _ = writeln!(self.out, "{text}");
    }
}
