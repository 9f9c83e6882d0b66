//! Height to volume: what a vessel holds at a level.
//!
//! Levels count from the vessel's lowest inside point (a strapping table: from its own zero). Between
//! bottom and top the volume rises continuously from the lowest to the capacity, `area` is its derivative
//! dV/dh, and `height` is its inverse to 1e-9 of the capacity (in fact some 1e-15). All of it is closed
//! form; nothing allocates. A finite level or volume never gives a NaN, a NaN gives only NaN.
//!
//! One file a shape, one file a head family:
//!
//! * **A shape** is a file with a struct in plain metres that is a [`body::Body`] (`top`, `fill`,
//!   `half_width`; `bottom` and `level_of` where the defaults don't fit), a variant of [`Shape`], and one
//!   arm in [`solid`]. A sloped or elliptical cylinder and a stack of frusta go in this way.
//! * **A head** is a file under `head/` that gives its fill standing (axis upright, apex down) and lying
//!   (axis level), and its outline in both; a variant of [`Head`] and its arms in `head/mod.rs`.
//!   What stands upside down (the top of an upright cylinder) follows by symmetry.
//! * **What changes every shape** (deadwood by band, expansion of the shell) belongs into [`Vessel`],
//!   around `fill` and `capacity`, not into the shapes.

mod body;
mod chord;
mod error;
mod head;
mod horizontal;
mod rectangular;
mod sphere;
mod strapping;
mod upright;

#[cfg(test)]
mod properties;

pub use error::VesselError;
pub use head::Head;
pub use strapping::StrappingTable;

use crate::quantity::{Area, Length, Volume, cubic_metres, metres, square_metres};
use body::Body;

/// A vessel's form and inside sizes, as a drawing gives them.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// Axis upright; `height` is that of the straight side, without the heads.
    UprightCylinder {
        diameter: Length,
        height: Length,
        bottom: Head,
        top: Head,
    },
    /// Axis level; `length` is that of the straight shell, without the heads.
    HorizontalCylinder {
        diameter: Length,
        length: Length,
        left: Head,
        right: Head,
    },
    Sphere {
        diameter: Length,
    },
    Rectangular {
        length: Length,
        width: Length,
        height: Length,
    },
    Strapping(StrappingTable),
}

/// A vessel whose sizes have been checked.
#[derive(Clone, Debug, PartialEq)]
pub struct Vessel {
    solid: Solid,
    bottom_m: f64,
    top_m: f64,
    /// At the bottom: 0, or a strapping table's first row.
    lowest_m3: f64,
    capacity_m3: f64,
}

#[derive(Clone, Debug, PartialEq)]
enum Solid {
    Upright(upright::Upright),
    Horizontal(horizontal::Horizontal),
    Sphere(sphere::Sphere),
    Rectangular(rectangular::Rectangular),
    Strapping(StrappingTable),
}

impl Vessel {
    /// Refuses a size that no vessel has, naming its key.
    pub fn new(shape: Shape) -> Result<Self, VesselError> {
        let solid = solid(shape)?;
        let body = solid.body();
        let (bottom_m, top_m) = (body.bottom(), body.top());
        let lowest_m3 = body.fill(bottom_m).volume_m3;
        let capacity_m3 = body.fill(top_m).volume_m3;
        Ok(Self {
            bottom_m,
            top_m,
            lowest_m3,
            capacity_m3,
            solid,
        })
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
            let volume_m3 = self.solid.body().fill(within_m).volume_m3;
            volume_m3.clamp(self.lowest_m3, self.capacity_m3)
        }))
    }

    /// The liquid's surface dV/dh at a level; 0 outside the vessel.
    pub fn area(&self, level: Length) -> Area {
        square_metres(of_number(level.value, |level_m| {
            if self.outside(level_m) {
                return 0.0;
            }
            self.solid.body().fill(level_m).surface_m2
        }))
    }

    /// The level below which a volume lies; within bottom and top.
    pub fn height(&self, volume: Volume) -> Length {
        metres(of_number(volume.value, |volume_m3| {
            if volume_m3 <= self.lowest_m3 {
                self.bottom_m
            } else if volume_m3 >= self.capacity_m3 {
                self.top_m
            } else {
                self.solid.body().level_of(volume_m3)
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

impl Solid {
    fn body(&self) -> &dyn Body {
        match self {
            Self::Upright(body) => body,
            Self::Horizontal(body) => body,
            Self::Sphere(body) => body,
            Self::Rectangular(body) => body,
            Self::Strapping(body) => body,
        }
    }
}

fn solid(shape: Shape) -> Result<Solid, VesselError> {
    Ok(match shape {
        Shape::UprightCylinder {
            diameter,
            height,
            bottom,
            top,
        } => Solid::Upright(upright::Upright::new(diameter, height, bottom, top)?),
        Shape::HorizontalCylinder {
            diameter,
            length,
            left,
            right,
        } => Solid::Horizontal(horizontal::Horizontal::new(diameter, length, left, right)?),
        Shape::Sphere { diameter } => Solid::Sphere(sphere::Sphere::new(diameter)?),
        Shape::Rectangular {
            length,
            width,
            height,
        } => Solid::Rectangular(rectangular::Rectangular::new(length, width, height)?),
        Shape::Strapping(table) => Solid::Strapping(table),
    })
}
