//! The shapes that a vessel can have: as a drawing gives them, and checked.

use super::body::Body;
use super::error::VesselError;
use super::frusta::{Frusta, Frustum};
use super::head::Head;
use super::horizontal::Horizontal;
use super::rectangular::Rectangular;
use super::section::Section;
use super::sloped::Sloped;
use super::sphere::Sphere;
use super::strapping::StrappingTable;
use super::upright::Upright;
use crate::quantity::{Angle, Length};

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
    /// The same with a bottom that rises into the vessel.
    RaisedBottomCylinder {
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
    /// Axis sloped lengthwise, positive where the right end is higher.
    SlopedCylinder {
        diameter: Length,
        length: Length,
        left: Head,
        right: Head,
        slope: Angle,
    },
    /// A horizontal cylinder of elliptical section with flat ends, level or sloped.
    EllipticalCylinder {
        width: Length,
        height: Length,
        length: Length,
        slope: Angle,
    },
    Sphere {
        diameter: Length,
    },
    Rectangular {
        length: Length,
        width: Length,
        height: Length,
    },
    /// Sections from the bottom up.
    Frusta {
        sections: Vec<Frustum>,
    },
    Strapping(StrappingTable),
}

/// A shape whose sizes have been checked.
#[derive(Clone, Debug, PartialEq)]
pub enum Solid {
    Upright(Upright),
    Horizontal(Horizontal),
    Sloped(Sloped),
    Sphere(Sphere),
    Rectangular(Rectangular),
    Frusta(Frusta),
    Strapping(StrappingTable),
}

impl Solid {
    pub fn body(&self) -> &dyn Body {
        match self {
            Self::Upright(body) => body,
            Self::Horizontal(body) => body,
            Self::Sloped(body) => body,
            Self::Sphere(body) => body,
            Self::Rectangular(body) => body,
            Self::Frusta(body) => body,
            Self::Strapping(body) => body,
        }
    }
}

/// Refuses a size that no vessel has, naming its key.
pub fn solid(shape: Shape) -> Result<Solid, VesselError> {
    Ok(match shape {
        Shape::UprightCylinder {
            diameter,
            height,
            bottom,
            top,
        } => Solid::Upright(Upright::new(diameter, height, bottom, top)?),
        Shape::RaisedBottomCylinder {
            diameter,
            height,
            bottom,
            top,
        } => Solid::Upright(Upright::raised(diameter, height, bottom, top)?),
        Shape::HorizontalCylinder {
            diameter,
            length,
            left,
            right,
        } => {
            let section = Section::circle(diameter)?;
            Solid::Horizontal(Horizontal::new(section, length, left, right)?)
        }
        Shape::SlopedCylinder {
            diameter,
            length,
            left,
            right,
            slope,
        } => lying(Section::circle(diameter)?, length, (left, right), slope)?,
        Shape::EllipticalCylinder {
            width,
            height,
            length,
            slope,
        } => {
            let section = Section::ellipse(width, height)?;
            lying(section, length, (Head::Flat, Head::Flat), slope)?
        }
        Shape::Sphere { diameter } => Solid::Sphere(Sphere::new(diameter)?),
        Shape::Rectangular {
            length,
            width,
            height,
        } => Solid::Rectangular(Rectangular::new(length, width, height)?),
        Shape::Frusta { sections } => Solid::Frusta(Frusta::new(&sections)?),
        Shape::Strapping(table) => Solid::Strapping(table),
    })
}

/// A horizontal cylinder that is level where the slope is 0.
fn lying(
    section: Section,
    length: Length,
    ends: (Head, Head),
    slope: Angle,
) -> Result<Solid, VesselError> {
    Ok(if slope == Angle::default() {
        Solid::Horizontal(Horizontal::new(section, length, ends.0, ends.1)?)
    } else {
        Solid::Sloped(Sloped::new(section, length, ends, slope)?)
    })
}
