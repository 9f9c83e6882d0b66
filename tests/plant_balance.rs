//! The simulated plant against the pressure balance: two derivations of the same hydrostatics.
//!
//! The plant adds up its columns from the gas down to each port; the balance solves its one formula for
//! the level. For any hookup and any level between the taps they meet within a nanometre.

use proptest::prelude::*;
use standpipe::physics::balance::{Balance, Leg};
use standpipe::physics::column::Column;
use standpipe::physics::liquid::{Conditions, Gas, Liquid};
use standpipe::physics::vessel::{Head, Shape, Vessel};
use standpipe::plant::{
    AirModel, Fill, HeadspaceModel, LineModel, Number, Order, OutputModel, Plant, PlantModel, STEP,
    Senses, Setting, Space, TankModel, TransmitterModel,
};
use standpipe::quantity::unit::{Dimension, find};
use standpipe::quantity::{
    AbsolutePressure, DifferentialPressure, Length, MassDensity, celsius, cubic_metres_per_second,
    kilograms_per_cubic_metre, metres, metres_per_second_squared,
};
use std::time::Duration;

const TOLERANCE_M: f64 = 1e-9;

#[derive(Clone, Debug)]
struct Case {
    gravity: f64,
    liquid: f64,
    gas: f64,
    seal: f64,
    high_tap: f64,
    span: f64,
    /// Of the span between the taps.
    level: f64,
    high_diaphragm: f64,
    low_diaphragm: f64,
    headspace: f64,
    inflow: f64,
}

fn cases() -> impl Strategy<Value = Case> {
    let densities = (9.76..9.84, 450.0..1900.0, 0.05..60.0, 700.0..1950.0);
    let heights = (0.1..1.5, 0.5..6.0, 0.02..0.97, -4.0..4.0, -4.0..4.0);
    (densities, heights, 20e3..900e3, -1e-3..1e-3).prop_map(
        |(
            (gravity, liquid, gas, seal),
            (high_tap, span, level, high_diaphragm, low_diaphragm),
            headspace,
            inflow,
        )| Case {
            gravity,
            liquid,
            gas,
            seal,
            high_tap,
            span,
            level,
            high_diaphragm,
            low_diaphragm,
            headspace,
            inflow,
        },
    )
}

impl Case {
    fn low_tap(&self) -> f64 {
        self.high_tap + self.span
    }

    fn line(&self, tap: f64, diaphragm: f64, fill: Fill) -> LineModel {
        LineModel::Tapped {
            tap: metres(tap),
            diaphragm: metres(diaphragm),
            fill,
        }
    }

    fn density(&self, fill: Fill) -> MassDensity {
        match fill {
            Fill::Liquid => kilograms_per_cubic_metre(self.liquid),
            Fill::Gas => kilograms_per_cubic_metre(self.gas),
            Fill::Seal(density) | Fill::Expanding(density, _) => density,
        }
    }

    fn seal(&self) -> Fill {
        Fill::Seal(kilograms_per_cubic_metre(self.seal))
    }

    fn air() -> AirModel {
        AirModel {
            temperature: celsius(12.0),
            pressure: AbsolutePressure::pascals(99_800.0),
            pressure_at: metres(1.5),
        }
    }

    fn air_density(&self) -> MassDensity {
        let AirModel {
            temperature,
            pressure,
            ..
        } = Self::air();
        Gas::Air
            .density(Conditions {
                temperature,
                pressure,
            })
            .value
    }

    /// The tank with transmitters, a while after the start.
    fn plant(&self, headspace: HeadspaceModel, senses: Vec<Senses>) -> Plant {
        let shape = Shape::UprightCylinder {
            diameter: metres(2.2),
            height: metres(self.low_tap() + 0.5),
            bottom: Head::Cone { depth: metres(0.4) },
            top: Head::Flat,
        };
        let tank = TankModel {
            name: "tank".into(),
            vessel: Vessel::new(shape).expect("a sound vessel"),
            zero: metres(0.2),
            level: metres(self.high_tap + self.level * self.span),
            overflow: None,
            inflow: cubic_metres_per_second(0.0),
            outflow: cubic_metres_per_second(0.0),
            liquid: Liquid::Constant {
                density: kilograms_per_cubic_metre(self.liquid),
                uncertainty: None,
            },
            liquid_temperature: celsius(8.0),
            density: None,
            gas: Gas::Density(kilograms_per_cubic_metre(self.gas)),
            gas_temperature: celsius(8.0),
            headspace,
            sediment_density: kilograms_per_cubic_metre(1200.0),
            foam_share: 0.1,
            tap_in_outlet: None,
            lower: None,
        };
        let model = PlantModel {
            gravity: metres_per_second_squared(self.gravity),
            air: Self::air(),
            links: vec!["link".into()],
            tanks: vec![tank],
            transmitters: senses.into_iter().map(transmitter).collect(),
            contacts: Vec::new(),
            pipes: Vec::new(),
        };
        let mut plant = Plant::new(model, 1);
        plant.set(0, Setting::Inflow, self.inflow);
        plant.advance(STEP * 100);
        plant
    }

