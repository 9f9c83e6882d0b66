//! The ends of a cylinder.
//!
//! Each family gives its fill *standing* (axis upright, apex down, height from the apex), *lying* (axis level,
//! by the chord that the surface cuts off the circle where head and shell meet) and below a *plane* that is
//! not parallel to the axis (a sloped cylinder).

mod cone;
mod dished;
mod ellipsoid;
mod guppy;
mod profile;

pub use profile::Plane;

use super::body::Fill;
use super::chord::Chord;
use super::error::{VesselError, size_m};
use crate::quantity::{Length, metres};
use dished::Dished;
use profile::Piece;
use std::f64::consts::FRAC_PI_2;

/// An end of a cylinder, bulging outward by its inside depth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Head {
    Flat,
    Cone {
        depth: Length,
    },
    Hemisphere,
    Ellipsoid {
        depth: Length,
    },
    /// A dish and a knuckle; without the straight flange, which belongs to the straight side.
    Torisphere {
        dish_radius: Length,
        knuckle_radius: Length,
    },
    /// A segment of a sphere.
    Dish {
        depth: Length,
    },
    /// A cone whose apex is level with the top of the shell; of a horizontal cylinder only.
    Guppy {
        depth: Length,
    },
}

/// The torispherical heads that are known by their standard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TorisphereStandard {
    AsmeFlangedAndDished,
    Din28011,
    Din28013,
}

impl TorisphereStandard {
    /// Dish and knuckle radius per diameter, as common practice gives them and as the library `fluids` 1.3.1
    /// lists them; the standards were not seen.
    pub fn of_diameter(self, diameter: Length) -> Head {
        let (dish, knuckle) = match self {
            Self::AsmeFlangedAndDished => (1.0, 0.06),
            Self::Din28011 => (1.0, 0.1),
            Self::Din28013 => (0.8, 0.154),
        };
        Head::Torisphere {
            dish_radius: metres(dish * diameter.value),
            knuckle_radius: metres(knuckle * diameter.value),
        }
    }
}

/// A head whose sizes have been checked, on a cylinder of known radius.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct End {
    family: Family,
    radius_m: f64,
    depth_m: f64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Family {
    Flat,
    Cone,
    Ellipsoid,
    Dished(Dished),
    Guppy,
}

impl End {
    /// An end of a horizontal cylinder.
    pub fn lying_on(head: Head, radius_m: f64) -> Result<Self, VesselError> {
        let of = |family: Family, depth_m: f64| Self {
            family,
            radius_m,
            depth_m,
        };
        let dished = |dished: Dished| of(Family::Dished(dished), dished.depth_m);
        Ok(match head {
            Head::Flat => of(Family::Flat, 0.0),
            Head::Cone { depth } => of(Family::Cone, size_m("depth", depth)?),
            // a hemisphere is the ellipsoid whose depth is the radius
            Head::Hemisphere => of(Family::Ellipsoid, radius_m),
            Head::Ellipsoid { depth } => of(Family::Ellipsoid, size_m("depth", depth)?),
            Head::Torisphere {
                dish_radius,
                knuckle_radius,
            } => dished(Dished::torisphere(dish_radius, knuckle_radius, radius_m)?),
            Head::Dish { depth } => dished(Dished::segment(depth, radius_m)?),
            Head::Guppy { depth } => of(Family::Guppy, size_m("depth", depth)?),
        })
    }

    /// An end of an upright cylinder.
    pub fn standing_on(head: Head, radius_m: f64) -> Result<Self, VesselError> {
        if matches!(head, Head::Guppy { .. }) {
            let message = "must not be a guppy: only a horizontal cylinder has such an end";
            return Err(VesselError::new("head", message));
        }
        Self::lying_on(head, radius_m)
    }

    pub fn depth(&self) -> f64 {
        self.depth_m
    }

    /// Everything that the head holds, standing.
    pub fn capacity(&self) -> f64 {
        self.standing(self.depth_m).volume_m3
    }

