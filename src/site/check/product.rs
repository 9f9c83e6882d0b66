//! What a tank holds: its one liquid, or the products that a person chooses among.

use super::names::distinct;
use super::site::Place;
use super::transmitter::Transmitters;
use super::{gas, liquid};
use crate::engine::plan::{GasPlan, LiquidPlan, Product};
use crate::site::file::Table;

/// What a tank can hold; what is taken first, and, where there is a choice, all of it.
#[derive(Debug)]
pub struct Held {
    pub liquid: Option<LiquidPlan>,
    pub gas: Option<GasPlan>,
    /// None where one of them is wrong.
    pub products: Option<Vec<Product>>,
}

pub fn read(tank: &Table<'_>, transmitters: &Transmitters<'_>, place: Option<&Place<'_>>) -> Held {
    let gas_above = |liquid: Option<&LiquidPlan>| {
        place.and_then(|place| gas::read(tank, transmitters, &place.ambient, liquid))
    };
    if !tank.has("product") {
        if !tank.has("liquid") {
            let problem = tank.problem_at("liquid", "`liquid` is missing in [[tank]]");
            tank.report(problem.cure(
                "add a table [tank.liquid] (what is in it), or [[tank.product]] where a person says what is in it",
            ));
        }
        let table = tank.table("liquid");
        let liquid = table.and_then(|table| liquid::read(&table, transmitters));
        let gas = gas_above(liquid.as_ref());
        let products = Some(Vec::new());
        return Held {
            liquid,
            gas,
            products,
        };
    }
    if tank.has("liquid") {
        let problem = tank.problem_at("liquid", "the tank has products and a liquid besides");
        tank.report(problem.cure(
            "[tank.liquid] is of a tank that holds always the same: make it one of [[tank.product]]",
        ));
    }
    let tables = tank.tables("product");
    if tables.is_empty() {
        let problem = tank.problem_at("product", "`product` lists nothing that the tank can hold");
        tank.report(
            problem.cure("add [[tank.product]] with `name` and `liquid`, or [tank.liquid]"),
        );
        return Held {
            liquid: None,
            gas: None,
            products: None,
        };
    }
    let names = tables
        .iter()
        .filter_map(|product| Some((product.text("name")?, product.place_of("name"))));
    distinct(tank.document(), "product", names);
    let mut products: Vec<Option<Product>> = Vec::new();
    let mut first = (None, None);
    for table in &tables {
        let name = table.text("name");
        let liquid = table
            .table("liquid")
            .and_then(|liquid| liquid::read(&liquid, transmitters));
        // What is wrong with the gas of the first is wrong with that of all: it is told once.
        let is_first = products.is_empty();
        let gas = match is_first || first.1.is_some() {
            true => gas_above(liquid.as_ref()),
            false => None,
        };
        if is_first {
            first = (liquid.clone(), gas.clone());
        }
        products.push(
            name.zip(liquid)
                .zip(gas)
                .map(|((name, liquid), gas)| Product {
                    name: name.into(),
                    liquid,
                    gas,
                }),
        );
    }
    let (liquid, gas) = first;
    Held {
        liquid,
        gas,
        products: products.into_iter().collect(),
    }
}
