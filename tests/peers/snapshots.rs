//! A site of two tanks: one that reads well with a high alarm, one whose link is down.

use standpipe::engine::alarm::{AlarmState, Process};
use standpipe::engine::checks::jump::JumpVerdict;
use standpipe::engine::memory::Shelf;
use standpipe::engine::notice::NoticesView;
use standpipe::engine::plan::{Marks, Priority, Record};
use standpipe::engine::snapshot::{
    AlarmView, ContactView, CorrectionView, Frame, FrameLimit, GoneView, JumpView, LinkView, Looks,
    SignalView, TankView,
};
use standpipe::engine::{Event, EventKind, Quality, Reading, Reason, Reasons, Snapshot};
use standpipe::journal::{Journal, Step};
use standpipe::physics::balance::Terms;
use standpipe::physics::budget::{Budget, Sensitivity};
use standpipe::physics::vessel::{Head, Shape, Vessel};
use standpipe::quantity::{self, DifferentialPressure, Dimension, Timestamp, Unit};
use standpipe::site::settings::JournalSettings;
use std::ops::RangeInclusive;
use std::sync::Arc;
use std::time::Duration;
use tempfile::TempDir;

pub fn site() -> Snapshot {
    Snapshot {
        up: Duration::from_secs(60),
        utc: moment(),
        site: "Alder Rise".into(),
        site_folded: "alder-rise".into(),
        links: vec![
            link("skid-a", true, ""),
            link("skid-b", false, "no connection"),
        ],
        transmitters: vec![
            signal("PDT-101", "skid-a", Some(-27_687.0), Reasons::NONE),
            signal("PDT-201", "skid-b", None, Reason::NoAnswer.into()),
        ],
        horn: Default::default(),
        tests: Vec::new(),
        contacts: vec![ContactView {
            tag: "P-101".into(),
            link: "skid-a".into(),
            on: Some(true),
            means: Some("running".into()),
            quality: Quality::Good,
            reasons: Reasons::NONE,
            time: Some(moment()),
        }],
        tanks: vec![clearwell(), north()],
        system: vec![
            alarm("LINK-SKID-A", AlarmState::Normal, false),
            AlarmView {
                follows: vec![("north-tank".into(), "MEASUREMENT".into())],
                ..alarm("LINK-SKID-B", AlarmState::Unacknowledged, false)
            },
        ],
        gone: vec![
            GoneView {
                tank: "old-tank".into(),
                code: "LAH".into(),
                is_tank_gone: true,
                alarm: Some(AlarmView {
                    removed: true,
                    ..alarm("LAH", AlarmState::ReturnedUnacknowledged, false)
                }),
            },
            GoneView {
                tank: "clearwell".into(),
                code: "LAHH".into(),
                is_tank_gone: false,
                alarm: None,
            },
        ],
        notices: NoticesView::default(),
    }
}

pub fn event(number: u64) -> Arc<Event> {
    Arc::new(Event {
        number,
        time: moment(),
        kind: EventKind::Alarm,
        tank: Some("clearwell".into()),
        code: Some("LAH".into()),
        from: Some(AlarmState::Normal),
        to: Some(AlarmState::Unacknowledged),
        person: None,
        text: "level 3.412 m is at or above 3.400 m".to_owned(),
    })
}

/// What a step leaves behind that makes those events.
pub fn step(numbers: RangeInclusive<u64>) -> Step {
    Step {
        events: numbers.map(event).collect(),
        ..Step::default()
    }
}

/// A new journal of a site with a broker, in a folder that goes with it.
pub fn journal() -> (TempDir, Journal) {
    let folder = tempfile::tempdir().expect("a temporary directory");
    let settings = JournalSettings {
        file: folder.path().join("site.db"),
        keep_samples: None,
        keep_events: None,
    };
    let opened = Journal::open(&settings, true, moment()).expect("it opens");
    (folder, opened.journal)
}

