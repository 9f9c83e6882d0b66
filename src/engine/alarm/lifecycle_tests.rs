//! Each row of the lifecycle's table, what delays and bad data do, and that nothing leaves the table.

use super::*;
use crate::engine::memory::{OutOfService, Shelf};
use crate::engine::plan::{Limit, Priority, Record, Suppress, Watch};
use proptest::prelude::*;
use std::sync::Arc;

fn plan(on_s: u64, off_s: u64, on_bad: OnBad) -> AlarmPlan {
    AlarmPlan {
        code: "LAH".into(),
        watch: Watch::Level,
        limit: Limit::Above(3.0),
        deadband: 0.0,
        on_delay: Duration::from_secs(on_s),
        off_delay: Duration::from_secs(off_s),
        priority: Priority::High,
        on_bad,
        latch: false,
        re_alarm: None,
        shelve_at_most: Some(Duration::from_secs(3600)),
        suppress: None,
        unit: None,
        record: Arc::new(Record::default()),
    }
}

fn plain() -> AlarmPlan {
    plan(0, 0, OnBad::Hold)
}

fn latching() -> AlarmPlan {
    AlarmPlan {
        latch: true,
        ..plain()
    }
}

fn suppressible(hold_s: u64, at_most_s: Option<u64>) -> AlarmPlan {
    AlarmPlan {
        suppress: Some(Suppress {
            when: Vec::new(),
            hold: Duration::from_secs(hold_s),
            at_most: at_most_s.map(Duration::from_secs),
        }),
        ..plain()
    }
}

fn at(seconds: u64) -> Now {
    let utc = Timestamp::UNIX_EPOCH.checked_add(Duration::from_secs(seconds));
    Now {
        up: Duration::from_secs(seconds),
        utc: utc.expect("a time"),
    }
}

/// An alarm, what is seen of it, and every transition so far.
#[derive(Default)]
struct Bench {
    alarm: Alarm,
    seen: Seen,
    transitions: Vec<Transition>,
    second: u64,
}

impl Bench {
    /// One step a second: `T` `F` `?` what is judged; `D` `d` suppression is wanted and no longer; a person's
    /// `a` acknowledges, `r` resets, `s` shelves for 5 s, `1` the same one-shot, `u` unshelves, `o` takes out of
    /// service, `i` returns; `.` lets time go by. What is refused is none of the transitions.
    fn step(&mut self, plan: &AlarmPlan, deed: char) {
        let now = at(self.second);
        let done = match deed {
            'a' => self.alarm.acknowledge(now.up),
            'r' => self.alarm.reset(),
            's' | '1' => self.alarm.shelve(Shelf {
                until: at(self.second + 5).utc,
                by: "Ada".into(),
                reason: "float sticks".into(),
                once: deed == '1',
            }),
            'u' => self.alarm.unshelve(Cause::Unshelved),
            'o' => self.alarm.take_out_of_service(OutOfService {
                since: now.utc,
                by: "Ben".into(),
                reason: None,
            }),
            'i' => self.alarm.return_to_service(),
            _ => {
                self.look(deed);
                while let Some(transition) = self.alarm.observe(plan, &self.seen, now) {
                    self.record(transition, now);
                    assert!(self.transitions.len() < 10_000, "it never comes to rest");
                }
                None
            }
        };
        if let Some(transition) = done {
            self.record(transition, now);
        }
        self.second += 1;
    }

    fn look(&mut self, deed: char) {
        match deed {
            'T' => self.seen.judgement = Some(Judgement::True),
            'F' => self.seen.judgement = Some(Judgement::False),
            '?' => self.seen.judgement = Some(Judgement::Undecided),
            'D' => self.seen.suppress = Wanted::Yes("HS-101 is on".into()),
            'd' => self.seen.suppress = Wanted::No,
            '.' => {}
            other => panic!("no such deed: {other}"),
        }
    }

    fn record(&mut self, transition: Transition, now: Now) {
        self.transitions.push(transition);
        self.alarm
            .record(transition, now.utc, self.transitions.len() as u64);
    }
}

/// The states shown after each step.
fn states(plan: &AlarmPlan, deeds: &str) -> String {
    let mut bench = Bench::default();
    let mut shown = |deed| {
        bench.step(plan, deed);
        bench.alarm.state().code()
    };
    deeds.chars().map(&mut shown).collect::<Vec<_>>().join(" ")
}

