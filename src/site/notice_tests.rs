//! Those who must be told, as the site file says it.

use super::settings::{MailSecurity, NoticeWay};
use super::{Site, parse};
use crate::engine::plan::Priority;
use std::path::Path;
use std::time::Duration;

/// Every key of those who must be told.
pub const NOTICES: &str = r#"
[mail]
server = "smtps://mail.alder-rise.example"
from = "Standpipe <standpipe@alder-rise.example>"
user = "standpipe"
password = { env = "MAIL" }

[flood]
begins_at = 20

[heartbeat]
file = "heartbeat.json"

[[notice]]
name = "on-call"
to = ["Ada <ada@alder-rise.example>", "ben@alder-rise.example"]
priorities = ["high"]
hours = { from = "22:00", to = "06:00", days = ["mon"] }
repeat = "10 min"
escalate = { after = "15 min", to = "pager" }
daily_test = "08:00"

[[notice]]
name = "pager"
webhook = "https://pager.alder-rise.example:8443/in?of=works"
secret = { file = "pager.secret" }
at_least = "highest"
tanks = ["clearwell"]
"#;

fn with(notices: &str) -> Result<Site, String> {
    let text = include_str!("../../config/alder-rise.toml").to_owned() + notices;
    parse(&text, Path::new("config/alder-rise.toml")).map_err(|problems| problems.to_string())
}

#[test]
fn what_is_written_is_what_is_told() {
    let site = with(NOTICES).expect("it is right");
    let (plan, settings) = (&site.plan.notices, &site.notices);
    assert_eq!(plan.timezone.iana_name(), Some("Europe/London"));
    let names: Vec<&str> = plan.recipients.iter().map(|name| &**name).collect();
    assert_eq!(
        names,
        [
            "Ada",
            "ben@alder-rise.example",
            "webhook pager.alder-rise.example"
        ]
    );
    let mail = settings.mail.as_ref().expect("a server");
    assert_eq!((mail.port, mail.security), (465, MailSecurity::Tls));
    let NoticeWay::Webhook(hook) = &settings.recipients[2].way else {
        panic!("{:?}", settings.recipients[2]);
    };
    assert_eq!(
        (hook.tls, hook.port, hook.path.as_str()),
        (true, 8443, "/in?of=works")
    );
    assert_eq!(plan.routes[1].priorities, [Priority::Highest]);
    assert_eq!(plan.flood.begins_at, 20);
    let next = plan.routes[0].escalation.expect("a chain");
    assert_eq!((next.after, next.to.index()), (Duration::from_secs(900), 1));
}

#[test]
fn one_who_is_named_twice_is_one_recipient() {
    let site = with(
        "[mail]\nserver = \"smtp://127.0.0.1\"\nfrom = \"a@alder-rise.example\"\n\
         [[notice]]\nname = \"a\"\nto = [\"ada@alder-rise.example\"]\nat_least = \"low\"\n\
         [[notice]]\nname = \"b\"\nto = [\"ada@alder-rise.example\"]\nat_least = \"low\"\ngive_up = \"10 s\"\n",
    )
    .expect("it is right");
    assert_eq!(site.notices.recipients.len(), 1);
    assert_eq!(site.notices.recipients[0].give_up, Duration::from_secs(10));
}

#[test]
fn unencrypted_mail_stays_on_this_machine_unless_it_is_stated() {
    let mail = |server: &str, more: &str| {
        with(&format!(
            "[mail]\nserver = \"{server}\"\nfrom = \"a@alder-rise.example\"\n{more}\n"
        ))
    };
    let secret = "user = \"a\"\npassword = { env = \"A\" }";
    assert!(mail("smtp://localhost", secret).is_ok());
    assert!(mail("smtp://[::1]:25", "").is_ok());
    assert!(mail("smtp://192.0.2.1", "").is_err());
    assert!(mail("smtp://192.0.2.1", "unencrypted = true").is_ok());
    let open = format!("unencrypted = true\n{secret}");
    assert!(
        mail("smtp://192.0.2.1", &open).is_err_and(|text| text.contains("the password would go"))
    );
    assert!(mail("starttls://192.0.2.1", secret).is_ok());
}

#[test]
fn people_are_told_by_their_names() {
    let people = "[mail]\nserver = \"smtps://mail.alder-rise.example\"\nfrom = \"a@alder-rise.example\"\n\
        [[person]]\nname = \"Ada\"\nrole = \"operate\"\nmail = \"ada@alder-rise.example\"\n\
        [[person]]\nname = \"Ben\"\nrole = \"operate\"\n";
    let notice = |to: &str| {
        format!("{people}[[notice]]\nname = \"on-call\"\nat_least = \"high\"\nto = [\"{to}\"]\n")
    };
    let site = with(&notice("Ada")).expect("it is right");
    assert_eq!(&*site.plan.notices.recipients[0], "Ada");
    let way = &site.notices.recipients[0].way;
    assert_eq!(*way, NoticeWay::Mail("Ada <ada@alder-rise.example>".into()));
    let refused = with(&notice("Ben")).expect_err("nobody knows where");
    assert!(
        refused.contains("nothing says where Ben gets e-mail"),
        "{refused}"
    );
    let refused = with(&notice("Cleo")).expect_err("nobody knows her");
    assert!(refused.contains("no [[person]] has that name"), "{refused}");
    let wrong = notice("Ada").replace("mail = \"ada@", "mail = \"ada at ");
    let refused = with(&wrong).expect_err("that is no address");
    assert!(refused.contains("this is no e-mail address"), "{refused}");
}
