//! What holds for every vessel, tried on random ones.

use super::{Deadwood, Frustum, Head, Shape, StrappingTable, Vessel};
use crate::quantity::{Length, cubic_metres, metres, radians};
use proptest::prelude::*;

proptest! {
    #[test]
    fn volume_rises_without_a_jump(vessel in any_vessel(), share in 0.0..1.0, step in 1e-9..0.2) {
        let height_m = vessel.top().value - vessel.bottom().value;
        let (low, high) = (at(&vessel, share), at(&vessel, share + step));
        let rise_m3 = vessel.volume(high).value - vessel.volume(low).value;
        // no surface is larger than the widest that the vessel shows
        let widest_m2 = (0..=4000)
            .map(|n| vessel.area(at(&vessel, f64::from(n) / 4000.0)).value)
            .fold(0.0, f64::max);
        let rounding_m3 = 1e-14 * vessel.capacity().value;
        prop_assert!(rise_m3 >= -rounding_m3, "falls by {}", -rise_m3);
        prop_assert!(rise_m3 <= 1.001 * widest_m2 * step * height_m + rounding_m3, "jumps by {rise_m3}");
    }

    #[test]
    fn height_undoes_volume(vessel in any_vessel(), share in 0.0..1.0) {
        let level = at(&vessel, share);
        let volume = vessel.volume(level);
        let found = vessel.height(volume);
        let miss_m3 = (vessel.volume(found) - volume).value.abs();
        prop_assert!(miss_m3 <= 1e-13 * vessel.capacity().value, "misses by {miss_m3} m3");
        // where a surface tells levels apart: Δh = ΔV/A, for the volume's own rounding
        let area_m2 = vessel.area(level).value;
        let mean_m2 = vessel.capacity().value / vessel.top().value;
        if area_m2 > 1e-3 * mean_m2 {
            let miss_m = (found - level).value.abs();
            let rounding_m = 1e-13 * vessel.capacity().value / area_m2;
            prop_assert!(miss_m <= rounding_m + 1e-14 * vessel.top().value, "misses by {miss_m} m");
        }
    }

    #[test]
    fn volume_undoes_height(vessel in any_vessel(), share in 0.0..1.0) {
        let volume = cubic_metres(share * vessel.capacity().value).max(vessel.volume(vessel.bottom()));
        let miss_m3 = (vessel.volume(vessel.height(volume)) - volume).value.abs();
        prop_assert!(miss_m3 <= 1e-13 * vessel.capacity().value, "misses by {miss_m3} m3");
    }

    #[test]
    fn area_is_the_slope_of_volume(vessel in any_solid(), share in 0.01..0.99) {
        let height_m = vessel.top().value;
        let step_m = 1e-6 * height_m;
        let level_m = share * height_m;
        let rise_m3 = vessel.volume(metres(level_m + step_m)).value
            - vessel.volume(metres(level_m - step_m)).value;
        let slope_m2 = rise_m3 / (2.0 * step_m);
        let mean_m2 = vessel.capacity().value / height_m;
        let miss_m2 = (slope_m2 - vessel.area(metres(level_m)).value).abs();
        prop_assert!(miss_m2 <= 1e-4 * mean_m2, "{miss_m2} m2 of {mean_m2} m2");
    }

    #[test]
    fn every_finite_level_has_a_finite_answer(vessel in any_vessel(), number in finite()) {
        let level = metres(number);
        for value in [
            vessel.volume(level).value,
            vessel.area(level).value,
            vessel.half_width(level).value,
            vessel.height(cubic_metres(number)).value - vessel.bottom().value,
        ] {
            prop_assert!(value.is_finite() && value >= 0.0, "{value}");
        }
    }

    #[test]
    fn an_upright_cylinder_is_as_wide_as_its_surface(vessel in upright(), share in 0.0..1.0) {
        let level = at(&vessel, share);
        let r_m = vessel.half_width(level).value;
        let miss_m2 = (std::f64::consts::PI * r_m * r_m - vessel.area(level).value).abs();
        prop_assert!(miss_m2 <= 1e-12 * vessel.capacity().value / vessel.top().value);
    }
}