/// A rate passes its limit, is not known for a while, and ten minutes later the link fails.
#[test]
fn a_delay_that_ran_when_the_value_was_lost_is_not_counted_to_its_end_by_bad_data() {
    let plan = plan(5, 5, OnBad::Hold);
    let mut alarm = Alarm::default();
    let mut see = |second, judgement| {
        let seen = Seen {
            judgement,
            ..Seen::default()
        };
        alarm.observe(&plan, &seen, at(second)).is_some()
    };
    assert!(!see(0, Some(Judgement::True)));
    assert!(!see(3, None));
    assert!(!see(600, Some(Judgement::Undecided)), "invented");
    assert!(!see(700, Some(Judgement::Undecided)), "invented");
    assert!(!see(701, Some(Judgement::True)));
    assert!(see(706, Some(Judgement::True)));
    // The same when it is over.
    assert!(!see(710, Some(Judgement::False)));
    assert!(!see(712, None));
    assert!(!see(720, Some(Judgement::Undecided)));
    assert!(!see(730, Some(Judgement::False)));
    assert!(see(735, Some(Judgement::False)));
}

#[test]
fn rows_a_to_d() {
    assert_eq!(states(&plain(), "FTaF"), "NORM UNACK ACKED NORM");
    assert_eq!(states(&plain(), "TFa"), "UNACK RTNUN NORM");
    assert_eq!(states(&plain(), "TFT"), "UNACK RTNUN UNACK");
}

#[test]
fn rows_e_and_f_of_a_latching_alarm() {
    assert_eq!(states(&latching(), "TFar"), "UNACK LATUN LATAK NORM");
    assert_eq!(states(&latching(), "TaFr"), "UNACK ACKED LATAK NORM");
    assert_eq!(states(&latching(), "TFT"), "UNACK LATUN UNACK");
    assert_eq!(states(&latching(), "TaFT"), "UNACK ACKED LATAK UNACK");
    // Reset before it is acknowledged is refused.
    assert_eq!(states(&latching(), "TFr"), "UNACK LATUN LATUN");
}

#[test]
fn the_re_alarm_comes_while_it_is_active_and_answered() {
    let plan = AlarmPlan {
        re_alarm: Some(Duration::from_secs(3)),
        ..plain()
    };
    assert_eq!(
        states(&plan, "Ta...a..."),
        "UNACK ACKED ACKED ACKED UNACK ACKED ACKED ACKED UNACK"
    );
    assert_eq!(states(&plan, "TaF..."), "UNACK ACKED NORM NORM NORM NORM");
    // A shelf hides it; after that it is told as all that emerges.
    assert_eq!(
        states(&plan, "Tas...u"),
        "UNACK ACKED SHLVD SHLVD SHLVD SHLVD UNACK"
    );
}

#[test]
fn a_re_alarm_is_an_activation_of_its_own() {
    let plan = AlarmPlan {
        re_alarm: Some(Duration::from_secs(2)),
        ..plain()
    };
    let mut bench = Bench::default();
    "Ta".chars().for_each(|deed| bench.step(&plan, deed));
    assert_eq!(bench.alarm.activation(), Some(1));
    "..".chars().for_each(|deed| bench.step(&plan, deed));
    assert_eq!(bench.alarm.activation(), Some(3));
}

#[test]
fn every_state_can_be_shelved_suppressed_and_taken_out_of_service() {
    for before in ["F", "T", "Ta", "TF", "F", "T"] {
        let plan = suppressible(0, None);
        for (hide, shown) in [("s", "SHLVD"), ("D", "DSUPR"), ("o", "OOSRV")] {
            let states = states(&plan, &format!("{before}{hide}"));
            assert!(states.ends_with(shown), "{before} {hide}: {states}");
        }
    }
    for before in ["TF", "TFa"] {
        assert!(states(&latching(), &format!("{before}s")).ends_with("SHLVD"));
    }
}

#[test]
fn what_emerges_active_is_told_at_once_with_no_second_on_delay() {
    let plan = plan(2, 0, OnBad::Hold);
    assert_eq!(
        states(&plan, "sT..u"),
        "SHLVD SHLVD SHLVD SHLVD UNACK",
        "the first on-delay ran underneath"
    );
    assert_eq!(
        states(&plain(), "Taou.i"),
        "UNACK ACKED OOSRV OOSRV OOSRV UNACK"
    );
}

#[test]
fn what_emerges_latched_stays_latched_and_all_else_is_normal() {
    assert_eq!(states(&latching(), "sTFu"), "SHLVD SHLVD SHLVD LATUN");
    assert_eq!(
        states(&latching(), "TasFu"),
        "UNACK ACKED SHLVD SHLVD LATAK"
    );
    assert_eq!(states(&plain(), "sTFu"), "SHLVD SHLVD SHLVD NORM");
    assert_eq!(states(&plain(), "TFsu"), "UNACK RTNUN SHLVD NORM");
}

