//! The description of the HTTP interface (OpenAPI 3.1.0, whose schemas are JSON Schema draft 2020-12), made from the
//! forms themselves. A test holds it against the routes, another one against what the daemon answers.

use super::api::{AlarmsAnswer, ContactsAnswer, Missing, TanksAnswer, TransmittersAnswer};
use crate::wire::{EntriesForm, TankForm, schema};
use axum::Json;
use schemars::SchemaGenerator;
use schemars::generate::SchemaSettings;
use serde_json::{Map, Value, json};

const ABOUT: &str = "The same as the page shows, as JSON. Units stand in key names, times are RFC 3339 in UTC, a \
    number that is not known is null, every key is always present, and quality is among them wherever there is a \
    measured value. It only reads: whatever changes something needs a signed-in person at the page, or the command \
    line. Where the site file has reading = \"signed-in\" all but health takes the cookie of who has signed in. \
    Nothing may be controlled, interlocked or tripped from it.";

/// What an answer carries.
enum Body {
    Json(Value),
    Text(&'static str),
}

pub(super) async fn answer() -> Json<Value> {
    Json(document())
}

/// The whole description.
pub fn document() -> Value {
    let mut generator = SchemaSettings::draft2020_12()
        .for_serialize()
        .with(|settings| settings.definitions_path = "/components/schemas".into())
        .into_generator();
    let paths = paths(&mut generator);
    let schemas: Map<String, Value> = generator.take_definitions(true).into_iter().collect();
    json!({
        "openapi": "3.1.0",
        "info": {
            "title": "Standpipe",
            "version": env!("CARGO_PKG_VERSION"),
            "description": ABOUT,
            "license": { "name": "Apache-2.0", "identifier": "Apache-2.0" },
        },
        "jsonSchemaDialect": "https://json-schema.org/draft/2020-12/schema",
        "paths": paths,
        "components": {
            "schemas": schemas,
            "securitySchemes": { "session": { "type": "apiKey", "in": "cookie", "name": super::access::SESSION } },
        },
        "security": [{}, { "session": [] }],
    })
}

fn paths(generator: &mut SchemaGenerator) -> Map<String, Value> {
    let missing = of::<Missing>(generator);
    let tank = ("name", "The tank's name, as written or folded", Vec::new());
    let form = ("form", "A form's name", schema::FORMS.to_vec());
    let any = json!({ "type": "object" });
    let text = || Body::Text("text/plain; charset=utf-8");
    let metrics = Body::Text("text/plain; version=0.0.4; charset=utf-8");
    let mut paths = Map::new();
    let mut add = |path: &str, words, body, parameter: Option<&(_, _, Vec<&str>)>| {
        let missing = parameter.map(|_| &missing);
        let is_health = path.starts_with("/health/");
        let of_path = path_of((words, is_health), body, parameter, missing);
        paths.insert(path.to_owned(), of_path);
    };
    let as_json = Body::Json;
    add(
        "/api/v1/tanks",
        "Every tank, with its reading and alarms",
        as_json(of::<TanksAnswer>(generator)),
        None,
    );
    add(
        "/api/v1/tanks/{name}",
        "One tank",
        as_json(of::<TankForm>(generator)),
        Some(&tank),
    );
    add(
        "/api/v1/tanks/{name}/rounds",
        "What was entered of a tank's sight glass and dips",
        as_json(of::<EntriesForm>(generator)),
        Some(&tank),
    );
    add(
        "/api/v1/alarms",
        "Every alarm, whatever its state, with those of the system itself",
        as_json(of::<AlarmsAnswer>(generator)),
        None,
    );
    add(
        "/api/v1/transmitters",
        "What each transmitter says",
        as_json(of::<TransmittersAnswer>(generator)),
        None,
    );
    add(
        "/api/v1/contacts",
        "What each contact says",
        as_json(of::<ContactsAnswer>(generator)),
        None,
    );
    add(
        "/api/v1/schema/{form}",
        "The JSON Schema of a form, as it also goes out by MQTT",
        as_json(any.clone()),
        Some(&form),
    );
    add(
        "/api/v1/openapi.json",
        "This description",
        as_json(any),
        None,
    );
    add("/health/live", "The program answers", text(), None);
    add(
        "/health/ready",
        "Every tank had a first reading, or is known to have none; names active alarms of the system",
        text(),
        None,
    );
    add(
        "/metrics",
        "Metrics in the Prometheus text format",
        metrics,
        None,
    );
    paths
}

fn of<Form: schemars::JsonSchema>(generator: &mut SchemaGenerator) -> Value {
    generator.subschema_for::<Form>().to_value()
}

fn path_of(
    (words, is_health): (&str, bool),
    body: Body,
    parameter: Option<&(&str, &str, Vec<&str>)>,
    missing: Option<&Value>,
) -> Value {
    let content = match body {
        Body::Json(schema) => json!({ "application/json": { "schema": schema } }),
        Body::Text(kind) => json!({ kind: { "schema": { "type": "string" } } }),
    };
    let mut get = json!({
        "summary": words,
        "responses": { "200": { "description": words, "content": content } },
    });
    if is_health {
        get["security"] = json!([{}]);
        get["responses"]["503"] = json!({ "description": "Not yet" });
    } else {
        get["responses"]["401"] = json!({ "description": "Only who has signed in may read here" });
        get["responses"]["421"] =
            json!({ "description": "Asked for by a name that is not the page's own" });
    }
    if let Some(missing) = missing {
        let content = json!({ "application/json": { "schema": missing } });
        get["responses"]["404"] =
            json!({ "description": "There is none of that name", "content": content });
    }
    if let Some((name, words, known)) = parameter {
        let mut schema = json!({ "type": "string" });
        if !known.is_empty() {
            schema["enum"] = json!(known);
        }
        get["parameters"] = json!([{ "name": name, "in": "path", "required": true, "description": words, "schema": schema }]);
    }
    json!({ "get": get })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn it_describes_the_routes_there_are() {
        let document = document();
        let described = document["paths"].as_object().expect("paths").keys();
        let described: BTreeSet<&str> = described.map(String::as_str).collect();
        let routes = super::super::interface();
        let served: BTreeSet<&str> = routes.iter().map(|(path, _)| *path).collect();
        assert_eq!(described, served);
    }

    #[test]
    fn every_reference_leads_somewhere() {
        let document = document();
        let text = document.to_string();
        let named: Vec<&str> = text.split("\"$ref\":\"#").skip(1).collect();
        assert!(named.len() > 10, "{}", named.len());
        for rest in named {
            let pointer = rest.split('"').next().expect("a pointer");
            assert!(document.pointer(pointer).is_some(), "{pointer}");
        }
    }
}
