//! What one sampled reading shows the checks of a tank.

use crate::engine::Now;
use crate::engine::contact::ContactValue;
use crate::engine::ids::{ContactId, TransmitterId};
use crate::engine::plan::{Stream, StreamFlow};
use crate::engine::quality::{Quality, Reasons};
use crate::engine::tank::Signals;

/// Levels from the site's zero; SI units throughout. What was not known at that moment is absent.
#[derive(Clone, Copy, Debug)]
pub struct Seen {
    pub now: Now,
    pub quality: Quality,
    pub reasons: Reasons,
    pub level_m: Option<f64>,
    /// Standard uncertainty, k = 1.
    pub level_sigma_m: Option<f64>,
    pub volume_m3: Option<f64>,
    pub mass_kg: Option<f64>,
    /// Of the liquid's surface.
    pub area_m2: Option<f64>,
    /// Port to port, high minus low, as the balance takes it.
    pub difference_pa: Option<f64>,
    /// Of the gas, by a transmitter of its own.
    pub headspace_pa: Option<f64>,
    /// g·(ρl − ρv): what a metre of level is worth.
    pub pascals_per_metre: f64,
    /// What is known to flow in, and out.
    pub flows: Flows,
    pub ambient_k: Option<f64>,
    /// Of the air, by a barometer.
    pub barometer_pa: Option<f64>,
    /// Whether nothing flows; none where that is not known.
    pub at_rest: Option<bool>,
}

/// What one hookup says for itself.
#[derive(Clone, Copy, Debug)]
pub struct HookupSeen {
    /// Port to port, high minus low.
    pub difference_pa: Option<f64>,
    /// What of it is left for the liquid above the tap: legs, gas and air are taken off.
    pub head_pa: Option<f64>,
    /// Where it is not bad, and nobody works on its transmitters.
    pub level_m: Option<f64>,
    /// Standard uncertainty, k = 1.
    pub level_sigma_m: f64,
    pub pascals_per_metre: f64,
    pub worked_on: bool,
}

/// What flows in and out, by meters and by pumps whose rate is stated; none where one stream is not known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Flows {
    pub in_m3_s: Option<f64>,
    pub out_m3_s: Option<f64>,
    /// Which streams run, a bit each; none where one of them is not known. Checks that learn what is
    /// normal keep these modes apart.
    pub mode: Option<u32>,
}

impl Flows {
    pub fn net_m3_s(&self) -> Option<f64> {
        self.in_m3_s
            .zip(self.out_m3_s)
            .map(|(inflow, outflow)| inflow - outflow)
    }

    /// By the signals of the moment, where they are usable.
    pub fn known(streams: &[Stream], signals: &impl Signals) -> Self {
        let usable = |id| {
            let said = signals.value(id);
            said.value.filter(|_| said.quality() < Quality::Bad)
        };
        Self::of(streams, usable, |contact| signals.contact(contact))
    }

    /// `metered`: a flow transmitter's value in m³/s, where it is usable.
    pub fn of(
        streams: &[Stream],
        metered: impl Fn(TransmitterId) -> Option<f64>,
        contact: impl Fn(ContactId) -> ContactValue,
    ) -> Self {
        let flow = |stream: &Stream| match &stream.flow {
            StreamFlow::Unknown => None,
            StreamFlow::Metered(transmitter) => metered(*transmitter),
            StreamFlow::Running { when, rate } => {
                let runs = when.iter().try_fold(true, |runs, condition| {
                    Some(runs && contact(condition.contact).on? == condition.on)
                });
                runs.map(|runs| if runs { rate.value } else { 0.0 })
            }
        };
        // A side without any stream is not known: whatever moves there has no name.
        let sum = |fills: bool| -> Option<f64> {
            let mut side = streams
                .iter()
                .filter(|stream| stream.fills == fills)
                .peekable();
            side.peek()?;
            side.map(flow).sum()
        };
        let mode = streams
            .iter()
            .take(u32::BITS as usize)
            .enumerate()
            .try_fold(0_u32, |mode, (place, stream)| {
                Some(mode | u32::from(flow(stream)? > 0.0) << place)
            });
        Self {
            in_m3_s: sum(true),
            out_m3_s: sum(false),
            mode: mode.filter(|_| !streams.is_empty()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::plan::Condition;
    use crate::quantity::cubic_metres_per_second;

    fn stream(fills: bool, flow: StreamFlow) -> Stream {
        Stream {
            name: "s".into(),
            fills,
            at_most: None,
            flow,
        }
    }

    fn pump(contact: u32, rate: f64) -> StreamFlow {
        StreamFlow::Running {
            when: vec![Condition {
                contact: ContactId(contact),
                on: true,
            }],
            rate: cubic_metres_per_second(rate),
        }
    }

    fn contacts(on: [Option<bool>; 2]) -> impl Fn(ContactId) -> ContactValue {
        move |contact| ContactValue {
            on: on[contact.index()],
            ..ContactValue::default()
        }
    }

    #[test]
    fn meters_and_running_pumps_add_up() {
        let streams = [
            stream(true, StreamFlow::Metered(TransmitterId(0))),
            stream(true, pump(0, 0.25)),
            stream(false, pump(1, 0.125)),
        ];
        let flows = Flows::of(&streams, |_| Some(0.5), contacts([Some(true), Some(false)]));
        assert_eq!(
            flows,
            Flows {
                in_m3_s: Some(0.75),
                out_m3_s: Some(0.0),
                mode: Some(0b011)
            }
        );
        assert_eq!(flows.net_m3_s(), Some(0.75));
    }

    #[test]
    fn one_unknown_stream_makes_its_side_unknown() {
        let streams = [
            stream(true, StreamFlow::Metered(TransmitterId(0))),
            stream(false, pump(1, 0.125)),
        ];
        let flows = Flows::of(&streams, |_| None, contacts([None, Some(true)]));
        assert_eq!((flows.in_m3_s, flows.out_m3_s), (None, Some(0.125)));
        assert_eq!((flows.mode, flows.net_m3_s()), (None, None));
        let none = Flows::of(&[], |_| None, contacts([None, None]));
        assert_eq!(none, Flows::default());
    }
}