/// The same with those events, which wait for the broker.
pub fn journal_of(numbers: RangeInclusive<u64>) -> (TempDir, Journal) {
    let (folder, journal) = journal();
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .build()
        .expect("a runtime");
    let written = runtime.block_on(journal.commit(step(numbers)));
    written.expect("the journal is written");
    (folder, journal)
}

pub fn moment() -> Timestamp {
    "2026-03-04T05:06:07.89Z".parse().expect("a time")
}

fn clearwell() -> TankView {
    let mut high = alarm("LAH", AlarmState::Unacknowledged, false);
    (high.limit, high.value, high.unit) = (Some(3.4), Some(3.412), Some(metre()));
    TankView {
        name: "clearwell".into(),
        title: "Clear water tank".into(),
        frame: frame(4.0, 5.0),
        reading: good(),
        budget: budget(),
        corrected: Some(CorrectionView {
            by: Some("Ada".into()),
            until: Some(jiff::civil::date(2027, 3, 4)),
        }),
        last_good: Some(moment()),
        alarms: vec![
            high,
            shelved(),
            alarm("MEASUREMENT", AlarmState::Normal, false),
        ],
        jump: Some(JumpView {
            since: moment(),
            verdict: JumpVerdict::Unexplained,
            text: "The level rose by 0.30 m in 1 s. Look at the sight glass.".into(),
        }),
        product: Some("raw water".into()),
        transfer: None,
        hookups: Vec::new(),
        findings: Vec::new(),
        abilities: Default::default(),
        rounds: Default::default(),
        test: None,
    }
}

/// An upright cylinder with a flat bottom, two taps and one high limit.
fn frame(diameter_m: f64, height_m: f64) -> Arc<Frame> {
    let metres = quantity::metres;
    let shape = Shape::UprightCylinder {
        diameter: metres(diameter_m),
        height: metres(height_m),
        bottom: Head::Flat,
        top: Head::Flat,
    };
    Arc::new(Frame {
        vessel: Vessel::new(shape).expect("a vessel"),
        zero: metres(0.0),
        bottom: metres(0.0),
        top: metres(height_m),
        marks: Marks {
            overflow: Some(metres(height_m - 0.2)),
            ..Marks::default()
        },
        tags: vec!["PDT-101".into()],
        taps: vec![metres(0.3), metres(height_m - 0.1)],
        limits: vec![FrameLimit {
            code: "LAH".into(),
            priority: Priority::High,
            at: metres(3.4),
            above: true,
        }],
        products: Vec::new(),
        looks: Looks {
            glass_zero: metres(0.3),
            glass_length: None,
            gauge_point: None,
        },
    })
}

/// Shelved while it is active underneath.
fn shelved() -> AlarmView {
    AlarmView {
        active: true,
        since: Some(moment()),
        latching: true,
        shelf: Some(Shelf {
            until: "2026-03-04T07:00:00Z".parse().expect("a time"),
            by: "Ada".into(),
            reason: "float sticks".into(),
            once: false,
        }),
        ..alarm("LSHH", AlarmState::Shelved, false)
    }
}

fn north() -> TankView {
    let mut low = alarm("LAL", AlarmState::Acknowledged, true);
    (low.limit, low.unit) = (Some(0.6), Some(metre()));
    TankView {
        name: "North Tank".into(),
        title: "Raw water <north>".into(),
        frame: frame(3.0, 3.0),
        reading: bad(7, Reason::NoAnswer),
        budget: Budget::default(),
        corrected: None,
        last_good: Some("2026-03-04T05:00:00Z".parse().expect("a time")),
        alarms: vec![low, alarm("MEASUREMENT", AlarmState::Unacknowledged, false)],
        jump: None,
        product: None,
        transfer: None,
        hookups: Vec::new(),
        findings: Vec::new(),
        abilities: Default::default(),
        rounds: Default::default(),
        test: None,
    }
}

