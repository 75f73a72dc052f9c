//! Who can key from a page: the one that armed it, from the desk's own page, and nobody else.

use crate::common::{said, serve};
use markhold_desk::door::Door;
use markhold_desk::{Desk, plain_machine};
use markhold_station::answering::Air;
use markhold_station::{Room, Station, StationOptions};
use markhold_wire::transmit::{Transmitter, TransmitterPlan};
use markhold_wire::{KeyerError, WrittenLine};
use serde_json::{Value, json};
use std::sync::{Arc, Mutex};

#[derive(Default)]
struct Bench(WrittenLine);

impl Air for Bench {
    fn plan(&self) -> Result<TransmitterPlan, String> {
        let settings = "[transmitter]\ncall = \"Q1ABC\"\nway = \"tones\"\nkey = \"by-hand\"";
        TransmitterPlan::of_settings(settings, Default::default()).map_err(|e| e.to_string())
    }

    fn open(&self, plan: &TransmitterPlan) -> Result<Transmitter, KeyerError> {
        Ok(Transmitter::on_line(plan, Box::new(self.0.clone())))
    }
}

/// A desk at a radio that is not there, with a transmitter; how many characters it has sent.
fn desk(door: Door) -> (Arc<Desk>, WrittenLine) {
    let sent = WrittenLine::default();
    let options = StationOptions {
        air: Arc::new(Bench(sent.clone())),
        patient: true,
        ..StationOptions::default()
    };
    let station = Station::start(options, "no such radio").expect("it waits");
    (Desk::new(door, station, (plain_machine(), None)), sent)
}

fn ask(what: &Value) -> String {
    json!({"ask": "answer", "value": what}).to_string()
}

fn arm() -> String {
    ask(&json!({"do": "arm", "with": {"call": "Q1ABC", "minutes": 5}}))
}

/// How answering stands, once it stands so.
fn so(wanted: impl Fn(&Value) -> bool) -> impl Fn(&Value) -> Option<Value> {
    move |s| (s["is"] == "answering" && wanted(&s["value"])).then(|| s["value"].clone())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_pages_do_not_mix_and_a_closed_one_turns_it_off() {
    let (desk, sent) = desk(Door::loopback());
    let port = serve(&desk);
    let (mut one, mut other) = (port.here().await, port.here().await);
    let hand = one.until(said("hand")).await;
    one.ask(&ask(&json!({"do": "go"}))).await;
    let why = one.until(said("cannot")).await;
    assert!(why.as_str().expect("words").contains("not armed"), "{why}");
    one.ask(&ask(
        &json!({"do": "arm", "with": {"call": "Q1ABD", "minutes": 5}}),
    ))
    .await;
    let why = one.until(said("cannot")).await;
    assert!(
        why.as_str().expect("words").contains("typing the call"),
        "{why}"
    );
    one.ask(&arm()).await;
    let state = other.until(so(|state| !state["armed_by"].is_null())).await;
    assert_eq!(state["armed_by"], hand);
    // The other page can neither arm, write, key nor stop it.
    for what in [
        json!({"do": "arm", "with": {"call": "Q1ABC", "minutes": 5}}),
        json!({"do": "write", "with": {"gone": 0, "text": "MINE"}}),
        json!({"do": "go"}),
        json!({"do": "stop"}),
    ] {
        other.ask(&ask(&what)).await;
        let why = other.until(said("cannot")).await;
        assert!(
            why.as_str().expect("words").contains("another page"),
            "{why}"
        );
    }
    assert_eq!(sent.codes(), [], "nothing went that was not asked for");
    one.ask(&ask(
        &json!({"do": "write", "with": {"gone": 0, "text": "RY".repeat(2000)}}),
    ))
    .await;
    one.ask(&ask(&json!({"do": "go"}))).await;
    other
        .until(so(|state| {
            state["on_the_air"] == true && state["gone"].as_u64() > Some(3)
        }))
        .await;
    drop(one);
    let off = other.until(so(|state| state["armed_by"].is_null())).await;
    assert!(
        off["words"].as_str().expect("words").contains("closed"),
        "{off}"
    );
    desk.station.stop();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn from_elsewhere_or_unpaired_nobody_can() {
    let codes: Arc<Mutex<Vec<String>>> = Arc::default();
    let told = Arc::clone(&codes);
    let door = Door::shared(None, move |code| {
        told.lock().expect("whole").push(code.into())
    });
    let (desk, _) = desk(door.expect("random numbers"));
    let port = serve(&desk);
    // A page of elsewhere, and one of the local network without a key.
    assert!(
        port.browser("localhost", "http://elsewhere.example", "")
            .await
            .is_none()
    );
    assert!(
        port.browser("localhost", "http://localhost", "")
            .await
            .is_none()
    );
    desk.station.stop();
}

/// In practice the practice transmitter is armed, and the station's own stays off.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn practice_has_a_transmitter_of_its_own() {
    let sent = WrittenLine::default();
    let options = StationOptions {
        air: Arc::new(Bench(sent.clone())),
        ..StationOptions::default()
    };
    let desk = crate::common::desk_with(Door::loopback(), options);
    let port = serve(&desk);
    let mut page = port.here().await;
    page.ask(&arm()).await;
    let state = page.until(so(|state| !state["armed_by"].is_null())).await;
    assert!(
        state["set"].as_str().expect("words").contains("practice"),
        "{state}"
    );
    page.ask(&ask(
        &json!({"do": "write", "with": {"gone": 0, "text": "RYRYRYRY\n"}}),
    ))
    .await;
    page.ask(&ask(&json!({"do": "go"}))).await;
    let heard = |s: &Value| (s["is"] == "sheet").then(|| s["value"].to_string());
    page.until(|s| heard(s).filter(|sheet| sheet.contains("RYRYRYRY")))
        .await;
    assert_eq!(desk.station.answering_in(Room::Radio).armed_by, None);
    assert_eq!(sent.codes(), [], "nothing is on the air");
    desk.station.stop();
}
