//! The plant over Modbus TCP: one listening port a link or one for all, on the loopback alone.
//!
//! Function codes 1 to 4 are served, every other one is refused. The plant goes at `speed` times the
//! time of the wall, in whole steps; falling behind is made up for, never skipped. By how much an answer is late
//! is the wall's time at any speed, since a client's patience is.

mod breakable;
#[cfg(test)]
mod tests;

use super::{Answer, Plant, Space, exception};
use breakable::{Breakable, Broken};
use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::net::{TcpListener, TcpStream};
use tokio::time::MissedTickBehavior;
use tokio_modbus::server::Service;
use tokio_modbus::server::tcp::{Server, accept_tcp_connection};
use tokio_modbus::{ExceptionCode, Request, Response, SlaveRequest};
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

/// A plant that several tasks look at.
pub type Shared = Arc<Mutex<Plant>>;

/// Where the links listen; port 0 takes free ones.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ports {
    /// The first link at this port, the others at those after it.
    Each(u16),
    /// All at this one, as behind one gateway: their devices need numbers of their own.
    One(u16),
}

/// A plant that is being served.
#[derive(Debug)]
pub struct Served {
    pub plant: Shared,
    /// Each link's name and where it listens.
    pub addresses: Vec<(String, SocketAddr)>,
    tasks: TaskTracker,
}

impl Served {
    /// Returns once everything has stopped after the token was cancelled.
    pub async fn stopped(&self) {
        self.tasks.wait().await;
    }
}

/// Serve a plant until `stop`. `hand` acts on the plant before each of its steps.
pub async fn serve(
    plant: Plant,
    ports: Ports,
    speed: f64,
    hand: impl FnMut(&mut Plant) + Send + 'static,
    stop: CancellationToken,
) -> io::Result<Served> {
    let (tasks, mut addresses) = (TaskTracker::new(), Vec::new());
    let mut listeners = Vec::new();
    for (links, port) in shares(&plant, ports)? {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port)).await;
        let listener = listener.map_err(|error| {
            io::Error::new(error.kind(), format!("port {port} of 127.0.0.1: {error}"))
        })?;
        let address = listener.local_addr()?;
        let named = links.iter().map(|link| plant.links()[*link].clone());
        addresses.extend(named.map(|name| (name, address)));
        listeners.push((links, listener));
    }
    let plant = Arc::new(Mutex::new(plant));
    for (links, listener) in listeners {
        let devices = Devices {
            plant: Arc::clone(&plant),
            links: links.into(),
            broken: Broken::default(),
        };
        tasks.spawn(answer_requests(listener, devices, stop.clone()));
    }
    tasks.spawn(step_along(Arc::clone(&plant), speed, hand, stop));
    tasks.close();
    Ok(Served {
        plant,
        addresses,
        tasks,
    })
}

/// The links that share each port, by their places.
fn shares(plant: &Plant, ports: Ports) -> io::Result<Vec<(Vec<usize>, u16)>> {
    let links = 0..plant.links().len();
    match ports {
        Ports::One(port) => match plant.shared_device() {
            None => Ok(vec![(links.collect(), port)]),
            Some((device, [one, other])) => Err(io::Error::other(format!(
                "device {device} is behind {one} and behind {other}: at one port nobody could tell which is asked"
            ))),
        },
        Ports::Each(first) => links
            .zip(0u16..)
            .map(|(link, place)| match first {
                0 => Ok((vec![link], 0)),
                first => match first.checked_add(place) {
                    Some(port) => Ok((vec![link], port)),
                    None => Err(io::Error::other("no port is left for all links")),
                },
            })
            .collect(),
    }
}

/// Advance the plant with the wall's time.
async fn step_along(
    plant: Shared,
    speed: f64,
    mut hand: impl FnMut(&mut Plant),
    stop: CancellationToken,
) {
    /// The wall's time between two advances.
    const TICK: Duration = Duration::from_millis(50);
    let mut ticks = tokio::time::interval(TICK);
    ticks.set_missed_tick_behavior(MissedTickBehavior::Burst);
    ticks.tick().await;
    while stop.run_until_cancelled(ticks.tick()).await.is_some() {
        look_at(&plant, |plant| {
            plant.advance_under(TICK.mul_f64(speed), &mut hand)
        });
    }
}

