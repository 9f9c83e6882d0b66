//! Which tanks hang on a transmitter, by their level or by anything else that enters it.

use super::{Ambient, LegFill, LiquidPlan, LiquidPressure, Plan, Source, TankPlan};
use crate::engine::ids::TransmitterId;

impl Plan {
    pub fn uses(&self, tank: &TankPlan, id: TransmitterId) -> bool {
        self.ambient.uses(id) || tank.uses(id)
    }
}

impl Ambient {
    pub fn uses(&self, id: TransmitterId) -> bool {
        self.temperature.names(id) || self.pressure.names(id)
    }
}

impl TankPlan {
    /// Whether anything of the tank itself is read from it, the air apart.
    pub fn uses(&self, id: TransmitterId) -> bool {
        let in_legs = self
            .hookups
            .iter()
            .flat_map(|hookup| hookup.hookup.fills())
            .any(|fill| matches!(fill, LegFill::Filled(fill) if fill.uses(id)));
        let in_gas = self.gas.temperature.names(id) || self.gas.pressure.names(id);
        in_legs || in_gas || self.liquid.uses(id) || self.transmitters().any(|of| of == id)
    }
}

impl LiquidPlan {
    /// Whether anything about it is read from that transmitter.
    pub fn uses(&self, id: TransmitterId) -> bool {
        let measured = self.measured.map(|measured| measured.transmitter);
        let pressed = match &self.pressure {
            Some(LiquidPressure::Of(source)) => source.names(id),
            Some(LiquidPressure::AboveAir(_)) | None => false,
        };
        measured == Some(id) || pressed || self.temperature.names(id)
    }
}

impl Source {
    /// The transmitters that it is read from.
    pub fn tags(&self) -> &[TransmitterId] {
        match self {
            Source::Tags(tags) => tags,
            Source::Fixed(_) | Source::Ambient => &[],
        }
    }

    pub fn names(&self, id: TransmitterId) -> bool {
        matches!(self, Source::Tags(tags) if tags.contains(&id))
    }
}