fn at(vessel: &Vessel, share: f64) -> Length {
    vessel.bottom() + (vessel.top() - vessel.bottom()) * share
}

/// Every magnitude, and those where vessels are.
fn finite() -> impl Strategy<Value = f64> {
    prop_oneof![
        proptest::num::f64::NORMAL | proptest::num::f64::SUBNORMAL | proptest::num::f64::ZERO,
        -1.0..20.0_f64,
    ]
}

/// An end for a cylinder of any radius: family, depth and radii as shares of the cylinder's radius.
#[derive(Clone, Copy, Debug)]
struct HeadOf {
    family: usize,
    depth: f64,
    share: f64,
}

impl HeadOf {
    fn on(self, diameter: f64) -> Head {
        let radius = 0.5 * diameter;
        let depth = metres(self.depth * radius);
        match self.family {
            0 => Head::Flat,
            1 => Head::Hemisphere,
            2 => Head::Cone { depth },
            3 => Head::Ellipsoid { depth },
            4 => Head::Dish {
                depth: metres((0.01 + 0.99 * self.share) * radius),
            },
            5 => Head::Torisphere {
                dish_radius: metres((1.0 + self.depth) * radius),
                knuckle_radius: metres((0.02 + 0.97 * self.share) * radius),
            },
            _ => Head::Guppy { depth },
        }
    }
}

fn head_of(families: std::ops::Range<usize>) -> impl Strategy<Value = HeadOf> {
    (families, 0.05..3.0, 0.0..1.0_f64).prop_map(|(family, depth, share)| HeadOf {
        family,
        depth,
        share,
    })
}

fn head() -> impl Strategy<Value = HeadOf> {
    head_of(0..6)
}

fn lying_head() -> impl Strategy<Value = HeadOf> {
    head_of(0..7)
}

fn vessel(shape: Shape) -> Vessel {
    Vessel::new(shape).expect("sizes of the strategies are valid")
}

fn upright() -> impl Strategy<Value = Vessel> {
    (0.2..20.0, 0.1..15.0, head(), head()).prop_map(|(diameter, height, bottom, top)| {
        vessel(Shape::UprightCylinder {
            diameter: metres(diameter),
            height: metres(height),
            bottom: bottom.on(diameter),
            top: top.on(diameter),
        })
    })
}

/// The straight side is at least as high as the deepest bottom.
fn raised() -> impl Strategy<Value = Vessel> {
    (0.2..20.0, 1.51..5.0, head(), head()).prop_map(|(diameter, height, bottom, top)| {
        vessel(Shape::RaisedBottomCylinder {
            diameter: metres(diameter),
            height: metres(height * diameter),
            bottom: bottom.on(diameter),
            top: top.on(diameter),
        })
    })
}

fn horizontal() -> impl Strategy<Value = Vessel> {
    (0.2..5.0, 0.1..20.0, lying_head(), lying_head()).prop_map(|(diameter, length, left, right)| {
        vessel(Shape::HorizontalCylinder {
            diameter: metres(diameter),
            length: metres(length),
            left: left.on(diameter),
            right: right.on(diameter),
        })
    })
}

/// Slopes of every size, those too small to see among them.
fn slope() -> impl Strategy<Value = f64> {
    (-7.0..-0.2_f64, any::<bool>()).prop_map(|(exponent, left_higher)| {
        let slope_rad = 10.0_f64.powf(exponent);
        if left_higher { -slope_rad } else { slope_rad }
    })
}

