//! The plant over Modbus TCP: one listening port a link, on the loopback alone.
//!
//! Function codes 1 to 4 are served, every other one is refused. The plant goes at `speed` times the
//! time of the wall, in whole steps; falling behind is made up for, never skipped.

use super::{Answer, Plant, Space, exception};
use std::future::{Ready, ready};
use std::io;
use std::net::{Ipv4Addr, SocketAddr};
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
        let devices = devices.clone();
        async move {
            // A small answer goes out at once; a connection that cannot be set so works all the same.
            stream.set_nodelay(true).ok();
            accept_tcp_connection(stream, from, |_| Ok(Some(devices.clone())))
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
}

impl Service for Devices {
    type Request = SlaveRequest<'static>;
    type Response = Option<Response>;
    type Exception = ExceptionCode;
    type Future = Ready<Result<Option<Response>, ExceptionCode>>;

    fn call(&self, request: Self::Request) -> Self::Future {
        let device = request.slave;
        let read = |space, address, count| {
            look_at(&self.plant, |plant| {
                plant.answer(self.link, device, space, address, count)
            })
        };
        let asked = match request.request {
            Request::ReadCoils(address, count) => Some((Space::Coil, address, count)),
            Request::ReadDiscreteInputs(address, count) => Some((Space::Discrete, address, count)),
            Request::ReadInputRegisters(address, count) => Some((Space::Input, address, count)),
            Request::ReadHoldingRegisters(address, count) => Some((Space::Holding, address, count)),
            _ => None,
        };
        ready(match asked {
            Some((space, address, count)) => respond(space, read(space, address, count)),
            None => Err(ExceptionCode::new(exception::ILLEGAL_FUNCTION)),
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
        (Answer::Silence, _) => Ok(None),
    }
}

/// A panic elsewhere leaves the plant as it was before or after a step: it is still a plant.
fn look_at<T>(plant: &Shared, look: impl FnOnce(&mut Plant) -> T) -> T {
    look(&mut plant.lock().unwrap_or_else(PoisonError::into_inner))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::tests::{dry_leg_model, level_output};
    use crate::plant::{ContactModel, LinkFault, Senses};
    use std::time::Duration;
    use tokio_modbus::Slave;
    use tokio_modbus::client::{Context, Reader, Writer, tcp};

    const WAIT: Duration = Duration::from_secs(5);

    /// One tank whose level stands as a 32-bit number at input 0 of device 1.
    async fn served(speed: f64) -> (Served, CancellationToken, Context) {
        let mut model = dry_leg_model();
        model.transmitters[0].senses = Senses::Level { tank: 0 };
        model.transmitters[0].output = level_output();
        let stop = CancellationToken::new();
        let hand = |_: &mut Plant| {};
        let served = serve(Plant::new(model, 1), 0, speed, hand, stop.clone())
            .await
            .expect("the loopback has free ports");
        let context = tcp::connect_slave(served.addresses[0].1, Slave(1))
            .await
            .expect("it listens");
        (served, stop, context)
    }

    fn level(words: &[u16]) -> f32 {
        f32::from_bits(u32::from(words[0]) << 16 | u32::from(words[1]))
    }

    #[tokio::test]
    async fn a_client_reads_the_level() {
        let (served, stop, mut context) = served(1.0).await;
        let words = context
            .read_input_registers(0, 2)
            .await
            .expect("an answer")
            .expect("no exception");
        assert!((level(&words) - 3.0).abs() < 1e-6);
        stop.cancel();
        tokio::time::timeout(WAIT, served.stopped())
            .await
            .expect("it stops");
    }

    #[tokio::test]
    async fn a_client_reads_contacts_in_every_table() {
        let mut model = dry_leg_model();
        let contact = |space, bit, inverted| ContactModel {
            tag: "P-101".into(),
            link: 0,
            device: 1,
            space,
            address: 40,
            bit,
            inverted,
            on: false,
        };
        model.contacts = vec![
            contact(Space::Discrete, None, false),
            contact(Space::Coil, None, true),
            contact(Space::Holding, Some(3), false),
            contact(Space::Holding, Some(15), true),
        ];
        let stop = CancellationToken::new();
        let served = serve(Plant::new(model, 1), 0, 1.0, |_| {}, stop.clone())
            .await
            .expect("the loopback has free ports");
        let mut context = tcp::connect_slave(served.addresses[0].1, Slave(1))
            .await
            .expect("it listens");
        let mut read = async || {
            let discrete = context.read_discrete_inputs(40, 1).await;
            let coil = context.read_coils(40, 1).await;
            let word = context.read_holding_registers(40, 1).await;
            (
                discrete.expect("an answer").expect("bits")[0],
                coil.expect("an answer").expect("bits")[0],
                word.expect("an answer").expect("words")[0],
            )
        };
        assert_eq!(read().await, (false, true, 0x8000));
        (0..4).for_each(|place| look_at(&served.plant, |plant| plant.switch(place, true)));
        assert_eq!(read().await, (true, false, 0x0008));
        stop.cancel();
    }

    #[tokio::test]
    async fn what_it_does_not_have_it_refuses() {
        let (_served, stop, mut context) = served(1.0).await;
        let unknown = context.read_input_registers(0, 3).await.expect("an answer");
        assert_eq!(unknown, Err(ExceptionCode::IllegalDataAddress));
        let other_table = context
            .read_holding_registers(0, 2)
            .await
            .expect("an answer");
        assert_eq!(other_table, Err(ExceptionCode::IllegalDataAddress));
        let bits = context.read_coils(0, 1).await.expect("an answer");
        assert_eq!(bits, Err(ExceptionCode::IllegalDataAddress));
        let written = context.write_single_coil(0, true).await.expect("an answer");
        assert_eq!(written, Err(ExceptionCode::IllegalFunction));
        let mut elsewhere = tcp::connect_slave(_served.addresses[0].1, Slave(9))
            .await
            .expect("it listens");
        let absent = elsewhere
            .read_input_registers(0, 2)
            .await
            .expect("an answer");
        assert_eq!(absent, Err(ExceptionCode::GatewayTargetDevice));
        stop.cancel();
    }

    #[tokio::test]
    async fn a_disturbed_link_refuses_or_says_nothing() {
        let (served, stop, mut context) = served(1.0).await;
        let disturb = |fault| {
            look_at(&served.plant, |plant| {
                plant.disturb(0, fault, plant.time() + WAIT)
            })
        };
        disturb(LinkFault::Exception(6));
        assert_eq!(
            context.read_input_registers(0, 2).await.expect("an answer"),
            Err(ExceptionCode::ServerDeviceBusy)
        );
        disturb(LinkFault::Silent);
        let silence = tokio::time::timeout(
            Duration::from_millis(200),
            context.read_input_registers(0, 2),
        )
        .await;
        assert!(silence.is_err(), "{silence:?}");
        stop.cancel();
    }

    #[tokio::test]
    async fn time_goes_at_its_speed() {
        let (served, stop, _) = served(100.0).await;
        tokio::time::timeout(WAIT, async {
            while look_at(&served.plant, |plant| plant.time()) < Duration::from_secs(10) {
                tokio::time::sleep(Duration::from_millis(10)).await;
            }
        })
        .await
        .expect("ten seconds go by in a tenth");
        stop.cancel();
    }
}
