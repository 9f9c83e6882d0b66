//! The check: from the file as written to a [`Site`], one file a table.
//!
//! Every check goes on after a problem as far as it can, so that all of them are told together.

mod address;
mod alarm;
mod checks;
mod contact;
mod gas;
mod hookup;
mod limit;
mod link;
mod liquid;
mod mail;
mod marks;
mod measures;
mod names;
mod notice;
mod outlets;
mod person;
mod pressure;
mod product;
mod ranges;
mod rounds;
mod sight;
mod site;
mod stale;
mod stream;
mod system;
mod tank;
mod transmitter;
mod vessel;

use super::Site;
use super::file::Document;
use super::settings::fold;
use crate::engine::Plan;

/// The site of a document; none where something is wrong, which is then reported.
pub fn site(document: &Document, text: &str) -> Option<Site> {
    let root = document.root();
    let links = link::Links::read(&root);
    let transmitters = transmitter::Transmitters::read(&root, &links);
    let contacts = contact::Contacts::read(&root, &links, &transmitters);
    let place = root
        .table("site")
        .and_then(|table| site::read(&table, &transmitters));
    let tanks = tank::read(&root, &transmitters, &contacts, place.as_ref());
    let (mqtt, http) = (outlets::mqtt(&root), outlets::http(&root));
    let (journal, commands) = (outlets::journal(&root), outlets::commands(&root));
    let heartbeat = outlets::heartbeat(&root);
    let timezone = place.as_ref().and_then(|place| place.timezone.as_deref());
    let notices = notice::read(&root, timezone);
    let watched = system::read(&root);
    let people = person::read(&root);
    let finished = transmitters.finish(tanks.hookups_read);
    let contacts = contacts.finish();
    let (place, tanks) = (place?, tanks.plans?);
    let ((mut plans, points), (mut contacts, bits)) = (finished?, contacts?);
    let links = links.settings(&points, &bits)?;
    contact::settle(&mut contacts, &tanks);
    stale::settle(&mut plans, &tanks, &place.ambient);
    checks::settle(&mut plans, &tanks);
    let (name, notices) = (place.name?, notices?);
    let devices = system::devices(&points, &bits);
    let watched = system::alarms(&watched?, &links, &devices, &plans, &contacts, &tanks);
    Some(Site {
        plan: Plan {
            site: name.into(),
            site_folded: fold(name).into(),
            fingerprint: fingerprint(text).into(),
            gravity: place.gravity,
            gravity_uncertainty: place.gravity_uncertainty,
            ambient: place.ambient,
            links: link::plans(&links),
            transmitters: plans,
            contacts,
            devices,
            tanks,
            notices: notices.0,
            system: watched,
        },
        links,
        show: place.show,
        timezone: place.timezone,
        shifts: place.shifts,
        mqtt,
        http,
        journal,
        commands,
        people,
        notices: notices.1,
        heartbeat: heartbeat?,
        files: document.named(),
    })
}

/// FNV-1a, 64 bits (Fowler, Noll, Vo; RFC 9923), in hexadecimal: the same for the same text anywhere.
fn fingerprint(text: &str) -> String {
    const OFFSET_BASIS: u64 = 0xcbf2_9ce4_8422_2325;
    const PRIME: u64 = 0x0000_0100_0000_01b3;
    let hash = text.bytes().fold(OFFSET_BASIS, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(PRIME)
    });
    format!("{hash:016x}")
}

#[cfg(test)]
mod tests {
    use super::fingerprint;

    #[test]
    fn the_fingerprint_is_fnv_1a() {
        // Test vectors of the FNV authors' test suite, from memory: "", "a", "foobar".
        assert_eq!(fingerprint(""), "cbf29ce484222325");
        assert_eq!(fingerprint("a"), "af63dc4c8601ec8c");
        assert_eq!(fingerprint("foobar"), "85944171f73967e8");
    }
}