async fn answer_requests(listener: TcpListener, devices: Devices, stop: CancellationToken) {
    let server = Server::new(listener);
    let accept = |stream: TcpStream, from: SocketAddr| {
        // What breaks one connection is its own.
        let devices = Devices {
            broken: Broken::default(),
            ..devices.clone()
        };
        async move {
            // A small answer goes out at once; a connection that cannot be set so works all the same.
            stream.set_nodelay(true).ok();
            let takes = |plant: &mut Plant| devices.links.iter().any(|link| plant.connects(*link));
            let is_taken = look_at(&devices.plant, takes);
            let devices = |_| Ok(is_taken.then(|| devices.clone()));
            let accepted = accept_tcp_connection(stream, from, devices)?;
            Ok(accepted.map(|(devices, stream)| {
                let broken = devices.broken.clone();
                (devices, Breakable::new(stream, broken))
            }))
        }
    };
    let lost = |error: io::Error| tracing::debug!("simulated plant: a connection ended: {error}");
    if let Some(Err(error)) = stop.run_until_cancelled(server.serve(&accept, lost)).await {
        tracing::error!("simulated plant: a link no longer listens: {error}");
    }
}

/// The devices behind the links of one port.
#[derive(Clone, Debug)]
struct Devices {
    plant: Shared,
    links: Arc<[usize]>,
    broken: Broken,
}

impl Service for Devices {
    type Request = SlaveRequest<'static>;
    type Response = Option<Response>;
    type Exception = ExceptionCode;
    type Future = Pin<Box<dyn Future<Output = Result<Option<Response>, ExceptionCode>> + Send>>;

    fn call(&self, request: Self::Request) -> Self::Future {
        let device = request.slave;
        let read = |space, address, count| {
            look_at(&self.plant, |plant| {
                let mut links = self.links.iter().copied();
                let own = links.find(|link| plant.has_device(*link, device));
                // A device that no link has is asked for at the first, which says so.
                let link = own.unwrap_or(self.links[0]);
                let answer = plant.answer(link, device, space, address, count);
                (answer, plant.delay(link))
            })
        };
        let asked = match request.request {
            Request::ReadCoils(address, count) => Some((Space::Coil, address, count)),
            Request::ReadDiscreteInputs(address, count) => Some((Space::Discrete, address, count)),
            Request::ReadInputRegisters(address, count) => Some((Space::Input, address, count)),
            Request::ReadHoldingRegisters(address, count) => Some((Space::Holding, address, count)),
            _ => None,
        };
        let answered = asked.map(|(space, address, count)| (space, read(space, address, count)));
        let broken = self.broken.clone();
        Box::pin(async move {
            let Some((space, (answer, delay))) = answered else {
                return Err(ExceptionCode::new(exception::ILLEGAL_FUNCTION));
            };
            if !delay.is_zero() {
                tokio::time::sleep(delay).await;
            }
            if answer == Answer::Reset {
                broken.set();
            }
            respond(space, answer)
        })
    }
}

fn respond(space: Space, answer: Answer) -> Result<Option<Response>, ExceptionCode> {
    match (answer, space) {
        (Answer::Words(words), Space::Holding) => Ok(Some(Response::ReadHoldingRegisters(words))),
        (Answer::Words(words), _) => Ok(Some(Response::ReadInputRegisters(words))),
        (Answer::Bits(bits), Space::Coil) => Ok(Some(Response::ReadCoils(bits))),
        (Answer::Bits(bits), _) => Ok(Some(Response::ReadDiscreteInputs(bits))),
        (Answer::Exception(code), _) => Err(ExceptionCode::new(code)),
        (Answer::Silence | Answer::Reset, _) => Ok(None),
    }
}

/// A panic elsewhere leaves the plant as it was before or after a step: it is still a plant.
fn look_at<T>(plant: &Shared, look: impl FnOnce(&mut Plant) -> T) -> T {
    look(&mut plant.lock().unwrap_or_else(PoisonError::into_inner))
}