    /// Axis upright and apex down: the fill up to a height above the apex, at most the depth.
    pub fn standing(&self, height_m: f64) -> Fill {
        match self.family {
            // no upright cylinder has a guppy
            Family::Flat | Family::Guppy => Fill::EMPTY,
            Family::Cone => cone::standing(self.radius_m, self.depth_m, height_m),
            Family::Ellipsoid => ellipsoid::standing(self.radius_m, self.depth_m, height_m),
            Family::Dished(dished) => dished.standing(height_m),
        }
    }

    /// Axis upright and apex down: the radius at a height above the apex.
    pub fn radius_at(&self, height_m: f64) -> f64 {
        match self.family {
            Family::Flat | Family::Guppy => self.radius_m,
            Family::Cone => cone::radius_at(self.radius_m, self.depth_m, height_m),
            Family::Ellipsoid => ellipsoid::radius_at(self.radius_m, self.depth_m, height_m),
            Family::Dished(dished) => dished.radius_at(height_m),
        }
    }

    /// Axis level: the fill below a chord of the circle where head and shell meet.
    pub fn lying(&self, chord: &Chord) -> Fill {
        match self.family {
            Family::Flat => Fill::EMPTY,
            Family::Cone => cone::lying(self.depth_m, chord),
            Family::Ellipsoid => ellipsoid::lying(self.depth_m, chord),
            Family::Guppy => guppy::lying(self.depth_m, chord),
            Family::Dished(_) => self.below(Plane {
                height_m: chord.level_m - self.radius_m,
                rise: 0.0,
            }),
        }
    }

    /// Axis level: how far the outline reaches beyond the shell at the chord's height.
    pub fn reach(&self, chord: &Chord) -> f64 {
        match self.family {
            Family::Flat => 0.0,
            Family::Cone => cone::reach(self.depth_m, chord),
            Family::Ellipsoid => ellipsoid::reach(self.depth_m, chord),
            Family::Guppy => guppy::reach(self.depth_m, chord),
            Family::Dished(dished) => dished.reach(chord.level_m - self.radius_m),
        }
    }

    /// The fill below a plane, and its change with the plane's height.
    pub fn below(&self, plane: Plane) -> Fill {
        let stretch = self.stretch();
        let plane = Plane {
            rise: plane.rise * stretch,
            ..plane
        };
        let mut sum = Fill::EMPTY;
        for piece in self.pieces().into_iter().flatten() {
            sum += piece.below(plane);
        }
        sum * stretch
    }

    /// The lowest and the highest plane of a rise that touch the head: their heights where head and shell
    /// meet, from the axis. A flat end is its rim.
    pub fn touched(&self, rise: f64) -> (f64, f64) {
        let rim = (-self.radius_m, self.radius_m);
        let pieces = self.pieces().into_iter().flatten();
        pieces
            .map(|piece| piece.touched(rise * self.stretch()))
            .fold(rim, |(low, high), (lowest, highest)| {
                (low.min(lowest), high.max(highest))
            })
    }

    /// The outline; that of an ellipsoid before it is stretched along the axis.
    fn pieces(&self) -> [Option<Piece>; 2] {
        let straight = |rise_m: f64| Piece::Straight {
            shell_radius_m: self.radius_m,
            depth_m: self.depth_m,
            rise_m,
        };
        match self.family {
            Family::Flat => [None, None],
            Family::Cone => [Some(straight(0.0)), None],
            Family::Guppy => [Some(straight(self.radius_m)), None],
            Family::Ellipsoid => {
                let arc = Piece::Arc {
                    offset_m: 0.0,
                    radius_m: self.radius_m,
                    behind_m: 0.0,
                    from_rad: 0.0,
                    to_rad: FRAC_PI_2,
                };
                [Some(arc), None]
            }
            Family::Dished(dished) => dished.pieces(),
        }
    }

    /// An ellipsoid is a hemisphere whose depth is stretched from R to a.
    fn stretch(&self) -> f64 {
        match self.family {
            Family::Ellipsoid => self.depth_m / self.radius_m,
            _ => 1.0,
        }
    }
}
