//! Products: what is in a tank, as a person says it.
//!
//! What always holds: the product in force survives a restart; the step that another density makes in the
//! level is told with the change, and no check takes it for a movement of the liquid.

use super::command::{Done, Refusal};
use super::event::EventKind;
use super::memory::{Memory, ProductMemory, Remembered, RememberedKind};
use super::step::Engine;
use super::{Effect, words};
use std::sync::Arc;

impl Engine {
    pub(super) fn choose_product(
        &mut self,
        tank: &str,
        product: &str,
        by: &Arc<str>,
        effects: &mut Vec<Effect>,
    ) -> Result<Done, Refusal> {
        let index = self.tank(tank)?;
        let plan = &self.plan.tanks[index];
        let Some(present) = plan.product() else {
            return Err(Refusal::OneProduct {
                tank: tank.to_owned(),
            });
        };
        let names = || plan.products.iter().map(|product| &*product.name);
        let Some(place) = names().position(|name| name == product) else {
            return Err(Refusal::UnknownProduct {
                tank: tank.to_owned(),
                product: product.to_owned(),
                known: names().collect::<Vec<_>>().join(", "),
            });
        };
        if place == plan.product && !self.tanks[index].product_doubted {
            return Err(Refusal::ProductInForce {
                tank: tank.to_owned(),
                product: product.to_owned(),
            });
        }
        let (name, was) = (Arc::clone(&plan.name), Arc::clone(&present.name));
        let product = Arc::clone(&plan.products[place].name);
        let before = self.tanks[index].reading;
        let jump_was_open = self.take_product(index, place);
        let changes = self.read_anew(index);
        let moved = words::level_step(before.level, self.tanks[index].reading.level);
        let text = if was == product {
            format!("{product}, confirmed{moved}")
        } else {
            format!("{product}, was {was}{moved}")
        };
        let (said, is_other) = (format!("{tank} holds {text}"), was != product);
        self.person_event(
            EventKind::Product,
            Some(&name),
            None,
            Some(by),
            text,
            effects,
        );
        effects.push(Effect::Remember {
            kind: RememberedKind::Product,
            of: Arc::clone(&name),
            memory: Some(Remembered::Product(ProductMemory {
                product,
                since: self.last.utc,
                by: Arc::clone(by),
            })),
        });
        if jump_was_open {
            let text = "jump is over: a person said what is in the tank".to_owned();
            self.person_event(EventKind::Jump, Some(&name), None, Some(by), text, effects);
        }
        if is_other {
            self.begin_rounds_anew(index, effects);
        }
        self.transfer_holds_other(index, &before, by, effects);
        self.tell_reading(index, changes, effects);
        Ok(Done(said))
    }

    /// Takes up what people said before a restart.
    pub(super) fn take_up_products(&mut self, memory: &Memory, effects: &mut Vec<Effect>) {
        for (tank, remembered) in &memory.remembered {
            let (Remembered::Product(kept), Ok(index)) = (remembered, self.tank(tank)) else {
                continue;
            };
            let plan = &self.plan.tanks[index];
            let names = plan.products.iter();
            match names
                .map(|product| &product.name)
                .position(|name| *name == kept.product)
            {
                Some(place) => drop(self.take_product(index, place)),
                None => self.doubt_product(index, kept, effects),
            }
        }
    }

    /// What was chosen is gone from the site file: another one is taken, and nobody has said so.
    fn doubt_product(&mut self, index: usize, kept: &ProductMemory, effects: &mut Vec<Effect>) {
        let plan = &self.plan.tanks[index];
        let name = Arc::clone(&plan.name);
        let text = match plan.product() {
            Some(product) => {
                self.tanks[index].product_doubted = true;
                format!(
                    "{} is gone from the site file; {} is taken until somebody chooses",
                    kept.product, product.name
                )
            }
            None => format!(
                "{} is gone from the site file, which has one liquid for this tank now",
                kept.product
            ),
        };
        let is_over = plan.products.is_empty();
        self.event(EventKind::Product, Some(&name), None, text, effects);
        if is_over {
            effects.push(Effect::Remember {
                kind: RememberedKind::Product,
                of: name,
                memory: None,
            });
        }
    }

    /// True where a jump stood open, which is over by it.
    fn take_product(&mut self, index: usize, place: usize) -> bool {
        Arc::make_mut(&mut self.plan).tanks[index].take_product(place);
        self.tanks[index].begin_product()
    }
}
