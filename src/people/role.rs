//! What each request takes: the role that may ask it, and what it is called.
//!
//! What answers a situation is the operator's; what takes protection away, or stands in for the process, is
//! maintenance. ISA-18.2 asks for authorised persons at shelving, out of service and testing and leaves the
//! roles to the site's philosophy; this split is common practice, no source.

use crate::site::settings::Role;
use crate::wire::Request;

/// The role that a request takes, and what it would do; a request without a line here does not compile.
pub fn takes(request: &Request) -> (Role, &'static str) {
    match request {
        Request::Status => (Role::Look, "to see how things stand"),
        Request::Ack { .. } => (Role::Operate, "to acknowledge an alarm"),
        Request::Reset { .. } => (Role::Operate, "to reset an alarm"),
        Request::Shelve { .. } => (Role::Operate, "to shelve an alarm"),
        Request::Unshelve { .. } => (Role::Operate, "to unshelve an alarm"),
        Request::ConfirmLevel { .. } => (Role::Operate, "to confirm a level"),
        Request::ConfirmLegDrained { .. } => (Role::Operate, "to confirm that a leg is drained"),
        Request::Sight(_) => (Role::Operate, "to enter a sight glass"),
        Request::Dip(_) => (Role::Operate, "to enter a dip"),
        Request::Product { .. } => (Role::Operate, "to say what is in a tank"),
        Request::Transfer { .. } => (Role::Operate, "to begin a transfer"),
        Request::EndTransfer { .. } => (Role::Operate, "to end a transfer"),
        Request::Silence { .. } => (Role::Operate, "to silence the horn"),
        Request::TestNotice { .. } => (Role::Operate, "to send a test notice"),
        // Whoever operates may bring the real level back.
        Request::EndTestAlarm { .. } => (Role::Operate, "to end a live test"),
        Request::Note { .. } => (Role::Operate, "to write a note"),
        Request::OutOfService { .. } => (Role::Maintain, "to take an alarm out of service"),
        Request::Work { .. } => (Role::Maintain, "to begin work on a transmitter"),
        Request::TestAlarm { .. } => (Role::Maintain, "to begin a live test"),
        Request::EndWork { .. } => (Role::Maintain, "to end work on a transmitter"),
        Request::Return { .. } => (Role::Maintain, "to return an alarm to service"),
    }
}
