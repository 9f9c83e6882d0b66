//! The plant over Modbus TCP: one listening port a link, on the loopback alone.
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

/// Serve a plant until `stop`. The first link listens at `first_port`, the others at those after it; with
/// port 0 each gets a free one. `hand` acts on the plant before each of its steps.
pub async fn serve(
    plant: Plant,
    first_port: u16,
    speed: f64,
    hand: impl FnMut(&mut Plant) + Send + 'static,
    stop: CancellationToken,
) -> io::Result<Served> {
    let mut listeners = Vec::new();
    for (place, name) in (0u16..).zip(plant.links()) {
        let port = match first_port {
            0 => 0,
            first => first
                .checked_add(place)
                .ok_or_else(|| io::Error::other("no port is left for all links"))?,
        };
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port)).await?;
        listeners.push((name.clone(), listener.local_addr()?, listener));
    }
    let plant = Arc::new(Mutex::new(plant));
    let tasks = TaskTracker::new();
    let mut addresses = Vec::new();
    for (link, (name, address, listener)) in listeners.into_iter().enumerate() {
        addresses.push((name, address));
        tasks.spawn(answer_requests(
            listener,
            Devices {
                plant: Arc::clone(&plant),
                link,
                broken: Broken::default(),
            },
            stop.clone(),
        ));
    }
    tasks.spawn(step_along(Arc::clone(&plant), speed, hand, stop));
    tasks.close();
    Ok(Served {
        plant,
        addresses,
        tasks,
    })
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
            let is_taken = look_at(&devices.plant, |plant| plant.connects(devices.link));
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

/// The devices behind one link.
#[derive(Clone, Debug)]
struct Devices {
    plant: Shared,
    link: usize,
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
                let answer = plant.answer(self.link, device, space, address, count);
                (answer, plant.delay(self.link))
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
