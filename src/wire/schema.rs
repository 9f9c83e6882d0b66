//! One JSON Schema (draft 2020-12) per form, made from the forms themselves.

use super::{
    AlarmForm, CheckForm, ContactForm, EntriesForm, EventForm, FiguresForm, HeartbeatForm,
    NoticeForm, ReadingForm, RehearsalForm, SignalForm, TankForm,
};
use schemars::{JsonSchema, Schema, generate::SchemaSettings};

/// The names of the forms that have a schema.
pub const FORMS: [&str; 12] = [
    "reading",
    "alarm",
    "event",
    "signal",
    "contact",
    "tank",
    "entries",
    "alarm-figures",
    "check",
    "notice",
    "heartbeat",
    "rehearsal",
];

/// The schema of a form; none for a name that is not in [`FORMS`].
pub fn schema(form: &str) -> Option<Schema> {
    match form {
        "reading" => Some(of::<ReadingForm>()),
        "alarm" => Some(of::<AlarmForm>()),
        "event" => Some(of::<EventForm>()),
        "signal" => Some(of::<SignalForm>()),
        "alarm-figures" => Some(of::<FiguresForm>()),
        "check" => Some(of::<CheckForm>()),
        "notice" => Some(of::<NoticeForm>()),
        "heartbeat" => Some(of::<HeartbeatForm>()),
        "rehearsal" => Some(of::<RehearsalForm>()),
        "contact" => Some(of::<ContactForm>()),
        "entries" => Some(of::<EntriesForm>()),
        "tank" => Some(of::<TankForm>()),
        _ => None,
    }
}

/// As it goes out: every key that is always written is required.
fn of<Form: JsonSchema>() -> Schema {
    SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator()
        .into_root_schema_for::<Form>()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_of_every_form_is_required_and_typed() {
        for form in FORMS {
            let schema = schema(form)
                .expect("every listed form has a schema")
                .to_value();
            let properties = schema["properties"]
                .as_object()
                .expect("an object has properties");
            let required = schema["required"].as_array().expect("it requires some");
            assert_eq!(properties.len(), required.len(), "{form}");
            for (key, property) in properties {
                let typed = ["type", "$ref", "anyOf"]
                    .iter()
                    .any(|word| property.get(word).is_some());
                assert!(typed, "{form}.{key}: {property}");
            }
        }
        assert!(schema("status").is_none());
    }

    #[test]
    fn the_reading_lists_the_published_reasons_and_may_be_null() {
        let schema = schema("reading").expect("a form").to_value();
        let reasons = &schema["properties"]["reasons"]["items"]["enum"];
        assert!(
            reasons
                .as_array()
                .is_some_and(|list| list.iter().any(|text| text == "no answer"))
        );
        assert_eq!(
            schema["properties"]["level_m"]["type"],
            serde_json::json!(["number", "null"])
        );
        assert_eq!(schema["properties"]["time"]["format"], "date-time");
    }
}
