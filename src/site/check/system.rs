//! `[system]`: the alarms of the system itself, each there with its defaults even where nothing is said.

use super::alarm::{self, SHELVE_AT_MOST};
use crate::engine::plan::{
    AlarmPlan, ContactPlan, DevicePlan, Limit, OnBad, Priority, Record, SystemPart, TankPlan,
    TransmitterPlan, Watch,
};
use crate::engine::{ContactId, LinkId, TransmitterId};
use crate::site::file::Table;
use crate::site::settings::{Bit, LinkSettings, Point, fold};
use std::sync::Arc;
use std::time::Duration;

/// A link or device is told after that time, or after so many polls where that is longer. Common practice, no
/// source. A tank whose level can't be measured any more ends the delay.
const FAILED_AFTER: Duration = Duration::from_secs(10);
const POLLS: u32 = 3;
/// A disk that is slow for a moment is not told.
const JOURNAL_AFTER: Duration = Duration::from_secs(10);
/// So many tanks are named in a text; of more, how many.
const NAMED: usize = 12;

/// What the site file says of one kind; what is left out has a default.
#[derive(Clone, Debug, Default)]
pub struct Said {
    priority: Option<Priority>,
    on_delay: Option<Duration>,
    off_delay: Duration,
    response: Option<String>,
    /// Where it says how long a shelf may last.
    shelve: Option<Duration>,
}

/// `[system]` as far as it is there.
#[derive(Clone, Debug, Default)]
pub struct System {
    link: Said,
    device: Said,
    journal: Said,
    clock: Said,
    notice: Said,
    site_file: Said,
}

pub fn read(root: &Table<'_>) -> Option<System> {
    if !root.has("system") {
        return Some(System::default());
    }
    let table = root.table("system")?;
    let said = |name| said(&table, name);
    let (link, device, journal) = (said("link"), said("device"), said("journal"));
    let (clock, notice, site_file) = (said("clock"), said("notice"), said("site_file"));
    Some(System {
        link: link?,
        device: device?,
        journal: journal?,
        clock: clock?,
        notice: notice?,
        site_file: site_file?,
    })
}

fn said(table: &Table<'_>, name: &'static str) -> Option<Said> {
    if !table.has(name) {
        return Some(Said::default());
    }
    let table = table.table(name)?;
    let priority = table.choice("priority").map(alarm::priority);
    let (on_delay, off_delay) = (table.duration("on_delay"), table.duration("off_delay"));
    let shelve = if table.has("shelve") {
        Some(table.table("shelve")?.duration("at_most")?)
    } else {
        None
    };
    // What stands there and can't be read is told already.
    let is_read = (priority.is_some() || !table.has("priority"))
        && (on_delay.is_some() || !table.has("on_delay"));
    is_read.then_some(Said {
        priority,
        on_delay,
        off_delay: off_delay?,
        response: table.text("response").map(str::to_owned),
        shelve,
    })
}

/// The devices in the order in which they are first named.
pub fn devices(points: &[(LinkId, Point)], bits: &[(LinkId, Bit)]) -> Vec<DevicePlan> {
    let mut devices: Vec<DevicePlan> = Vec::new();
    let mut find = |link: LinkId, unit: u8| {
        let known = devices
            .iter()
            .position(|device| (device.link, device.unit) == (link, unit));
        let place = known.unwrap_or(devices.len());
        if known.is_none() {
            devices.push(DevicePlan {
                link,
                unit,
                transmitters: Vec::new(),
                contacts: Vec::new(),
            });
        }
        place
    };
    let transmitters: Vec<(usize, TransmitterId)> = points
        .iter()
        .map(|(link, point)| (find(*link, point.device), point.transmitter))
        .collect();
    let contacts: Vec<(usize, ContactId)> = bits
        .iter()
        .map(|(link, bit)| (find(*link, bit.device), bit.contact))
        .collect();
    for (place, id) in transmitters {
        devices[place].transmitters.push(id);
    }
    for (place, id) in contacts {
        devices[place].contacts.push(id);
    }
    devices
}

/// All alarms of the system: of each link, of each device, of the rest.
pub fn alarms(
    said: &System,
    links: &[LinkSettings],
    devices: &[DevicePlan],
    transmitters: &[TransmitterPlan],
    contacts: &[ContactPlan],
    tanks: &[TankPlan],
) -> Vec<AlarmPlan> {
    let site = Site {
        transmitters,
        contacts,
        tanks,
    };
    let of_link = (0..).map(LinkId).zip(links).map(|(id, link)| {
        let follows = site.follows(|of, _| of == id);
        let record = link_record(&follows.tanks);
        let part = SystemPart::Link(id);
        failed(
            &said.link,
            part,
            &link_code(&link.name),
            follows.priority,
            link,
            record,
        )
    });
    let of_device = devices.iter().enumerate().map(|(place, device)| {
        let follows = site.follows(|_, id| match id {
            Id::Transmitter(id) => device.transmitters.contains(&id),
            Id::Contact(id) => device.contacts.contains(&id),
        });
        let link = &links[device.link.index()];
        let code = device_code(&link.name, device.unit);
        let record = device_record(&follows.tanks);
        let part = SystemPart::Device(place);
        failed(&said.device, part, &code, follows.priority, link, record)
    });
    of_link.chain(of_device).chain(others(said)).collect()
}

/// `LINK-SKID-A`: it goes into topics and commands.
fn link_code(name: &str) -> String {
    format!("LINK-{}", fold(name).to_uppercase())
}

fn device_code(link: &str, unit: u8) -> String {
    format!("DEVICE-{}-{unit}", fold(link).to_uppercase())
}