fn sloped() -> impl Strategy<Value = Vessel> {
    let sizes = (0.2..5.0, 0.1..20.0);
    (sizes, lying_head(), lying_head(), slope()).prop_map(
        |((diameter, length), left, right, slope_rad)| {
            vessel(Shape::SlopedCylinder {
                diameter: metres(diameter),
                length: metres(length),
                left: left.on(diameter),
                right: right.on(diameter),
                slope: radians(slope_rad),
            })
        },
    )
}

fn elliptical() -> impl Strategy<Value = Vessel> {
    let slope = prop_oneof![Just(0.0), slope()];
    (0.2..5.0, 0.2..5.0, 0.1..20.0, slope).prop_map(|(width, height, length, slope_rad)| {
        vessel(Shape::EllipticalCylinder {
            width: metres(width),
            height: metres(height),
            length: metres(length),
            slope: radians(slope_rad),
        })
    })
}

/// Sections that meet without a step, the lowest from a tip or not.
fn frusta() -> impl Strategy<Value = Vessel> {
    let sections = prop::collection::vec((0.1..4.0, 0.2..6.0), 1..8);
    (prop_oneof![Just(0.0), 0.1..5.0], sections).prop_map(|(first_m, sections)| {
        let mut lower_m = first_m;
        let mut stack = Vec::new();
        for (height_m, upper_m) in sections {
            stack.push(Frustum {
                height: metres(height_m),
                lower: metres(lower_m),
                upper: metres(upper_m),
            });
            lower_m = upper_m;
        }
        vessel(Shape::Frusta { sections: stack })
    })
}

/// A vessel with a few bands that take a share of what is left there.
fn with_deadwood() -> impl Strategy<Value = Vessel> {
    let bands = prop::collection::vec((0.0..0.8, 0.05..0.2, 0.01..0.2), 1..4);
    (prop_oneof![upright(), horizontal()], bands).prop_map(|(empty, bands)| {
        let deadwood: Vec<Deadwood> = bands
            .into_iter()
            .map(|(from, height, share)| {
                let (from, to) = (at(&empty, from), at(&empty, from + height));
                let room = empty.volume(to) - empty.volume(from);
                Deadwood {
                    from,
                    to,
                    volume: room * share,
                }
            })
            .collect();
        // a band that is too much for a narrow place is refused: then the vessel stays empty
        empty.clone().with_deadwood(&deadwood).unwrap_or(empty)
    })
}

fn any_solid() -> impl Strategy<Value = Vessel> {
    let sphere = (0.1..20.0).prop_map(|diameter| {
        vessel(Shape::Sphere {
            diameter: metres(diameter),
        })
    });
    let rectangular = (0.1..30.0, 0.1..30.0, 0.1..10.0).prop_map(|(length, width, height)| {
        vessel(Shape::Rectangular {
            length: metres(length),
            width: metres(width),
            height: metres(height),
        })
    });
    prop_oneof![
        4 => upright(),
        2 => raised(),
        4 => horizontal(),
        4 => sloped(),
        2 => elliptical(),
        2 => frusta(),
        2 => with_deadwood(),
        1 => sphere,
        1 => rectangular,
    ]
}

/// A table from steps of level and of surface; its first row need not be at 0.
fn strapping() -> impl Strategy<Value = Vessel> {
    let steps = prop::collection::vec((0.01..1.0, 0.05..10.0), 1..40);
    (0.0..0.5, 0.0..2.0, steps).prop_map(|(first_m, first_m3, steps)| {
        let mut rows = vec![(metres(first_m), cubic_metres(first_m3))];
        let (mut level_m, mut volume_m3) = (first_m, first_m3);
        for (step_m, surface_m2) in steps {
            level_m += step_m;
            volume_m3 += step_m * surface_m2;
            rows.push((metres(level_m), cubic_metres(volume_m3)));
        }
        let table = StrappingTable::new(rows, None).expect("the rows rise");
        vessel(Shape::Strapping(table))
    })
}

fn any_vessel() -> impl Strategy<Value = Vessel> {
    prop_oneof![5 => any_solid(), 1 => strapping()]
}
