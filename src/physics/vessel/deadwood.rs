//! Deadwood: what stands inside of a vessel and takes room from the liquid, by elevation band and evenly over
//! the height of its band, as tank calibration standards deduct it (common practice; no clause was at hand).

use super::body::Fill;
use super::error::VesselError;
use crate::quantity::{Length, Volume};

/// A band of deadwood; elevations count as the vessel's levels do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Deadwood {
    pub from: Length,
    pub to: Length,
    pub volume: Volume,
}

/// Bands that have been checked, in m and m³.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Bands(Vec<Band>);

#[derive(Clone, Copy, Debug, PartialEq)]
struct Band {
    from_m: f64,
    to_m: f64,
    volume_m3: f64,
}

/// The most bands of a vessel (common practice, no source).
const MOST_BANDS: usize = 1000;
/// Steps in which a band is searched for a place that cannot hold it.
const SEARCH_STEPS: u32 = 200;
/// Where a surface vanishes (the lowest line of a horizontal cylinder) evenly spread deadwood is always more
/// than it; up to this share of the capacity that counts as nothing.
const NEGLIGIBLE: f64 = 1e-6;

impl Bands {
    /// `fill` is that of the empty vessel, between its lowest and highest level.
    pub fn new(
        deadwood: &[Deadwood],
        extent_m: (f64, f64),
        fill: impl Fn(f64) -> Fill,
    ) -> Result<Self, VesselError> {
        if deadwood.len() > MOST_BANDS {
            let message = format!("has at most {MOST_BANDS} bands, not {}", deadwood.len());
            return Err(VesselError::new("deadwood", message));
        }
        let mut bands = Self::default();
        for (index, deadwood) in deadwood.iter().enumerate() {
            let band = Band::new(deadwood, extent_m, &fill)
                .map_err(|error| error.in_entry("deadwood", index))?;
            bands.0.push(band);
        }
        bands.check_room(extent_m, &fill)?;
        Ok(bands)
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// What all bands take below a level.
    pub fn below(&self, level_m: f64) -> Fill {
        let mut sum = Fill::EMPTY;
        for band in &self.0 {
            sum += band.below(level_m);
        }
        sum
    }

    /// The volume must rise with the level: several bands may overlap, and a band may be too much for a
    /// narrow part of the vessel.
    fn check_room(
        &self,
        extent_m: (f64, f64),
        fill: impl Fn(f64) -> Fill,
    ) -> Result<(), VesselError> {
        let volume_m3 = |level_m: f64| fill(level_m).volume_m3 - self.below(level_m).volume_m3;
        let allowed_m3 = NEGLIGIBLE * fill(extent_m.1).volume_m3;
        for (index, band) in self.0.iter().enumerate() {
            let step_m = (band.to_m - band.from_m) / f64::from(SEARCH_STEPS);
            let mut most_m3 = volume_m3(band.from_m);
            for step in 1..=SEARCH_STEPS {
                let level_m = (band.from_m + step_m * f64::from(step)).min(band.to_m);
                let here_m3 = volume_m3(level_m);
                if here_m3 < most_m3 - allowed_m3 {
                    let message = format!(
                        "is more than the vessel has room for near a level of {level_m:.3} m"
                    );
                    return Err(VesselError::new("volume", message).in_entry("deadwood", index));
                }
                most_m3 = most_m3.max(here_m3);
            }
        }
        Ok(())
    }
}

impl Band {
    fn new(
        deadwood: &Deadwood,
        (bottom_m, top_m): (f64, f64),
        fill: impl Fn(f64) -> Fill,
    ) -> Result<Self, VesselError> {
        let band = Self {
            from_m: deadwood.from.value,
            to_m: deadwood.to.value,
            volume_m3: deadwood.volume.value,
        };
        let Self {
            from_m,
            to_m,
            volume_m3,
        } = band;
        for (key, level_m) in [("from", from_m), ("to", to_m)] {
            // Written so that what is not a number is refused.
            if !(level_m >= bottom_m && level_m <= top_m) {
                let message = format!(
                    "at {level_m} m lies outside of the vessel, which goes from {bottom_m:.3} m to {top_m:.3} m"
                );
                return Err(VesselError::new(key, message));
            }
        }
        if to_m <= from_m {
            let message = format!("at {to_m} m is not above `from` at {from_m} m");
            return Err(VesselError::new("to", message));
        }
        let room_m3 = fill(to_m).volume_m3 - fill(from_m).volume_m3;
        if !(volume_m3 > 0.0 && volume_m3 < room_m3) {
            let message = format!(
                "must be more than 0 and less than the {room_m3:.6} m3 of its band, not {volume_m3} m3"
            );
            return Err(VesselError::new("volume", message));
        }
        Ok(band)
    }

