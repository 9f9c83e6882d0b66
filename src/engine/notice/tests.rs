//! What follows from a value that was put in for a test says so wherever it goes.

use super::call::Annunciation;
use super::state::{At, Notices};
use super::{NoticesPlan, RecipientId, RoutePlan, Until};
use crate::engine::Now;
use crate::engine::plan::Priority;
use crate::quantity::Timestamp;
use std::sync::Arc;
use std::time::Duration;

fn plan() -> NoticesPlan {
    NoticesPlan {
        recipients: vec!["Ada".into()],
        routes: vec![RoutePlan {
            name: "on-call".into(),
            recipients: vec![RecipientId(0)],
            priorities: vec![Priority::High],
            tanks: None,
            hours: None,
            repeat: Some(Duration::from_secs(600)),
            escalation: None,
            until: Until::Acknowledged,
            daily_test: None,
        }],
        ..NoticesPlan::default()
    }
}

#[test]
fn a_test_is_marked_in_every_notice_of_it() {
    let (plan, site) = (plan(), Arc::from("Alder Rise"));
    let now = Now {
        up: Duration::ZERO,
        utc: Timestamp::UNIX_EPOCH,
    };
    let at = |up| At {
        plan: &plan,
        site: &site,
        now: Now { up, ..now },
    };
    let mut notices = Notices::new(&plan, now);
    let annunciation = |code: &str| Annunciation {
        tank: "clearwell".into(),
        title: "Clear water".into(),
        code: code.into(),
        priority: Priority::High,
        record: Arc::default(),
        activation: 1,
        since: now.utc,
        what: "level 5.5 m".into(),
        test: true,
    };
    notices.annunciate(at(now.up), annunciation("LAH"));
    notices.let_time_tell(at(Duration::from_secs(600)));
    for place in 0..12 {
        let code = format!("XA-{place}");
        notices.annunciate(at(Duration::from_secs(600)), annunciation(&code));
    }
    notices.let_time_tell(at(Duration::from_secs(660)));
    assert!(notices.out.len() > 10);
    for notice in &notices.out {
        assert!(notice.test, "{notice:?}");
        assert!(notice.subject.contains("TEST: "), "{}", notice.subject);
    }
    let digest = notices.out.last().expect("a digest");
    assert!(digest.text.contains("TEST: high"), "{}", digest.text);
}
