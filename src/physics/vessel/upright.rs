//! Upright cylinder: bottom head, straight side, top head, one on the other. A bottom may also rise into
//! the vessel; the lowest inside points are then those of its rim, and it takes room from the straight side.

use super::body::{Body, Fill};
use super::error::{VesselError, size_m};
use super::head::{End, Head};
use crate::quantity::Length;
use std::f64::consts::PI;

#[derive(Clone, Debug, PartialEq)]
pub struct Upright {
    radius_m: f64,
    side_m: f64,
    bottom: End,
    bottom_m3: f64,
    /// Whether the bottom rises into the vessel.
    raised: bool,
    top: End,
}

impl Upright {
    pub fn new(
        diameter: Length,
        height: Length,
        bottom: Head,
        top: Head,
    ) -> Result<Self, VesselError> {
        let radius_m = 0.5 * size_m("diameter", diameter)?;
        let side_m = size_m("height", height)?;
        let bottom = End::standing_on(bottom, radius_m).map_err(|error| error.of("bottom"))?;
        Ok(Self {
            radius_m,
            side_m,
            bottom_m3: bottom.capacity(),
            bottom,
            raised: false,
            top: End::standing_on(top, radius_m).map_err(|error| error.of("top"))?,
        })
    }

    /// With a bottom that rises into the vessel.
    pub fn raised(
        diameter: Length,
        height: Length,
        bottom: Head,
        top: Head,
    ) -> Result<Self, VesselError> {
        let outward = Self::new(diameter, height, bottom, top)?;
        let (depth_m, side_m) = (outward.bottom.depth(), outward.side_m);
        if depth_m > side_m {
            let message = format!(
                "must be at most the straight side's height of {side_m} m where it is inward, not {depth_m} m"
            );
            return Err(VesselError::new("depth", message).of("bottom"));
        }
        Ok(Self {
            raised: true,
            ..outward
        })
    }

    /// Where the straight side begins, above the lowest inside point.
    fn rim(&self) -> f64 {
        if self.raised {
            0.0
        } else {
            self.bottom.depth()
        }
    }

    /// Where the straight side ends.
    fn shoulder(&self) -> f64 {
        self.rim() + self.side_m
    }

    /// Bottom head and straight side: V = ±V_bottom + π R² (h − a)
    fn up_to_side(&self, height_on_side_m: f64) -> Fill {
        let section_m2 = PI * self.radius_m * self.radius_m;
        Fill {
            volume_m3: section_m2 * height_on_side_m
                + match self.raised {
                    true => -self.bottom_m3,
                    false => self.bottom_m3,
                },
            surface_m2: section_m2,
        }
    }

    /// Beside a raised bottom: what the cylinder holds, less what the bottom takes of it so far.
    fn beside_bottom(&self, level_m: f64) -> Fill {
        let above = self.bottom.standing(self.bottom.depth() - level_m);
        let section_m2 = PI * self.radius_m * self.radius_m;
        Fill {
            // V = π R² h − (V_bottom − V_above)
            volume_m3: section_m2 * level_m - (self.bottom_m3 - above.volume_m3),
            surface_m2: section_m2 - above.surface_m2,
        }
    }
}

impl Body for Upright {
    fn top(&self) -> f64 {
        self.shoulder() + self.top.depth()
    }

    fn fill(&self, level_m: f64) -> Fill {
        if level_m < self.bottom.depth() {
            match self.raised {
                true => self.beside_bottom(level_m),
                false => self.bottom.standing(level_m),
            }
        } else if level_m <= self.shoulder() {
            self.up_to_side((level_m - self.rim()).min(self.side_m))
        } else {
            // the top is a bottom upside down: what is still empty above the level is missing
            let empty = self.top.standing(self.top() - level_m);
            let below = self.up_to_side(self.side_m).volume_m3;
            Fill {
                volume_m3: below + (self.top.capacity() - empty.volume_m3),
                surface_m2: empty.surface_m2,
            }
        }
    }

    fn half_width(&self, level_m: f64) -> f64 {
        if level_m < self.rim() {
            self.bottom.radius_at(level_m)
        } else if level_m <= self.shoulder() {
            self.radius_m
        } else {
            self.top.radius_at(self.top() - level_m)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Shape, Vessel};
    use super::*;
    use crate::quantity::{cubic_metres, metres};
    use approx::assert_relative_eq;

    fn clear_water_tank() -> Vessel {
        Vessel::new(Shape::UprightCylinder {
            diameter: metres(4.2),
            height: metres(6.0),
            bottom: Head::Cone { depth: metres(0.4) },
            top: Head::Flat,
        })
        .expect("the sizes are right")
    }

    #[test]
    fn parts_stand_on_each_other() {
        let tank = clear_water_tank();
        let section_m2 = PI * 2.1 * 2.1;
        assert_relative_eq!(tank.top().value, 6.4);
        let expected_m3 = section_m2 * (0.4 / 3.0 + 3.0);
        assert_relative_eq!(
            tank.volume(metres(3.4)).value,
            expected_m3,
            max_relative = 1e-14
        );
        assert_relative_eq!(
            tank.height(cubic_metres(expected_m3)).value,
            3.4,
            max_relative = 1e-14
        );
        assert_relative_eq!(tank.half_width(metres(0.2)).value, 1.05);
        assert_relative_eq!(tank.half_width(metres(6.4)).value, 2.1);
    }

    #[test]
    fn a_raised_bottom_takes_room_from_the_side() {
        let tank = |height_m: f64| {
            Vessel::new(Shape::RaisedBottomCylinder {
                diameter: metres(2.0),
                height: metres(height_m),
                bottom: Head::Hemisphere,
                top: Head::Flat,
            })
        };
        let hold = tank(3.0).expect("the sizes are right");
        assert_relative_eq!(hold.top().value, 3.0);
        let capacity_m3 = PI * 3.0 - 2.0 / 3.0 * PI;
        assert_relative_eq!(hold.capacity().value, capacity_m3, max_relative = 1e-14);
        assert_relative_eq!(
            hold.volume(metres(1.0)).value,
            PI / 3.0,
            max_relative = 1e-14
        );
        assert_relative_eq!(hold.area(metres(0.0)).value, 0.0);
        assert_eq!(
            tank(0.5).expect_err("too deep").to_string(),
            "bottom depth must be at most the straight side's height of 0.5 m where it is inward, not 1 m"
        );
    }

    #[test]
    fn outside_it_is_empty_or_full_with_no_surface() {
        let tank = clear_water_tank();
        assert_relative_eq!(tank.volume(metres(-1.0)).value, 0.0);
        assert_eq!(tank.volume(metres(9.0)), tank.capacity());
        assert_eq!(tank.volume(metres(f64::MAX)), tank.capacity());
        assert_relative_eq!(tank.area(metres(-1e-9)).value, 0.0);
        assert_relative_eq!(tank.area(metres(6.5)).value, 0.0);
        assert_eq!(tank.height(cubic_metres(-1.0)), tank.bottom());
        assert_eq!(tank.height(cubic_metres(1e9)), tank.top());
    }

    #[test]
    fn what_is_not_a_number_is_neither_empty_nor_full() {
        let tank = clear_water_tank();
        let nothing = metres(f64::NAN);
        assert!(tank.volume(nothing).value.is_nan());
        assert!(tank.area(nothing).value.is_nan());
        assert!(tank.half_width(nothing).value.is_nan());
        assert!(tank.height(cubic_metres(f64::NAN)).value.is_nan());
    }
}
