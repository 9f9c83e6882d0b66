//! Height to volume: what a vessel holds at a level.
//!
//! Levels count from the vessel's lowest inside point (a strapping table: from its own zero; a sloped cylinder:
//! from the lowest inside point at mid-length, perpendicular to the axis, so that its lowest level is below 0).
//! Between bottom and top the volume rises continuously from the lowest to the capacity, `area` is its
//! derivative dV/dh, and `height` is its inverse to 1e-9 of the capacity (in fact some 1e-12). Nothing
//! allocates. A finite level or volume never gives a NaN, a NaN gives only NaN.
//!
//! Volumes are closed form, but for two that are integrals in the literature too: dished and torispherical
//! ends of a horizontal cylinder, and all but flat ends of a sloped one. These are summed up by
//! [`quadrature`] to 1e-10 of what the end holds.
//!
//! One file a shape, one file a head family:
//!
//! * **A shape** is a file with a struct in plain metres that is a [`body::Body`] (`top`, `fill`,
//!   `half_width`; `bottom` and `level_of` where the defaults don't fit), a variant of [`Shape`], and one
//!   arm in [`shape`].
//! * **A head** is a file under `head/` that gives its fill standing (axis upright, apex down) and lying
//!   (axis level), and its outline in both; a variant of [`Head`] and its arms in `head/mod.rs`.
//!   What stands upside down (the top of an upright cylinder) follows by symmetry.
//! * **What changes every shape** stands around `fill` and `capacity`: [`deadwood`] by elevation band in
//!   [`Vessel`], the expansion of the [`shell`] in [`VesselAt`]. Without a temperature the shell has that of
//!   its reference.

mod body;
mod chord;
mod deadwood;
mod error;
mod frusta;
mod head;
mod horizontal;
mod quadrature;
mod rectangular;
mod section;
mod shape;
mod shell;
mod sloped;
mod sphere;
mod strapping;
mod upright;

#[cfg(test)]
mod properties;

pub use deadwood::Deadwood;
pub use error::VesselError;
pub use frusta::Frustum;
pub use head::{Head, TorisphereStandard};
pub use shape::Shape;
pub use shell::{Shell, VesselAt};
pub use strapping::StrappingTable;

use crate::quantity::{Area, Length, Temperature, Volume, cubic_metres, metres, square_metres};
use body::Fill;
use shape::{Solid, solid};

/// A vessel whose sizes have been checked.
#[derive(Clone, Debug, PartialEq)]
pub struct Vessel {
    solid: Solid,
    deadwood: deadwood::Bands,
    shell: Option<Shell>,
    /// cos σ of a sloped cylinder; 1 of all others.
    plumb: f64,
    bottom_m: f64,
    top_m: f64,
    /// At the bottom: 0, or a strapping table's first row.
    lowest_m3: f64,
    capacity_m3: f64,
}

impl Vessel {
    /// Refuses a size that no vessel has, naming its key.
    pub fn new(shape: Shape) -> Result<Self, VesselError> {
        let plumb = match &shape {
            Shape::SlopedCylinder { slope, .. } | Shape::EllipticalCylinder { slope, .. } => {
                slope.value.cos()
            }
            _ => 1.0,
        };
        let solid = solid(shape)?;
        let body = solid.body();
        let (bottom_m, top_m) = (body.bottom(), body.top());
        let lowest_m3 = body.fill(bottom_m).volume_m3;
        let capacity_m3 = body.fill(top_m).volume_m3;
        Ok(Self {
            solid,
            deadwood: deadwood::Bands::default(),
            shell: None,
            plumb,
            bottom_m,
            top_m,
            lowest_m3,
            capacity_m3,
        })
    }

    /// The same vessel with what stands inside of it.
    pub fn with_deadwood(self, deadwood: &[Deadwood]) -> Result<Self, VesselError> {
        let extent_m = (self.bottom_m, self.top_m);
        let body = self.solid.body();
        let deadwood = deadwood::Bands::new(deadwood, extent_m, |level_m| body.fill(level_m))?;
        let capacity_m3 = body.fill(self.top_m).volume_m3 - deadwood.below(self.top_m).volume_m3;
        Ok(Self {
            deadwood,
            capacity_m3,
            ..self
        })
    }