/// A reading that nothing is known in.
pub fn bad(number: u64, reason: Reason) -> Reading {
    Reading {
        number,
        time: moment(),
        quality: Quality::Bad,
        reasons: reason.into(),
        level: None,
        level_at_least: None,
        level_at_most: None,
        interface: None,
        fill: None,
        volume: None,
        standard_volume: None,
        usable: None,
        ullage: None,
        mass: None,
        density: None,
        temperature: None,
        rate: None,
        rate_standard_error: None,
        next_limit: None,
        time_to_overflow: None,
        net_flow: None,
        differential_pressure: None,
        level_uncertainty: None,
        volume_uncertainty: None,
        mass_uncertainty: None,
        terms: None,
    }
}

fn budget() -> Budget {
    let mut budget = Budget::default();
    let in_metres = Sensitivity {
        level_m: 1.0,
        ..Sensitivity::default()
    };
    budget.add("liquid density", 0.002, in_metres);
    budget.add("elevations", 0.001, in_metres);
    budget
}

fn good() -> Reading {
    Reading {
        number: 61,
        quality: Quality::Good,
        reasons: Reasons::NONE,
        level: Some(quantity::metres(3.412)),
        fill: Some(0.586),
        volume: Some(quantity::cubic_metres(43.5)),
        standard_volume: None,
        usable: Some(quantity::cubic_metres(40.9)),
        ullage: Some(quantity::cubic_metres(34.4)),
        mass: Some(quantity::kilograms(43_430.0)),
        density: Some(quantity::kilograms_per_cubic_metre(999.5)),
        temperature: Some(quantity::kelvin(285.15)),
        rate: Some(quantity::metres_per_second(-0.0005)),
        net_flow: Some(quantity::cubic_metres_per_second(-0.0069)),
        differential_pressure: Some(DifferentialPressure::pascals(-27_687.0)),
        level_uncertainty: Some(budget().expanded().level),
        volume_uncertainty: Some(quantity::cubic_metres(f64::NAN)),
        mass_uncertainty: None,
        terms: Some(Terms {
            liquid_column: DifferentialPressure::pascals(30_500.0),
            gas_column: DifferentialPressure::pascals(29.0),
            high_leg: DifferentialPressure::pascals(7_840.0),
            low_leg: DifferentialPressure::pascals(-66_056.0),
        }),
        ..bad(61, Reason::NoAnswer)
    }
}

fn alarm(code: &str, state: AlarmState, questionable: bool) -> AlarmView {
    let process = Process::ALL
        .iter()
        .find(|process| process.code() == state.code());
    let process = *process.unwrap_or(&Process::Unacknowledged);
    AlarmView {
        code: code.into(),
        state,
        questionable,
        active: state.is_active(),
        since: state.is_active().then(moment),
        activation: state.is_active().then_some(12),
        priority: Priority::High,
        limit: None,
        value: None,
        unit: None,
        record: Arc::new(Record {
            response: Some("Close the inlet valve; stand by the tank".to_owned()),
            respond_within: Some(Duration::from_secs(600)),
            ..Record::default()
        }),
        process,
        latching: false,
        shelf: None,
        suppressed: None,
        out_of_service: None,
        removed: false,
        follows: Vec::new(),
        test: false,
    }
}

fn link(name: &str, up: bool, trouble: &str) -> LinkView {
    LinkView {
        name: name.into(),
        up,
        trouble: trouble.into(),
        since: moment(),
    }
}

fn signal(tag: &str, link: &str, value: Option<f64>, reasons: Reasons) -> SignalView {
    SignalView {
        words: value.map(|_| [0x4053, 0x1000].into()),
        tag: tag.into(),
        link: link.into(),
        raw: value.map(|pascals| pascals / 1000.0),
        value,
        unit: quantity::find("kPa", Dimension::Pressure).expect("a known unit"),
        quality: reasons.quality(),
        reasons,
        time: value.map(|_| moment()),
        work: None,
    }
}

fn metre() -> &'static Unit {
    quantity::find("m", Dimension::Length).expect("a known unit")
}
