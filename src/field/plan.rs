//! Which reads a link makes, of whom, and when: pure, without clock or connection.
//!
//! A request asks one device for registers that lie side by side and that are all named by points; a
//! register that nobody named is never read, since a device may answer it with an exception. A number
//! is never split over two requests, which could tear it.

use crate::site::settings::{Bit, LinkSettings, Point, Register, Space};
use std::time::Duration;

/// Most registers that one request may ask for (Modbus Application Protocol V1.1b3, sections 6.3, 6.4).
pub const REGISTERS_PER_REQUEST: u32 = 125;
/// And most bits, of discrete inputs or coils (sections 6.1, 6.2).
pub const BITS_PER_REQUEST: u32 = 2000;

/// The first wait before a lost link is tried again, and the longest.
const FIRST_WAIT: Duration = Duration::from_millis(500);
const LONGEST_WAIT: Duration = Duration::from_secs(10);

/// Where a point stands: registers side by side, or one bit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    pub device: u8,
    pub register: Register,
    pub count: u16,
}

/// The places of everything that is read over a link: its numbers, then its bits.
pub fn places(link: &LinkSettings) -> Vec<Place> {
    let bits = link.bits.iter().map(Place::from);
    link.points.iter().map(Place::from).chain(bits).collect()
}

impl From<&Point> for Place {
    fn from(point: &Point) -> Self {
        Place {
            device: point.device,
            register: point.register,
            count: point.number.words(),
        }
    }
}

impl From<&Bit> for Place {
    fn from(bit: &Bit) -> Self {
        Place {
            device: bit.device,
            register: bit.register,
            count: 1,
        }
    }
}

/// One read request, and the points it answers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Request {
    pub device: u8,
    pub space: Space,
    pub address: u16,
    /// Words, or bits of a space of bits.
    pub words: u16,
    /// Places in the link's list of points.
    pub points: Vec<usize>,
}

/// The requests that read all points, ordered by device and place.
fn requests(points: &[Place]) -> Vec<Request> {
    let mut order: Vec<usize> = (0..points.len()).collect();
    order.sort_by_key(|&place| (points[place].device, points[place].register, place));
    let mut requests: Vec<Request> = Vec::new();
    for place in order {
        match requests.last_mut() {
            Some(last) if joins(last, &points[place]) => {
                last.words = last.words.max(end_after(last.address, &points[place]));
                last.points.push(place);
            }
            _ => requests.push(alone(points, place)),
        }
    }
    requests
}

/// Whether a point, not before the request's first register, lies in or at the end of the request.
fn joins(request: &Request, point: &Place) -> bool {
    let from = u32::from(point.register.address);
    let first = u32::from(request.address);
    (request.device, request.space) == (point.device, point.register.space)
        && from <= first + u32::from(request.words)
        && from + u32::from(point.count) - first <= most(request.space)
}

/// Most registers or bits that one request may ask for.
fn most(space: Space) -> u32 {
    if space.is_bits() {
        BITS_PER_REQUEST
    } else {
        REGISTERS_PER_REQUEST
    }
}

/// How many words from `first` to the end of a point that joins.
fn end_after(first: u16, point: &Place) -> u16 {
    point.register.address - first + point.count
}

/// The request for one point.
fn alone(points: &[Place], place: usize) -> Request {
    let point = &points[place];
    Request {
        device: point.device,
        space: point.register.space,
        address: point.register.address,
        words: point.count,
        points: vec![place],
    }
}

/// The devices behind a link and how each is to be asked.
///
/// Devices that answered are asked in every round. Of those that kept silent one is asked, each in
/// its turn, after the others: however many are dead, they cost a round one time-out.
#[derive(Debug)]
pub struct Devices {
    devices: Vec<Device>,
    turn: usize,
}

#[derive(Debug)]
struct Device {
    grouped: Vec<Request>,
    /// As grouped, but points of a refused request each alone.
    requests: Vec<Request>,
    silent: bool,
}

impl Devices {
    pub fn new(points: &[Place]) -> Devices {
        let requests = requests(points);
        let devices = requests
            .chunk_by(|one, next| one.device == next.device)
            .map(|grouped| Device {
                grouped: grouped.to_vec(),
                requests: grouped.to_vec(),
                silent: false,
            });
        Devices {
            devices: devices.collect(),
            turn: 0,
        }
    }

    /// The devices to be asked in this round, in this order.
    pub fn round(&mut self) -> Vec<usize> {
        let (silent, mut round): (Vec<usize>, Vec<usize>) =
            (0..self.devices.len()).partition(|&device| self.devices[device].silent);
        if !silent.is_empty() {
            round.push(silent[self.turn % silent.len()]);
            self.turn = self.turn.wrapping_add(1);
        }
        round
    }

    /// The device's request at a place in its list.
    pub fn request(&self, device: usize, place: usize) -> Option<&Request> {
        self.devices[device].requests.get(place)
    }

    /// Puts the points of a request each into one of its own, at the request's place: one register
    /// that the device does not have would blind the others.
    pub fn split(&mut self, device: usize, place: usize, points: &[Place]) {
        let requests = &mut self.devices[device].requests;
        let lone: Vec<Request> = requests[place]
            .points
            .iter()
            .map(|&point| alone(points, point))
            .collect();
        requests.splice(place..=place, lone);
    }

    /// A device kept silent. Who comes back may be another: it is asked in groups again.
    pub fn fell_silent(&mut self, device: usize) {
        let device = &mut self.devices[device];
        device.silent = true;
        device.requests.clone_from(&device.grouped);
    }

    pub fn answered(&mut self, device: usize) {
        self.devices[device].silent = false;
    }

    /// Something answers again on the link: every device gets its chance in the next round.
    pub fn came_back(&mut self) {
        for device in &mut self.devices {
            device.silent = false;
        }
    }

    /// No connection can be made. That is no device's silence, but each may be another afterwards.
    pub fn cut_off(&mut self) {
        for device in &mut self.devices {
            device.silent = false;
            device.requests.clone_from(&device.grouped);
        }
    }
}

/// How long to wait after so many failures in a row: 0.5 s doubling to 10 s, less up to a fifth, by a
/// random number, so that links that were lost together don't come back together.
pub fn back_off(failures: u32, random: u64) -> Duration {
    let doublings = failures.saturating_sub(1).min(16);
    let wait = (FIRST_WAIT * (1 << doublings)).min(LONGEST_WAIT);
    let fraction = random as f64 / u64::MAX as f64;
    wait.mul_f64(1.0 - 0.2 * fraction)
}

/// When in its own period each link polls, so that they don't all poll at once.
pub fn spread(links: &[LinkSettings]) -> Vec<Duration> {
    let count = links.len().max(1) as f64;
    links
        .iter()
        .enumerate()
        .map(|(place, link)| link.poll_every.mul_f64(place as f64 / count))
        .collect()
}

#[cfg(test)]
mod tests;