/// What is read of a device.
enum Id {
    Transmitter(TransmitterId),
    Contact(ContactId),
}

struct Site<'a> {
    transmitters: &'a [TransmitterPlan],
    contacts: &'a [ContactPlan],
    tanks: &'a [TankPlan],
}

/// What follows from a failure: the levels that are unknown then, and the most urgent alarm it stands for.
struct Follows {
    tanks: Vec<Arc<str>>,
    priority: Priority,
}

impl Site<'_> {
    fn follows(&self, hangs: impl Fn(LinkId, Id) -> bool) -> Follows {
        let reads = |id: TransmitterId| {
            let link = self.transmitters[id.index()].link;
            hangs(link, Id::Transmitter(id))
        };
        let looks = |id: ContactId| hangs(self.contacts[id.index()].link, Id::Contact(id));
        let mut tanks = Vec::new();
        let mut priority = None;
        for tank in self.tanks {
            let is_measured = tank.transmitters().any(reads);
            let follows = tank.alarms.iter().filter(|alarm| match alarm.watch {
                Watch::Contact(id) => alarm.on_bad == OnBad::Annunciate && looks(id),
                Watch::Measurement => is_measured,
                _ => is_measured && alarm.on_bad == OnBad::Annunciate,
            });
            priority = priority.max(follows.map(|alarm| alarm.priority).max());
            if is_measured {
                tanks.push(Arc::clone(&tank.name));
            }
        }
        Follows {
            tanks,
            priority: priority.unwrap_or(Priority::Medium),
        }
    }
}

fn failed(
    said: &Said,
    part: SystemPart,
    code: &str,
    priority: Priority,
    link: &LinkSettings,
    record: Record,
) -> AlarmPlan {
    let on_delay = FAILED_AFTER.max(link.poll_every * POLLS);
    plan(said, part, code, (priority, on_delay), record)
}

fn others(said: &System) -> [AlarmPlan; 5] {
    use SystemPart::{Clock, Journal, JournalReplaced, Notice, SiteFile};
    let medium = Priority::Medium;
    [
        plan(
            &said.journal,
            Journal,
            "JOURNAL",
            (medium, JOURNAL_AFTER),
            record(
                "Its disk is full or fails",
                "What happens waits in memory, and is lost if the program ends before there is room",
                "Make room on the journal's disk, or mend it",
            ),
        ),
        plan(
            &said.journal,
            JournalReplaced,
            "JOURNAL-REPLACED",
            (medium, Duration::ZERO),
            record(
                "Its file was damaged: a failing disk, a loss of power, a hand",
                "What was recorded before stands in the file that was kept aside only",
                "Keep that file; look at the disk; go through the alarms",
            ),
        ),
        plan(
            &said.clock,
            Clock,
            "CLOCK",
            (Priority::Low, Duration::ZERO),
            record(
                "It was set by hand, or by a time service that had no time for long",
                "Times of events before and after do not match; shelves end earlier or later",
                "See to the time service of this machine; note the step",
            ),
        ),
        plan(
            &said.notice,
            Notice,
            "NOTICE",
            (Priority::High, Duration::ZERO),
            record(
                "The way to that person does not work: a server, a network, an address",
                "Who should have been told of an alarm has not been",
                "Tell them by another way; see to the one that failed",
            ),
        ),
        plan(
            &said.site_file,
            SiteFile,
            "SITE-FILE",
            (Priority::Low, Duration::ZERO),
            record(
                "There is an error in the changed site file",
                "The one before stays in force, without the changes",
                "Run `standpipe check`, mend what it says, load it again",
            ),
        ),
    ]
}

fn plan(
    said: &Said,
    part: SystemPart,
    code: &str,
    (priority, on_delay): (Priority, Duration),
    record: Record,
) -> AlarmPlan {
    let priority = said.priority.unwrap_or(priority);
    let may_be_shelved = (priority != Priority::Highest).then_some(SHELVE_AT_MOST);
    AlarmPlan {
        code: code.into(),
        watch: Watch::System(part),
        limit: Limit::Is(true),
        deadband: 0.0,
        on_delay: said.on_delay.unwrap_or(on_delay),
        off_delay: said.off_delay,
        priority,
        on_bad: OnBad::Hold,
        latch: false,
        re_alarm: None,
        shelve_at_most: said.shelve.or(may_be_shelved),
        suppress: None,
        unit: None,
        record: Arc::new(Record {
            response: said.response.clone().or(record.response),
            ..record
        }),
    }
}

fn link_record(tanks: &[Arc<str>]) -> Record {
    record(
        "Gateway or device without power, a cable, the network, or another client that holds its session",
        &consequence(tanks),
        "Read the levels at the tanks; see to gateway, cable and network",
    )
}

fn device_record(tanks: &[Arc<str>]) -> Record {
    record(
        "The device is off, or does not know what it is asked for",
        &consequence(tanks),
        "Read the levels at the tanks; see to the device, its unit identifier and registers",
    )
}

fn consequence(tanks: &[Arc<str>]) -> String {
    let named: Vec<&str> = tanks.iter().take(NAMED).map(|name| &**name).collect();
    match tanks.len() {
        0 => "What is read over it is unknown".to_owned(),
        count if count > NAMED => format!(
            "No level of {} and {} more: their alarms may be missed",
            named.join(", "),
            count - NAMED
        ),
        _ => format!(
            "No level of {}: their alarms may be missed",
            named.join(", ")
        ),
    }
}

fn record(cause: &str, consequence: &str, response: &str) -> Record {
    Record {
        cause: Some(cause.to_owned()),
        consequence: Some(consequence.to_owned()),
        response: Some(response.to_owned()),
        ..Record::default()
    }
}
