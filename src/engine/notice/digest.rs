//! Digests: while there is a flood, what each route has to tell, once in a while and in the order of urgency.

use super::call::Call;
use super::state::{At, Notices};
use super::words;

impl Notices {
    /// One digest for each route that has something to tell.
    pub(super) fn send_digests(&mut self, at: At<'_>) {
        for route in 0..at.plan.routes.len() {
            let returned = std::mem::take(&mut self.returned[route]);
            let mut new: Vec<&Call> = self.on(route, |call, leg| call.legs[leg].waiting);
            if new.is_empty() && returned == 0 {
                continue;
            }
            new.sort_by_key(|call| (std::cmp::Reverse(call.of.priority), call.of.activation));
            let open = self.on(route, |call, leg| call.legs[leg].told > 0).len();
            let notice = words::of_digest(at, route, &new, returned, open);
            let group = self.post(at, route, notice, None);
            for call in &mut self.calls {
                for leg in call.legs.iter_mut().filter(|leg| leg.route == route) {
                    if std::mem::take(&mut leg.waiting) {
                        (leg.digest, call.changed) = (Some(group), true);
                    }
                }
            }
        }
    }

    fn on(&self, route: usize, which: impl Fn(&Call, usize) -> bool) -> Vec<&Call> {
        let on_route = |call: &&Call| call.leg(route).is_some_and(|leg| which(call, leg));
        self.calls.iter().filter(on_route).collect()
    }
}
