//! Who can reach what is served and sent, beyond this machine.

use super::finding::{Finding, Notes};
use crate::site::Site;
use crate::site::problem::Problem;
use crate::site::settings::{ListenerSettings, is_loopback};

const OPEN_PAGE: &str = "page-beyond-this-machine";
const PLAIN_MQTT: &str = "mqtt-not-encrypted";

pub fn advise(site: &Site, notes: &mut Notes<'_>) {
    if let Some(http) = site.http.as_ref().filter(|http| !is_loopback(http.host())) {
        let place = notes.places.of_table("http", "listen");
        notes.add(finding(OPEN_PAGE, page(http, place)));
    }
    if let Some(mqtt) = &site.mqtt
        && !mqtt.tls
        && !is_loopback(&mqtt.host)
    {
        let place = notes.places.of_table("mqtt", "broker");
        let what = format!("readings and events go to {} without encryption", mqtt.host);
        let why = match mqtt.user {
            Some(_) => {
                "whoever is on the way can read the password with them, and alter what arrives"
            }
            None => "whoever is on the way can read them, and alter what arrives",
        };
        let cure = "broker = \"mqtts://…\", a tunnel, or a network that nobody else is in";
        notes.add(finding(
            PLAIN_MQTT,
            Problem::new(place, what).why(why).cure(cure),
        ));
    }
}

fn page(http: &ListenerSettings, place: std::ops::Range<usize>) -> Problem {
    let who = match http.open {
        true => "whoever reaches it can read page, interface and metrics",
        false => "whoever reaches it can try to sign in",
    };
    let what = format!("{} can be reached from beyond this machine", http.listen);
    let why = format!(
        "{who}; the daemon speaks plain HTTP, so passwords and sessions can be read and used by whoever is on the way"
    );
    let cure = "listen = \"127.0.0.1:8470\" with a server in front that encrypts and says so (X-Forwarded-Proto: https), \
                or a tunnel; else a firewall, reading = \"signed-in\", and `names` for the names that browsers use";
    Problem::new(place, what).why(why).cure(cure)
}

fn finding(rule: &'static str, problem: Problem) -> Finding {
    Finding {
        rule,
        tank: None,
        alarm: None,
        problem,
    }
}

#[cfg(test)]
mod tests {
    use crate::site::{counsel, parse};
    use std::path::Path;

    /// The rules that speak of the water works with these outlets.
    fn told(outlets: &str) -> Vec<(&'static str, String)> {
        let text = include_str!("../../../config/alder-rise.toml");
        let (sensors, _) = text.split_once("[mqtt]").expect("outlets come last");
        let text = format!("{sensors}{outlets}");
        let path = Path::new("config/alder-rise.toml");
        let site = parse(&text, path).expect("it is right");
        let findings = counsel::advise(&site, &text, path, None);
        let of_listeners = findings.iter().filter(|finding| finding.tank.is_none());
        of_listeners
            .map(|finding| {
                let problem = &finding.problem;
                (finding.rule, format!("{} {}", problem.message, problem.why))
            })
            .collect()
    }

    #[test]
    fn what_can_be_reached_from_beyond_this_machine_is_told() {
        for listen in ["127.0.0.1:8470", "localhost:8470", "[::1]:8470"] {
            assert_eq!(told(&format!("[http]\nlisten = \"{listen}\"\n")), []);
        }
        let open = told("[http]\nlisten = \"0.0.0.0:8470\"\n");
        assert_eq!(open.len(), 1, "{open:?}");
        assert_eq!(open[0].0, super::OPEN_PAGE);
        assert!(open[0].1.contains("can read page, interface and metrics"));
        let closed = told("[http]\nlisten = \"edge-box:8470\"\nreading = \"signed-in\"\n");
        assert!(closed[0].1.contains("can try to sign in"), "{closed:?}");
    }

    #[test]
    fn mqtt_without_encryption_is_told_where_it_leaves_this_machine() {
        let mqtt = |broker: &str| told(&format!("[mqtt]\nbroker = \"{broker}\"\n"));
        assert_eq!(mqtt("mqtts://broker.example"), []);
        assert_eq!(mqtt("mqtt://127.0.0.1"), []);
        assert_eq!(mqtt("mqtt://broker.example")[0].0, super::PLAIN_MQTT);
    }
}
