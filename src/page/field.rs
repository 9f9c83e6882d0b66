//! The parts of a form: labelled fields that show again what was typed, each with what is wrong beside it.

use super::forms::hidden;
use super::sent::{Returned, Trouble};
use super::shown::symbol;
use super::view::View;
use crate::people::Accounts;
use crate::quantity::{Dimension, Unit, find};
use maud::{Markup, html};

/// One form; where it comes back, with what was typed.
#[derive(Clone, Copy, Debug)]
pub struct Form<'v> {
    view: &'v View,
    deed: &'static str,
    returned: Option<&'v Returned>,
}

/// What a field asks for.
#[derive(Clone, Copy, Debug, Default)]
pub struct Field<'f> {
    pub name: &'static str,
    pub label: &'f str,
    /// What to know about it; empty: nothing.
    pub hint: &'f str,
    /// What stands in it at first.
    pub usual: &'f str,
    pub required: bool,
}

impl<'v> Form<'v> {
    pub fn new(view: &'v View, deed: &'static str) -> Self {
        let returned = view.returned.as_ref();
        Self {
            view,
            deed,
            returned: returned.filter(|returned| returned.deed == deed),
        }
    }

    /// The form behind its name; open where it comes back.
    pub fn whole(
        &self,
        name: &str,
        (back, fields): (&str, &[(&str, &str)]),
        content: &Markup,
        word: &str,
    ) -> Markup {
        let of_form = self.troubles().filter(|trouble| trouble.field.is_none());
        html! {
            details.form id=(self.deed) open[self.returned.is_some()] {
                summary { (name) }
                form.entry method="post" action={ "/do/" (self.deed) } {
                    (hidden(self.view, back, fields))
                    input type="hidden" name="once" value=(Accounts::new_id());
                    @for trouble in of_form { p.wrong role="alert" { "✕ " (trouble.text) } }
                    (content)
                    button.main { (word) }
                }
            }
        }
    }

    fn troubles(&self) -> impl Iterator<Item = &'v Trouble> {
        let returned = self.returned.into_iter();
        returned.flat_map(|returned| &returned.troubles)
    }

    fn trouble(&self, name: &str) -> Option<&'v Trouble> {
        self.troubles().find(|trouble| trouble.field == Some(name))
    }

    /// The first field with something wrong gets the focus.
    fn is_first(&self, name: &str) -> bool {
        let mut fields = self.troubles().filter_map(|trouble| trouble.field);
        fields.next() == Some(name)
    }

    fn typed(&self, name: &str) -> &'v str {
        self.returned
            .map_or("", |returned| returned.sent.text(name))
    }

    /// What was typed; at first what is usual.
    fn value<'f>(&self, field: &Field<'f>) -> &'f str
    where
        'v: 'f,
    {
        match self.returned {
            Some(_) => self.typed(field.name),
            None => field.usual,
        }
    }

    fn id(&self, name: &str) -> String {
        format!("{}-{name}", self.deed)
    }

    /// What is wrong and what to know, under a field.
    fn notes(&self, field: &Field<'_>) -> Markup {
        html! {
            @if !field.hint.is_empty() { small id={ (self.id(field.name)) "-hint" } { (field.hint) } }
            @if let Some(trouble) = self.trouble(field.name) {
                p.wrong id={ (self.id(field.name)) "-wrong" } { "✕ " (trouble.text) }
            }
        }
    }

    /// The names of those notes; none where there are none.
    fn described_by(&self, field: &Field<'_>) -> Option<String> {
        let id = self.id(field.name);
        let hint = (!field.hint.is_empty()).then(|| format!("{id}-hint"));
        let wrong = self.trouble(field.name).map(|_| format!("{id}-wrong"));
        let notes: Vec<String> = [wrong, hint].into_iter().flatten().collect();
        (!notes.is_empty()).then(|| notes.join(" "))
    }

    fn invalid(&self, name: &str) -> Option<&'static str> {
        self.trouble(name).map(|_| "true")
    }

    /// A number and its unit.
    pub fn quantity(&self, field: Field<'_>, units: (Dimension, &[&str]), usual: &Unit) -> Markup {
        let (name, id) = (field.name, self.id(field.name));
        let (dimension, choices) = units;
        let unit_name = format!("{name}_unit");
        let typed = find(self.typed(&unit_name), dimension);
        let chosen = typed.map_or(usual.symbol, |unit| unit.symbol);
        html! {
            div.field {
                label for=(id) { (field.label) }
                div.measure {
                    input id=(id) name=(name) value=(self.value(&field)) inputmode="decimal" autocomplete="off" maxlength="40"
                        required[field.required] autofocus[self.is_first(name)]
                        aria-invalid=[self.invalid(name)] aria-describedby=[self.described_by(&field)];
                    select name=(unit_name) aria-label={ (field.label) ", unit" } {
                        @if !choices.contains(&usual.symbol) { option value=(usual.symbol) selected[chosen == usual.symbol] { (symbol(usual)) } }
                        @for unit in choices.iter().filter_map(|choice| find(choice, dimension)) {
                            option value=(unit.symbol) selected[chosen == unit.symbol] { (symbol(unit)) }
                        }
                    }
                }
                (self.notes(&field))
            }
        }
    }

    /// A line of text; `kind` is the input's type.
    pub fn line(&self, field: Field<'_>, kind: &str, longest: u32) -> Markup {
        let (name, id) = (field.name, self.id(field.name));
        html! {
            div.field {
                label for=(id) { (field.label) }
                input id=(id) type=(kind) name=(name) value=(self.value(&field)) maxlength=(longest)
                    required[field.required] autofocus[self.is_first(name)]
                    aria-invalid=[self.invalid(name)] aria-describedby=[self.described_by(&field)];
                (self.notes(&field))
            }
        }
    }

    /// One of several: what is sent, and what is shown. `usual` is chosen at first.
    pub fn choice(&self, field: Field<'_>, choices: &[(&str, &str)], usual: &str) -> Markup {
        let (name, id) = (field.name, self.id(field.name));
        let typed = self.returned.map(|returned| returned.sent.text(name));
        let chosen = typed.unwrap_or(usual);
        html! {
            div.field {
                label for=(id) { (field.label) }
                select id=(id) name=(name) required[field.required] autofocus[self.is_first(name)]
                    aria-invalid=[self.invalid(name)] aria-describedby=[self.described_by(&field)] {
                    @for (value, words) in choices { option value=(value) selected[*value == chosen] { (words) } }
                }
                (self.notes(&field))
            }
        }
    }

    pub fn tick(&self, field: Field<'_>) -> Markup {
        let (name, id) = (field.name, self.id(field.name));
        html! {
            div.field {
                label.tick for=(id) {
                    input id=(id) type="checkbox" name=(name) value="yes" checked[!self.typed(name).is_empty()]
                        required[field.required] autofocus[self.is_first(name)]
                        aria-invalid=[self.invalid(name)] aria-describedby=[self.described_by(&field)];
                    span { (field.label) }
                }
                (self.notes(&field))
            }
        }
    }

    /// A caution, and the tick by which somebody says that it was read.
    pub fn caution(&self, caution: &str, sure: &str) -> Markup {
        html! {
            p.caution { b { "Caution. " } (caution) }
            (self.tick(Field { name: "sure", label: sure, required: true, ..Field::default() }))
        }
    }
}
