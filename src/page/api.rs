//! The interface: the forms of [`crate::wire`], as they also go out by MQTT.

use super::PageState;
use crate::engine::snapshot::TankView;
use crate::wire::{
    self, ContactForm, EntriesForm, OwnedAlarmForm, SignalForm, TankForm, name::fold,
};
use axum::Json;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use schemars::JsonSchema;
use serde::Serialize;

/// What an answer is about, and the list that it gives.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "tanks")]
pub struct TanksAnswer {
    site: String,
    #[schemars(extend("format" = "date-time"))]
    time: String,
    tanks: Vec<TankForm>,
}

#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "alarms")]
pub struct AlarmsAnswer {
    site: String,
    #[schemars(extend("format" = "date-time"))]
    time: String,
    alarms: Vec<OwnedAlarmForm>,
}

#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "transmitters")]
pub struct TransmittersAnswer {
    site: String,
    #[schemars(extend("format" = "date-time"))]
    time: String,
    transmitters: Vec<SignalForm>,
}

#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "contacts")]
pub struct ContactsAnswer {
    site: String,
    #[schemars(extend("format" = "date-time"))]
    time: String,
    contacts: Vec<ContactForm>,
}

pub(super) async fn tanks(State(state): State<PageState>) -> Json<TanksAnswer> {
    let snapshot = state.snapshot();
    Json(TanksAnswer {
        site: snapshot.site.to_string(),
        time: wire::time(snapshot.utc),
        tanks: snapshot.tanks.iter().map(TankForm::new).collect(),
    })
}

/// A tank by its name, as written or folded.
pub(super) async fn tank(State(state): State<PageState>, Path(name): Path<String>) -> Response {
    of_tank(&state, &name, TankForm::new)
}

/// What was entered of a tank's sight glass and dips.
pub(super) async fn rounds(State(state): State<PageState>, Path(name): Path<String>) -> Response {
    of_tank(&state, &name, EntriesForm::new)
}

fn of_tank<F: Serialize>(state: &PageState, name: &str, form: fn(&TankView) -> F) -> Response {
    let snapshot = state.snapshot();
    match snapshot
        .tanks
        .iter()
        .find(|tank| fold(&tank.name) == fold(name))
    {
        Some(tank) => Json(form(tank)).into_response(),
        None => missing(format!(
            "there is no tank \"{name}\"; /api/v1/tanks lists them"
        )),
    }
}

/// Every alarm of every tank and of the system itself, whatever its state.
pub(super) async fn alarms(State(state): State<PageState>) -> Json<AlarmsAnswer> {
    let snapshot = state.snapshot();
    let alarms = snapshot.alarms();
    let alarms = alarms.map(|(tank, alarm)| OwnedAlarmForm::new(tank, alarm));
    Json(AlarmsAnswer {
        site: snapshot.site.to_string(),
        time: wire::time(snapshot.utc),
        alarms: alarms.collect(),
    })
}

pub(super) async fn transmitters(State(state): State<PageState>) -> Json<TransmittersAnswer> {
    let snapshot = state.snapshot();
    Json(TransmittersAnswer {
        site: snapshot.site.to_string(),
        time: wire::time(snapshot.utc),
        transmitters: snapshot.transmitters.iter().map(SignalForm::new).collect(),
    })
}

pub(super) async fn contacts(State(state): State<PageState>) -> Json<ContactsAnswer> {
    let snapshot = state.snapshot();
    Json(ContactsAnswer {
        site: snapshot.site.to_string(),
        time: wire::time(snapshot.utc),
        contacts: snapshot.contacts.iter().map(ContactForm::new).collect(),
    })
}

/// The JSON Schema of a form.
pub(super) async fn schema(Path(form): Path<String>) -> Response {
    match wire::schema::schema(&form) {
        Some(schema) => Json(schema).into_response(),
        None => {
            let forms = wire::schema::FORMS.join(", ");
            missing(format!("there is no form \"{form}\"; there are {forms}"))
        }
    }
}

#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "missing")]
pub struct Missing {
    /// What is missing, and where what there is is listed.
    error: String,
}

fn missing(error: String) -> Response {
    (StatusCode::NOT_FOUND, Json(Missing { error })).into_response()
}