    fn closed(&self) -> HeadspaceModel {
        HeadspaceModel::Closed {
            pressure: AbsolutePressure::pascals(self.headspace),
        }
    }

    fn balance(&self, high: Leg, low: Leg) -> Balance {
        Balance {
            gravity: metres_per_second_squared(self.gravity),
            liquid: kilograms_per_cubic_metre(self.liquid),
            gas: kilograms_per_cubic_metre(self.gas),
            high,
            low,
        }
    }

    fn leg(&self, tap: f64, diaphragm: f64, fill: Fill) -> Leg {
        Leg {
            tap: metres(tap),
            diaphragm: metres(diaphragm),
            fill: self.density(fill),
        }
    }

    /// One differential transmitter, or two diaphragms with their own elevations.
    fn differential(&self, diaphragms: [f64; 2], fills: [Fill; 2]) -> (Length, Length) {
        let [high_at, low_at] = diaphragms;
        let high = self.line(self.high_tap, high_at, fills[0]);
        let low = self.line(self.low_tap(), low_at, fills[1]);
        let plant = self.plant(
            self.closed(),
            vec![Senses::Differential { tank: 0, high, low }],
        );
        let balance = self.balance(
            self.leg(self.high_tap, high_at, fills[0]),
            self.leg(self.low_tap(), low_at, fills[1]),
        );
        (
            balance.solve(DifferentialPressure::pascals(plant.value(0))),
            plant.level(0),
        )
    }
}

fn transmitter(senses: Senses) -> TransmitterModel {
    TransmitterModel {
        tag: "PT".into(),
        senses,
        noise: 0.0,
        zero_offset: 0.0,
        span_error: 0.0,
        resolution: 0.0,
        damping: Duration::ZERO,
        output: OutputModel {
            link: 0,
            device: 1,
            space: Space::Input,
            address: 0,
            number: Number::F64,
            order: Order::Abcd,
            unit: find("Pa", Dimension::Pressure).expect("a unit"),
            scale: None,
            saturates: None,
            failure: f64::NAN,
            failure_low: None,
        },
    }
}

fn meet((solved, truth): (Length, Length)) -> Result<(), TestCaseError> {
    let apart = (solved - truth).value.abs();
    prop_assert!(
        apart < TOLERANCE_M,
        "solved {} m, truly {} m",
        solved.value,
        truth.value
    );
    Ok(())
}