#[test]
fn out_of_service_is_shown_over_shelved_over_suppressed_and_the_last_one_counts() {
    let plan = suppressible(0, None);
    assert_eq!(
        states(&plan, "TDsoidu"),
        "UNACK DSUPR SHLVD OOSRV SHLVD SHLVD UNACK"
    );
    assert_eq!(
        states(&plan, "TsDu.d"),
        "UNACK SHLVD SHLVD DSUPR DSUPR UNACK"
    );
}

#[test]
fn a_shelf_ends_when_its_time_is_up() {
    assert_eq!(
        states(&plain(), "Ts....."),
        "UNACK SHLVD SHLVD SHLVD SHLVD SHLVD UNACK"
    );
}

#[test]
fn a_one_shot_shelf_ends_when_the_condition_clears_and_in_time_at_the_latest() {
    assert_eq!(states(&plain(), "T1.F"), "UNACK SHLVD SHLVD NORM");
    assert_eq!(states(&plain(), "1TF"), "SHLVD SHLVD NORM");
    assert_eq!(
        states(&plain(), "T1....."),
        "UNACK SHLVD SHLVD SHLVD SHLVD SHLVD UNACK"
    );
    // A plain shelf stays.
    assert_eq!(states(&plain(), "Ts.F"), "UNACK SHLVD SHLVD SHLVD");
}

#[test]
fn a_suppression_is_held_and_has_its_longest_time() {
    assert_eq!(
        states(&suppressible(2, None), "TDd..T"),
        "UNACK DSUPR DSUPR DSUPR UNACK UNACK"
    );
    // Spent: it begins again only after its condition was untrue.
    assert_eq!(
        states(&suppressible(0, Some(2)), "D..D.dD"),
        "DSUPR DSUPR NORM NORM NORM NORM DSUPR"
    );
}

#[test]
fn what_is_suppressed_in_the_same_read_is_not_told() {
    let plan = suppressible(0, None);
    let mut bench = Bench::default();
    bench.seen.suppress = Wanted::Yes("HS-101 is on".into());
    bench.step(&plan, 'T');
    let told: Vec<AlarmState> = bench.transitions.iter().map(|one| one.to).collect();
    assert_eq!(told, [AlarmState::Suppressed; 2]);
    assert!(bench.alarm.process().is_active());
}

#[test]
fn where_the_table_is_silent_people_are_refused() {
    let mut bench = Bench::default();
    // Normal: nothing to acknowledge, reset, unshelve or return.
    "aruiF".chars().for_each(|deed| bench.step(&plain(), deed));
    assert_eq!(bench.transitions, []);
    "Taa".chars().for_each(|deed| bench.step(&plain(), deed));
    assert_eq!(bench.transitions.len(), 2, "acknowledged once only");
    "ssar".chars().for_each(|deed| bench.step(&plain(), deed));
    assert_eq!(
        bench.transitions.len(),
        3,
        "shelved once only, and not answered there"
    );
    "oo".chars().for_each(|deed| bench.step(&plain(), deed));
    assert_eq!(bench.transitions.len(), 4);
}

#[test]
fn the_on_delay_must_be_unbroken() {
    assert_eq!(
        states(&plan(2, 0, OnBad::Hold), "TTFTTT"),
        "NORM NORM NORM NORM NORM UNACK"
    );
}

#[test]
fn the_off_delay_must_be_unbroken_and_no_answer_breaks_it() {
    let plan = plan(0, 2, OnBad::Hold);
    assert_eq!(
        states(&plan, "TFFTFFF"),
        "UNACK UNACK UNACK UNACK UNACK UNACK RTNUN"
    );
    assert_eq!(states(&plan, "TFaF"), "UNACK UNACK ACKED NORM");
}

#[test]
fn bad_data_count_towards_the_on_delay_and_restart_the_off_delay() {
    let on = plan(2, 0, OnBad::Hold);
    assert_eq!(states(&on, "T??"), "NORM NORM UNACK");
    assert_eq!(states(&on, "F????"), "NORM NORM NORM NORM NORM");
    let off = plan(0, 2, OnBad::Hold);
    assert_eq!(
        states(&off, "TF?FFF"),
        "UNACK UNACK UNACK UNACK UNACK RTNUN"
    );
}

#[test]
fn bad_data_never_clear_an_alarm_that_holds() {
    let mut bench = Bench::default();
    bench.step(&plain(), 'T');
    for _ in 0..100 {
        bench.step(&plain(), '?');
        assert!(bench.alarm.questionable());
    }
    assert_eq!(bench.transitions.len(), 1);
    bench.step(&plain(), 'T');
    assert!(!bench.alarm.questionable());
}

