//! From the fields of a form to the request that it makes: the same as the commands of that name make of theirs.

use super::sent::{Fields, Sent, Trouble};
use super::view::View;
use crate::quantity::Dimension;
use crate::wire::Request;
use crate::wire::command::To;
use crate::wire::entered::Tried;
use crate::wire::rounds::{DipForm, SightForm};

/// All that is wrong with a form, where something is.
pub type Read = Result<Request, Vec<Trouble>>;

const GLASS: &str = "say what the glass shows, for example 3.41";
const TAPE: &str = "say where the tape met the liquid, for example 3.41";
const TIME: &str = "say how long, for example 5 min";

pub fn sight(sent: &Sent, view: &View) -> Read {
    let mut fields = Fields::new(sent, &view.shown.zone);
    let form = SightForm {
        tank: sent.text("tank").to_owned(),
        level_m: fields.needed("level", Dimension::Length, GLASS),
        blown_down: sent.is_ticked("blown_down"),
        at: fields.time("at"),
        uncertainty_m: fields.quantity("uncertainty", Dimension::Length),
        reader: sent.filled("reader"),
        by: String::new(),
    };
    fields.done(Request::Sight(form))
}

pub fn dip(sent: &Sent, view: &View) -> Read {
    let mut fields = Fields::new(sent, &view.shown.zone);
    let surface_m = Some(fields.needed("surface", Dimension::Length, TAPE));
    let (innage_m, ullage_m) = match sent.text("way") {
        "innage" => (surface_m, None),
        "ullage" => (None, surface_m),
        _ => {
            fields.wrong("way", "say how the tape was read: innage or ullage");
            (None, None)
        }
    };
    let form = DipForm {
        tank: sent.text("tank").to_owned(),
        innage_m,
        ullage_m,
        water_cut_m: fields.quantity("water_cut", Dimension::Length),
        density_kg_m3: fields.quantity("density", Dimension::Density),
        at: fields.time("at"),
        uncertainty_m: fields.quantity("uncertainty", Dimension::Length),
        reader: sent.filled("reader"),
        by: String::new(),
    };
    fields.done(Request::Dip(form))
}

pub fn transfer(sent: &Sent, view: &View) -> Read {
    let mut fields = Fields::new(sent, &view.shown.zone);
    let targets = [
        fields.quantity("to", Dimension::Length).map(To::LevelM),
        fields
            .quantity("volume", Dimension::Volume)
            .map(To::VolumeM3),
        fields
            .quantity("by_volume", Dimension::Volume)
            .map(To::ByM3),
    ];
    let filled = ["to", "volume", "by_volume"].iter();
    if filled.filter(|name| !sent.text(name).is_empty()).count() != 1 {
        fields.wrong(
            "to",
            "say once where it ends: a level, a volume, or so much more",
        );
    }
    let to = targets.into_iter().flatten().next();
    let request = Request::Transfer {
        tank: sent.text("tank").to_owned(),
        to: to.unwrap_or(To::LevelM(f64::NAN)),
        tell_s: fields.needed("tell", Dimension::Time, TIME),
        stop_within_s: fields.needed("stop_within", Dimension::Time, TIME),
        by: String::new(),
    };
    fields.confirmed();
    fields.done(request)
}

pub fn product(sent: &Sent, view: &View) -> Read {
    let mut fields = Fields::new(sent, &view.shown.zone);
    let request = Request::Product {
        tank: sent.text("tank").to_owned(),
        product: fields.text("product", "choose what is in the tank"),
        by: String::new(),
    };
    fields.confirmed();
    fields.done(request)
}

pub fn work(sent: &Sent, view: &View) -> Read {
    let mut fields = Fields::new(sent, &view.shown.zone);
    let tag = fields.text("tag", "choose the transmitter");
    let mut signals = view.snapshot.transmitters.iter();
    let signal = signals.find(|signal| *signal.tag == *tag);
    let hand = match signal {
        Some(signal) => fields.instead("hand", &tag, signal.unit.dimension),
        None => {
            fields.wrong("tag", "choose one of the transmitters");
            None
        }
    };
    let request = Request::Work {
        permit: fields.text("permit", "work needs the number of its permit"),
        time_s: fields.needed("time", Dimension::Time, TIME),
        hand,
        tag,
        by: String::new(),
    };
    fields.confirmed();
    fields.done(request)
}

pub fn test(sent: &Sent, view: &View) -> Read {
    let mut fields = Fields::new(sent, &view.shown.zone);
    let at = sent.filled("at");
    let mut tanks = view.snapshot.tanks.iter();
    let tank = tanks.find(|tank| *tank.name == *sent.text("tank"));
    let leading = tank.and_then(|tank| tank.frame.tags.first());
    let tag = at.as_deref().or(leading.map(|tag| &**tag));
    let tag = tag.unwrap_or_default();
    let mut signals = view.snapshot.transmitters.iter();
    let signal = signals.find(|signal| *signal.tag == *tag);
    let dimension = signal.map_or(Dimension::Length, |signal| signal.unit.dimension);
    let tried = fields.tried("value", tag, dimension);
    let (level_m, value_si) = match tried {
        Some(Tried::Level(level_m)) => (Some(level_m), None),
        Some(Tried::Reads(si)) => (None, Some(si)),
        None => (None, None),
    };
    let request = Request::TestAlarm {
        tank: sent.text("tank").to_owned(),
        code: fields.text("code", "choose the alarm"),
        level_m,
        value_si,
        time_s: fields.needed("time", Dimension::Time, TIME),
        at,
        by: String::new(),
    };
    fields.confirmed();
    fields.done(request)
}