proptest! {
    #[test]
    fn dry_leg(case in cases()) {
        meet(case.differential([case.high_diaphragm; 2], [Fill::Liquid, Fill::Gas]))?;
    }

    #[test]
    fn wet_leg(case in cases()) {
        meet(case.differential([case.high_diaphragm; 2], [Fill::Liquid, case.seal()]))?;
    }

    #[test]
    fn pair_of_seals(case in cases()) {
        meet(case.differential([case.high_diaphragm; 2], [case.seal(), case.seal()]))?;
    }

    #[test]
    fn diaphragms_of_their_own(case in cases()) {
        meet(case.differential([case.high_diaphragm, case.low_diaphragm], [Fill::Liquid, case.seal()]))?;
    }

    /// The high port on the low leg: the sign turns, the level stays.
    #[test]
    fn reversed(case in cases()) {
        let at = case.high_diaphragm;
        let (own, seal) = (case.line(case.high_tap, at, Fill::Liquid), case.line(case.low_tap(), at, case.seal()));
        let plant = case.plant(case.closed(), vec![Senses::Differential { tank: 0, high: seal, low: own }]);
        let balance = case.balance(case.leg(case.high_tap, at, Fill::Liquid), case.leg(case.low_tap(), at, case.seal()));
        meet((balance.solve(-DifferentialPressure::pascals(plant.value(0))), plant.level(0)))?;
    }

    /// A gauge transmitter; its low side is the column of air from the vent down to the diaphragm.
    #[test]
    fn vented(case in cases()) {
        let (vent, at) = (case.low_tap(), case.high_diaphragm);
        let line = case.line(case.high_tap, at, Fill::Liquid);
        let headspace = HeadspaceModel::Vented { at: metres(vent) };
        let plant = case.plant(headspace, vec![Senses::Gauge { tank: 0, line }]);
        let low = Leg { tap: metres(vent), diaphragm: metres(at), fill: case.air_density() };
        let balance = case.balance(case.leg(case.high_tap, at, Fill::Liquid), low);
        meet((balance.solve(DifferentialPressure::pascals(plant.value(0))), plant.level(0)))?;
    }

    /// Two gauges: R1 − R2 + ρair·g·(zT2 − zT1), the air outside at their two elevations.
    #[test]
    fn bottom_and_headspace(case in cases()) {
        let (bottom_at, top_at) = (case.high_diaphragm, case.low_diaphragm);
        let bottom = case.line(case.high_tap, bottom_at, Fill::Liquid);
        let headspace = case.line(case.low_tap(), top_at, Fill::Gas);
        let gauges = vec![Senses::Gauge { tank: 0, line: bottom }, Senses::Gauge { tank: 0, line: headspace }];
        let plant = case.plant(case.closed(), gauges);
        let air_column = case.air_density().value * case.gravity * (top_at - bottom_at);
        let difference = plant.value(0) - plant.value(1) + air_column;
        let balance = case.balance(
            case.leg(case.high_tap, bottom_at, Fill::Liquid),
            case.leg(case.low_tap(), top_at, Fill::Gas),
        );
        meet((balance.solve(DifferentialPressure::pascals(difference)), plant.level(0)))?;
    }

    /// An absolute transmitter in the liquid; the low side is the barometer at its own height.
    #[test]
    fn barometer(case in cases()) {
        let (vent, at) = (case.low_tap(), case.high_tap);
        let line = case.line(at, at, Fill::Liquid);
        let headspace = HeadspaceModel::Vented { at: metres(vent) };
        let plant = case.plant(headspace, vec![Senses::Absolute { tank: 0, line }, Senses::AirPressure]);
        let air = Case::air().pressure_at;
        let low = Leg { tap: metres(vent), diaphragm: air, fill: case.air_density() };
        let balance = case.balance(case.leg(at, at, Fill::Liquid), low);
        let difference = plant.value(0) - plant.value(1);
        meet((balance.solve(DifferentialPressure::pascals(difference)), plant.level(0)))?;
    }

    /// A tube from above the liquid down into it, purged with a gas of its own.
    #[test]
    fn dip_tube(case in cases()) {
        let (end, at) = (case.high_tap, case.low_tap() + 1.0);
        let purge = Fill::Seal(kilograms_per_cubic_metre(case.gas + 1.0));
        let high = case.line(end, at, purge);
        let low = case.line(case.low_tap(), at, Fill::Gas);
        let plant = case.plant(case.closed(), vec![Senses::Differential { tank: 0, high, low }]);
        let balance = case.balance(case.leg(end, at, purge), case.leg(case.low_tap(), at, Fill::Gas));
        meet((balance.solve(DifferentialPressure::pascals(plant.value(0))), plant.level(0)))?;
    }

    /// Three absolute transmitters: the density first, whatever fills their legs, then the level with it.
    #[test]
    fn density_and_level_of_three(case in cases()) {
        let middle = case.high_tap + 0.5 * case.level * case.span;
        let (bottom_at, middle_at, top_at) = (case.high_diaphragm, case.low_diaphragm, case.low_tap());
        let lines = [
            case.line(case.high_tap, bottom_at, case.seal()),
            case.line(middle, middle_at, case.seal()),
            case.line(case.low_tap(), top_at, Fill::Gas),
        ];
        let plant = case.plant(case.closed(), lines.map(|line| Senses::Absolute { tank: 0, line }).to_vec());
        let pascals = |from: usize, to: usize| DifferentialPressure::pascals(plant.value(from) - plant.value(to));
        let mut balance = case.balance(
            case.leg(case.high_tap, bottom_at, case.seal()),
            case.leg(case.low_tap(), top_at, Fill::Gas),
        );
        let column = Column {
            lower: balance.high,
            upper: case.leg(middle, middle_at, case.seal()),
            difference: pascals(0, 1),
        };
        let density = column.density(balance.gravity);
        // Heads of a few hundred pascals out of some 10^6 leave 10 of 16 digits.
        prop_assert!((density.value / case.liquid - 1.0).abs() < 1e-6, "{} kg/m³, truly {}", density.value, case.liquid);
        balance.liquid = density;
        let (solved, truth) = (balance.solve(pascals(0, 2)), plant.level(0));
        prop_assert!((solved - truth).value.abs() < 1e-6, "solved {} m, truly {} m", solved.value, truth.value);
    }
}