#[test]
fn on_bad_can_annunciate_or_clear() {
    assert_eq!(states(&plan(0, 0, OnBad::Annunciate), "F?"), "NORM UNACK");
    assert_eq!(states(&plan(0, 0, OnBad::Clear), "T?"), "UNACK RTNUN");
}

#[test]
fn an_activation_keeps_its_event_number_until_it_is_over() {
    let mut bench = Bench::default();
    "Ta".chars().for_each(|deed| bench.step(&plain(), deed));
    assert_eq!(bench.alarm.activation(), Some(1));
    bench.step(&plain(), 'F');
    assert_eq!(bench.alarm.activation(), None);
}

/// What may follow what underneath, by cause. None of it depends on how the code goes about it.
fn is_in_the_table(latch: bool, from: Process, transition: Transition) -> bool {
    use Process::{
        Acknowledged as C, LatchedAcknowledged as F, LatchedUnacknowledged as E, Normal as A,
        ReturnedUnacknowledged as D, Unacknowledged as B,
    };
    let to = transition.process;
    match transition.cause {
        Cause::Condition => match (from, to) {
            (A | D | E | F, B) => true,
            (B, D) | (C, A) => !latch,
            (B, E) | (C, F) => latch,
            _ => false,
        },
        Cause::ReAlarm => (from, to) == (C, B),
        Cause::Acknowledged => matches!((from, to), (B, C) | (D, A) | (E, F)),
        Cause::Reset => (from, to) == (F, A),
        Cause::Shelved | Cause::Suppressed | Cause::OutOfService => from == to,
        _ if is_hidden(transition.to) => from == to,
        _ => matches!((from, to), (B | C, B) | (A | D, A) | (E, E) | (F, F)),
    }
}

fn is_hidden(state: AlarmState) -> bool {
    matches!(
        state,
        AlarmState::Shelved | AlarmState::Suppressed | AlarmState::OutOfService
    )
}

#[test]
fn bad_data_long_after_the_start_were_not_found_at_the_start() {
    let plan = plan(0, 0, OnBad::Annunciate);
    let mut bench = Bench::default();
    "FFFF?".chars().for_each(|deed| bench.step(&plan, deed));
    let told = bench.transitions.last().expect("it annunciates");
    assert_eq!(told.to, AlarmState::Unacknowledged);
    assert!(!told.at_start);
}

proptest! {
    #[test]
    fn nothing_ever_leaves_the_table(
        deeds in prop::collection::vec(prop::sample::select("TF?TFDdarsu1oi..".chars().collect::<Vec<_>>()), 1..120),
        latch in any::<bool>(),
        on_bad in prop::sample::select(vec![OnBad::Hold, OnBad::Annunciate, OnBad::Clear]),
        (on_s, off_s) in (0..3_u64, 0..3_u64),
        re_alarm_s in prop::option::of(1..5_u64),
        (hold_s, at_most_s) in (0..3_u64, prop::option::of(1..6_u64)),
    ) {
        let plan = AlarmPlan {
            latch,
            re_alarm: re_alarm_s.map(Duration::from_secs),
            suppress: suppressible(hold_s, at_most_s).suppress,
            ..plan(on_s, off_s, on_bad)
        };
        let mut bench = Bench::default();
        let (mut process, mut shown) = (Process::Normal, AlarmState::Normal);
        for deed in deeds {
            let told = bench.transitions.len();
            bench.step(&plan, deed);
            for transition in &bench.transitions[told..] {
                prop_assert_eq!(transition.from, shown);
                prop_assert!(is_in_the_table(latch, process, *transition), "{:?} {:?}", process, transition);
                let by_person = matches!(transition.cause, Cause::Acknowledged | Cause::Reset);
                prop_assert!(!(by_person && is_hidden(transition.from)));
                (process, shown) = (transition.process, transition.to);
            }
            // Nothing changes without a transition that tells it, and what is shown is what is underneath.
            prop_assert_eq!((bench.alarm.process(), bench.alarm.state()), (process, shown));
            prop_assert_eq!(is_hidden(shown), bench.alarm.is_hidden());
            prop_assert!(is_hidden(shown) || shown == process.into());
            // What waits for an answer can be given one.
            if shown == AlarmState::Unacknowledged {
                prop_assert!(bench.alarm.activation().is_some());
            }
            // And it is kept as it is.
            let back = Alarm::kept(&bench.alarm.memory(&plan));
            prop_assert_eq!((back.process(), back.state(), back.activation()), (process, shown, bench.alarm.activation()));
        }
    }
}
