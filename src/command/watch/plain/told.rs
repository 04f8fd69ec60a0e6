//! What each echo is and which places still fit, said where it has changed.

use serde_json::{Map, Value, json};

use super::super::super::failure::Failure;
use super::super::super::report::rounded;
use super::{Last, Out};
use crate::fix::{EchoPlace, Fix, Rival, Verdict};
use crate::geodesy::Position;
use crate::screen::whole_percent;
use crate::watch::{Is, Told, Watch};

/// Places that still fit that are told, as on the display.
const MOST_PLACES: usize = 5;

/// Places after the point, as in a fix's report.
const POSITION_PLACES: i32 = 7;
const AREA_PLACES: i32 = 9;
const ANGLE_PLACES: i32 = 4;
const SHARE_PLACES: i32 = 9;

/// A line that was said, and what is in it.
#[derive(Debug, Clone)]
pub(super) struct Said {
    event: &'static str,
    text: String,
    fields: Map<String, Value>,
}

/// Says what has changed since the last answer.
pub(super) fn say(watch: &Watch, fix: &Fix, last: &mut Last, out: &mut Out) -> Result<(), Failure> {
    let now: Vec<Said> = watch.told(fix).iter().filter_map(echo).chain(places(fix)).collect();
    let news = |said: &&Said| !last.told.iter().any(|before| before.text == said.text);
    for said in now.iter().filter(news) {
        out.say_with(said.event, &said.text, &said.fields)?;
    }
    last.told = now;
    Ok(())
}

/// What one echo is: `B: the name you gave, Gannet Head, does not fit; it is Tern Rock, 97 %`.
fn echo(told: &Told) -> Option<Said> {
    let Told { contact, given, is } = told;
    let fields = |mark: Option<&str>, probability: Option<f64>| {
        map(json!({
            "contact": contact, "mark": mark, "probability": probability,
            "given": given, "given_fits": given.as_ref().map(|_| told.wrong_name().is_none()),
        }))
    };
    match is {
        Is::LeftOut(_) => None,
        Is::Mark { mark, probability } => {
            let sure = whole_percent(*probability);
            let text = match told.wrong_name() {
                Some(name) => {
                    format!(
                        "{contact}: the name you gave, {name}, does not fit; it is {mark}, {sure}"
                    )
                }
                None => format!("{contact} is {mark}, {sure}"),
            };
            let fields = fields(Some(mark), Some(rounded(*probability, SHARE_PLACES)));
            Some(Said { event: "identity", text, fields })
        }
        Is::NotKnown => {
            let text = match given {
                Some(name) => format!("{contact} is not settled: you gave {name}"),
                None => format!("{contact} is not known"),
            };
            let mut fields = fields(None, None);
            fields.insert("given_fits".to_owned(), Value::Null);
            Some(Said { event: "identity", text, fields })
        }
        Is::Unexplained { why, places } => {
            let mut fields = fields(None, None);
            fields.insert("why".to_owned(), json!(why));
            fields.insert("places".to_owned(), places.iter().map(echo_place).collect());
            let at: Vec<String> = places.iter().map(|at| at.position.to_string()).collect();
            let at = match at.as_slice() {
                [] => String::new(),
                at => format!("; it would lie at {}", at.join(" or at ")),
            };
            Some(Said { event: "unmatched", text: format!("{contact}: {why}{at}"), fields })
        }
    }
}

/// The places that still fit, where none is stated.
fn places(fix: &Fix) -> impl Iterator<Item = Said> + '_ {
    let told = if fix.verdict == Verdict::Fixed { 0 } else { MOST_PLACES };
    fix.rivals.iter().take(told).enumerate().map(|(number, rival)| place(number + 1, rival))
}

fn place(number: usize, rival: &Rival) -> Said {
    let named = rival.identities.iter().map(|i| i.words(" "));
    let named = named.collect::<Vec<_>>().join(", ");
    let at = rival.estimate.position;
    let sure = whole_percent(rival.probability);
    let identities: Vec<Value> = rival
        .identities
        .iter()
        .map(|i| {
            json!({ "contact": i.contact, "mark": i.mark, "probability": rounded(i.probability, SHARE_PLACES) })
        })
        .collect();
    let fields = map(json!({
        "number": number, "probability": rounded(rival.probability, SHARE_PLACES),
        "position": position(at), "identities": identities,
    }));
    Said { event: "place", text: format!("{number}, {sure}: {at}: {named}"), fields }
}

fn echo_place(place: &EchoPlace) -> Value {
    let covariance =
        place.covariance.square_miles().map(|row| row.map(|v| rounded(v, AREA_PLACES)));
    json!({
        "position": position(place.position), "covariance_nm2": covariance,
        "steer_deg": rounded(place.steer.degrees(), ANGLE_PLACES),
    })
}

fn position(at: Position) -> Value {
    json!({ "lat_deg": rounded(at.latitude(), POSITION_PLACES), "lon_deg": rounded(at.longitude(), POSITION_PLACES) })
}

fn map(value: Value) -> Map<String, Value> {
    match value {
        Value::Object(map) => map,
        _ => Map::new(),
    }
}
