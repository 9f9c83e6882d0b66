//! The inventory: what is in each tank at one moment, to be printed.

use super::layout::{Page, document};
use super::shown::percent;
use super::signs;
use super::view::View;
use crate::engine::Quality;
use maud::{Markup, html};

pub fn page(view: &View) -> Markup {
    let page = Page {
        title: "Inventory",
        path: "/inventory",
        live: None,
    };
    let (snapshot, shown) = (&view.snapshot, &view.shown);
    let not_good = snapshot.tanks.iter();
    let not_good = not_good
        .filter(|tank| tank.reading.quality != Quality::Good)
        .count();
    let main = html! {
        h1 { "Inventory of " (snapshot.site) }
        p { "As of " b { (shown.moment(snapshot.utc)) } @if view.simulated { ", SIMULATED" } "." }
        @if not_good > 0 { p.trouble { "! " (not_good) " of " (snapshot.tanks.len()) " readings are not good: see the column Quality." } }
        div.wide tabindex="0" role="region" aria-label="Inventory" { table.inventory {
            thead { tr {
                th scope="col" { "Tank" } th scope="col" { "Holds" } th scope="col" { "Level" } th scope="col" { "Fill" }
                th scope="col" { "Volume" } th scope="col" { "Usable" } th scope="col" { "Ullage" } th scope="col" { "Mass" }
                th scope="col" { "Density" } th scope="col" { "Temperature" } th scope="col" { "Quality" }
            } }
            tbody { @for tank in &snapshot.tanks {
                @let reading = &tank.reading;
                tr {
                    th scope="row" { (tank.title) }
                    td { @if let Some(product) = &tank.product { (product) } }
                    td { (shown.level_of(tank)) " " (super::shown::symbol(shown.units.level))
                        @if let Some(by) = shown.level_by(reading.level.and(reading.level_uncertainty)) { " ± " (by) } }
                    td { (percent(reading.fill)) }
                    td { (shown.volume(reading.volume.map(|v| v.value)))
                        @if let Some(by) = reading.volume.and(reading.volume_uncertainty) { " ± " (shown.volume(Some(by.value))) } }
                    td { (shown.volume(reading.usable.map(|v| v.value))) }
                    td { (shown.volume(reading.ullage.map(|v| v.value))) }
                    td { (shown.mass(reading.mass.map(|m| m.value))) }
                    td { (shown.density(reading.density.map(|d| d.value))) }
                    td { (shown.temperature(reading.temperature.map(|t| t.value))) }
                    td { (signs::quality(reading.quality)) @for reason in reading.reasons.iter() { " " (reason.text()) } }
                }
            } }
        } }
        p.sub { "± is the expanded uncertainty, k = 2, of what the site file states. What is not known is a dash. Not for custody transfer or tax." }
    };
    document(view, &page, &main)
}