    /// The same vessel with a shell that expands from its reference temperature.
    pub fn with_shell(self, shell: Shell) -> Result<Self, VesselError> {
        shell.check()?;
        Ok(Self {
            shell: Some(shell),
            ..self
        })
    }

    /// Whether what it holds depends on the shell's temperature.
    pub fn expands(&self) -> bool {
        self.shell.is_some()
    }

    /// The vessel at a temperature of its shell; none: at the reference.
    pub fn at(&self, temperature: Option<Temperature>) -> VesselAt<'_> {
        let grown = self.shell.zip(temperature);
        VesselAt {
            vessel: self,
            growth: grown.map_or(1.0, |(shell, temperature)| shell.growth(temperature)),
        }
    }

    /// How high a level stands, plumb, above the point that levels count from: h cos σ on a sloped
    /// cylinder, elsewhere the level itself. Both may count from a zero of the site's own.
    pub fn elevation(&self, level: Length) -> Length {
        level * self.plumb
    }

    /// The level of a surface at an elevation.
    pub fn level(&self, elevation: Length) -> Length {
        elevation / self.plumb
    }

    /// The lowest level: 0, or a strapping table's first row.
    pub fn bottom(&self) -> Length {
        metres(self.bottom_m)
    }

    /// The highest level.
    pub fn top(&self) -> Length {
        metres(self.top_m)
    }

    /// The volume at the top.
    pub fn capacity(&self) -> Volume {
        cubic_metres(self.capacity_m3)
    }

    /// The volume below a level; below the bottom that of the bottom, above the top the capacity.
    pub fn volume(&self, level: Length) -> Volume {
        cubic_metres(of_number(level.value, |level_m| {
            let within_m = level_m.clamp(self.bottom_m, self.top_m);
            let volume_m3 = self.fill(within_m).volume_m3;
            volume_m3.clamp(self.lowest_m3, self.capacity_m3)
        }))
    }

    /// The liquid's surface dV/dh at a level; 0 outside the vessel.
    pub fn area(&self, level: Length) -> Area {
        square_metres(of_number(level.value, |level_m| {
            if self.outside(level_m) {
                return 0.0;
            }
            self.fill(level_m).surface_m2
        }))
    }

    /// The level below which a volume lies; within bottom and top.
    pub fn height(&self, volume: Volume) -> Length {
        metres(of_number(volume.value, |volume_m3| {
            if volume_m3 <= self.lowest_m3 {
                self.bottom_m
            } else if volume_m3 >= self.capacity_m3 {
                self.top_m
            } else if self.deadwood.is_empty() {
                self.solid.body().level_of(volume_m3)
            } else {
                body::level_of(self.bottom_m, self.top_m, volume_m3, |level_m| {
                    self.fill(level_m)
                })
            }
        }))
    }

    /// The uncertainty (k = 2) of a strapping table's volumes; 0 where none is stated.
    pub fn uncertainty(&self) -> Volume {
        cubic_metres(match &self.solid {
            Solid::Strapping(table) => table.uncertainty_m3(),
            _ => 0.0,
        })
    }

    /// Half the outline's width at a level, seen from the side, for a drawing to scale; 0 outside.
    /// A horizontal cylinder shows its length with the heads; a strapping table has no outline and
    /// shows the round column of the same surface.
    pub fn half_width(&self, level: Length) -> Length {
        metres(of_number(level.value, |level_m| {
            if self.outside(level_m) {
                return 0.0;
            }
            self.solid.body().half_width(level_m)
        }))
    }

    /// Without what the deadwood takes. Where that is more than the vanishing surface, there is no surface.
    fn fill(&self, level_m: f64) -> Fill {
        let (all, taken) = (
            self.solid.body().fill(level_m),
            self.deadwood.below(level_m),
        );
        Fill {
            volume_m3: all.volume_m3 - taken.volume_m3,
            surface_m2: (all.surface_m2 - taken.surface_m2).max(0.0),
        }
    }

    fn outside(&self, level_m: f64) -> bool {
        level_m < self.bottom_m || level_m > self.top_m
    }
}

/// What is not a number has no answer that is one: it must never pass for an empty or a full vessel.
fn of_number(question: f64, answer: impl FnOnce(f64) -> f64) -> f64 {
    if question.is_nan() {
        f64::NAN
    } else {
        answer(question)
    }
}
