//! What a plant's devices answer.

use super::Plant;
use super::link::{Answer, LinkFault, MOST_BITS, MOST_REGISTERS, exception};
use super::model::{ContactModel, Space, TransmitterModel};
use std::collections::BTreeMap;
use std::time::Duration;

/// One table of registers or bits of one device.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Outlet {
    link: usize,
    device: u8,
    space: Space,
}

impl Outlet {
    fn is_of(&self, link: usize, device: u8) -> bool {
        (self.link, self.device) == (link, device)
    }
}

/// What tells by it, by the place in the plant.
#[derive(Clone, Debug, Default)]
pub(super) struct Told {
    transmitters: Vec<usize>,
    contacts: Vec<usize>,
}

/// Who tells by which table.
pub(super) fn outlets(
    transmitters: &[TransmitterModel],
    contacts: &[ContactModel],
) -> BTreeMap<Outlet, Told> {
    let mut all: BTreeMap<Outlet, Told> = BTreeMap::new();
    for (place, output) in transmitters.iter().map(|one| &one.output).enumerate() {
        let outlet = Outlet {
            link: output.link,
            device: output.device,
            space: output.space,
        };
        all.entry(outlet).or_default().transmitters.push(place);
    }
    for (place, contact) in contacts.iter().enumerate() {
        let outlet = Outlet {
            link: contact.link,
            device: contact.device,
            space: contact.space,
        };
        all.entry(outlet).or_default().contacts.push(place);
    }
    all
}

impl Plant {
    pub fn links(&self) -> &[String] {
        &self.link_names
    }

    /// Whether anything behind a link answers to this number.
    pub fn has_device(&self, link: usize, device: u8) -> bool {
        self.outlets.keys().any(|one| one.is_of(link, device))
    }

    /// A device number that stands behind two links, and their names.
    pub fn shared_device(&self) -> Option<(u8, [&str; 2])> {
        self.outlets.keys().find_map(|Outlet { link, device, .. }| {
            let same = |other: &&Outlet| other.device == *device && other.link > *link;
            let other = self.outlets.keys().find(same)?.link;
            let names = [&self.link_names[*link], &self.link_names[other]];
            Some((*device, names.map(String::as_str)))
        })
    }

    /// The answer to a request for registers.
    pub fn answer(
        &self,
        link: usize,
        device: u8,
        space: Space,
        address: u16,
        count: u16,
    ) -> Answer {
        let mut words = vec![0; usize::from(count)];
        match self.read(link, device, space, address, &mut words) {
            Ok(()) if space.is_bits() => {
                Answer::Bits(words.iter().map(|word| *word != 0).collect())
            }
            Ok(()) => Answer::Words(words),
            Err(answer) => answer,
        }
    }

    /// The same where its words are wanted only, a word for each bit; or what is answered instead. A device that
    /// is not there is silent behind a gateway, which says so; a range that holds an unknown register is refused
    /// whole.
    pub fn read(
        &self,
        link: usize,
        device: u8,
        space: Space,
        address: u16,
        words: &mut [u16],
    ) -> Result<(), Answer> {
        let fault = self.links[link].fault_at(device, self.time());
        match fault {
            Some(LinkFault::Silent) => return Err(Answer::Silence),
            Some(LinkFault::Reset | LinkFault::Dropped) => return Err(Answer::Reset),
            Some(LinkFault::Exception(code)) => return Err(Answer::Exception(code)),
            Some(LinkFault::Late(_) | LinkFault::Torn(_) | LinkFault::Swapped) | None => {}
        }
        let outlet = Outlet {
            link,
            device,
            space,
        };
        let own = self.outlets.get(&outlet);
        let outputs = own.map_or(&[][..], |own| &own.transmitters);
        let outputs = outputs.iter().map(|place| &self.transmitters[*place]);
        let contacts = own.map_or(&[][..], |own| &own.contacts);
        let contacts = contacts.iter().map(|place| &self.contacts[*place]);
        let refused = |code| {
            Err(Answer::Exception(match self.has_device(link, device) {
                true => code,
                false => exception::GATEWAY_TARGET_FAILED_TO_RESPOND,
            }))
        };
        let most = if space.is_bits() {
            MOST_BITS
        } else {
            MOST_REGISTERS
        };
        if !(1..=usize::from(most)).contains(&words.len()) {
            return refused(exception::ILLEGAL_DATA_VALUE);
        }
        let (first, length) = (usize::from(address), words.len());
        let mut known = Known::default();
        // Its place in the answer, if it is asked for.
        let asked = |register: usize| register.checked_sub(first).filter(|at| *at < length);
        for output in outputs {
            let own = &output.model.output;
            let start = usize::from(own.address);
            if start + own.number.words() <= first || start >= first + length {
                continue;
            }
            for (register, word) in (start..).zip(output.words_through(fault).all()) {
                if let Some(at) = asked(register) {
                    known.add(at);
                    words[at] = *word;
                }
            }
        }
        for contact in contacts {
            if let Some(at) = asked(contact.address.into()) {
                let state = u16::from(contact.on != contact.inverted);
                if known.add(at) {
                    words[at] = 0;
                }
                words[at] |= state << contact.bit.unwrap_or(0);
            }
        }
        match known.count == length {
            true => Ok(()),
            false => refused(exception::ILLEGAL_DATA_ADDRESS),
        }
    }

    /// By how much a link's answers are late.
    pub fn delay(&self, link: usize) -> Duration {
        match self.links[link].fault(self.time()) {
            Some(LinkFault::Late(by)) => by,
            _ => Duration::ZERO,
        }
    }

    /// Whether a link takes connections.
    pub fn connects(&self, link: usize) -> bool {
        self.links[link].fault(self.time()) != Some(LinkFault::Dropped)
    }

    /// The words of an answer that has any.
    pub fn words(
        &self,
        link: usize,
        device: u8,
        space: Space,
        address: u16,
        count: u16,
    ) -> Option<Vec<u16>> {
        match self.answer(link, device, space, address, count) {
            Answer::Words(words) => Some(words),
            Answer::Bits(_) | Answer::Exception(_) | Answer::Silence | Answer::Reset => None,
        }
    }
}

/// Which registers of an answer are there.
#[derive(Default)]
struct Known {
    count: usize,
    first: u128,
    /// Of the others, which are bits.
    others: Vec<bool>,
}

impl Known {
    /// True where it was not there yet.
    fn add(&mut self, at: usize) -> bool {
        let was = match at.checked_sub(u128::BITS as usize) {
            None => {
                let bit = 1 << at;
                let was = self.first & bit != 0;
                self.first |= bit;
                was
            }
            Some(at) => {
                let all = self.others.len().max(at + 1);
                self.others.resize(all, false);
                std::mem::replace(&mut self.others[at], true)
            }
        };
        self.count += usize::from(!was);
        !was
    }
}