    /// V = v (h − from)/(to − from)
    fn below(&self, level_m: f64) -> Fill {
        let density_m2 = self.volume_m3 / (self.to_m - self.from_m);
        let height_m = level_m - self.from_m;
        if height_m <= 0.0 {
            return Fill::EMPTY;
        }
        if level_m >= self.to_m {
            return Fill {
                volume_m3: self.volume_m3,
                surface_m2: 0.0,
            };
        }
        Fill {
            volume_m3: density_m2 * height_m,
            surface_m2: density_m2,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Shape, Vessel};
    use super::*;
    use crate::quantity::{cubic_metres, metres};
    use approx::assert_relative_eq;

    fn band(from_m: f64, to_m: f64, volume_m3: f64) -> Deadwood {
        Deadwood {
            from: metres(from_m),
            to: metres(to_m),
            volume: cubic_metres(volume_m3),
        }
    }

    fn basin(deadwood: &[Deadwood]) -> Result<Vessel, VesselError> {
        let basin = Vessel::new(Shape::Rectangular {
            length: metres(2.0),
            width: metres(1.0),
            height: metres(3.0),
        });
        basin.expect("the sizes are right").with_deadwood(deadwood)
    }

    #[test]
    fn a_band_is_taken_evenly_over_its_height() {
        let basin = basin(&[band(1.0, 2.0, 0.5)]).expect("there is room");
        assert_relative_eq!(basin.volume(metres(0.5)).value, 1.0);
        assert_relative_eq!(basin.volume(metres(1.5)).value, 3.0 - 0.25);
        assert_relative_eq!(basin.area(metres(1.5)).value, 1.5);
        assert_relative_eq!(basin.volume(metres(2.5)).value, 4.5);
        assert_relative_eq!(basin.area(metres(2.5)).value, 2.0);
        assert_relative_eq!(basin.capacity().value, 5.5);
        assert_relative_eq!(basin.height(cubic_metres(2.75)).value, 1.5);
    }

    #[test]
    fn what_the_vessel_has_no_room_for_is_refused() {
        let refusal = |bands: &[Deadwood]| basin(bands).expect_err("refused").to_string();
        assert_eq!(
            refusal(&[band(1.0, 2.0, 2.5)]),
            "deadwood entry 1: volume must be more than 0 and less than the 2.000000 m3 of its band, not 2.5 m3"
        );
        assert_eq!(
            refusal(&[band(1.0, 3.5, 0.1)]),
            "deadwood entry 1: to at 3.5 m lies outside of the vessel, which goes from 0.000 m to 3.000 m"
        );
        assert_eq!(
            refusal(&[band(0.0, 1.0, 0.1), band(2.0, 2.0, 0.1)]),
            "deadwood entry 2: to at 2 m is not above `from` at 2 m"
        );
        assert!(refusal(&[band(0.0, 2.0, 3.0), band(1.0, 3.0, 3.0)]).contains("room for near"));
        assert!(refusal(&[band(f64::NAN, 2.0, 3.0)]).contains("outside"));
        assert!(refusal(&[band(0.0, 2.0, f64::NAN)]).contains("more than 0"));
    }

    /// Evenly spread deadwood is more than the surface at the lowest line of a drum: nothing to refuse.
    #[test]
    fn a_band_may_begin_where_the_surface_vanishes() {
        let drum = Vessel::new(Shape::SlopedCylinder {
            diameter: metres(2.0),
            length: metres(6.0),
            left: super::super::Head::Flat,
            right: super::super::Head::Flat,
            slope: crate::quantity::radians(0.0),
        });
        let drum = drum
            .expect("the sizes are right")
            .with_deadwood(&[band(0.0, 2.0, 0.02)])
            .expect("there is room");
        assert_relative_eq!(drum.volume(metres(1e-9)).value, 0.0);
        assert_relative_eq!(
            drum.height(drum.volume(metres(0.7))).value,
            0.7,
            max_relative = 1e-12
        );
        assert!(drum.volume(metres(1.9999999)) <= drum.capacity());
    }
}
