//! The topics. Site and tank names are folded; tags and alarm codes stand as written, their grammar
//! fits a topic.

use crate::wire::name::fold;

#[derive(Debug)]
pub(super) struct Topics {
    /// `PREFIX/SITE`
    base: String,
}

impl Topics {
    pub fn new(prefix: &str, site_folded: &str) -> Self {
        Self {
            base: format!("{}/{site_folded}", prefix.trim_matches('/')),
        }
    }

    /// One per site and prefix, so that a second connection of the same daemon replaces the first.
    pub fn client(&self) -> String {
        self.base.replace('/', "-")
    }

    pub fn status(&self) -> String {
        format!("{}/status", self.base)
    }

    pub fn heartbeat(&self) -> String {
        format!("{}/heartbeat", self.base)
    }

    pub fn event(&self) -> String {
        format!("{}/event", self.base)
    }

    pub fn reading(&self, tank: &str) -> String {
        format!("{}/tank/{}/reading", self.base, fold(tank))
    }

    pub fn alarm(&self, tank: &str, code: &str) -> String {
        format!("{}/tank/{}/alarm/{code}", self.base, fold(tank))
    }

    pub fn transfer(&self, tank: &str) -> String {
        format!("{}/tank/{}/transfer", self.base, fold(tank))
    }

    /// Of the system itself.
    pub fn system_alarm(&self, code: &str) -> String {
        format!("{}/alarm/{code}", self.base)
    }

    pub fn contact(&self, tag: &str) -> String {
        format!("{}/contact/{tag}/state", self.base)
    }

    pub fn signal(&self, tag: &str) -> String {
        format!("{}/transmitter/{tag}/signal", self.base)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn topics_are_those_of_the_interface() {
        let topics = Topics::new("standpipe", "alder-rise");
        assert_eq!(topics.status(), "standpipe/alder-rise/status");
        assert_eq!(topics.event(), "standpipe/alder-rise/event");
        assert_eq!(
            topics.reading("Clear Well"),
            "standpipe/alder-rise/tank/clear-well/reading"
        );
        assert_eq!(
            topics.alarm("clearwell", "LAH"),
            "standpipe/alder-rise/tank/clearwell/alarm/LAH"
        );
        assert_eq!(
            topics.signal("PDT-101"),
            "standpipe/alder-rise/transmitter/PDT-101/signal"
        );
        assert_eq!(
            topics.system_alarm("LINK-SKID-A"),
            "standpipe/alder-rise/alarm/LINK-SKID-A"
        );
        assert_eq!(
            topics.contact("HS-101"),
            "standpipe/alder-rise/contact/HS-101/state"
        );
        assert_eq!(topics.client(), "standpipe-alder-rise");
    }
}
