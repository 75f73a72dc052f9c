//! Who can key from a page: the one that armed it, from the desk's own page, and nobody else.

use crate::common::{said, serve};
use markhold_code::Code;
use markhold_desk::door::Door;
use markhold_desk::{Desk, plain_machine};
use markhold_station::answering::Air;
use markhold_station::{Station, StationOptions};
use markhold_wire::transmit::{Transmitter, TransmitterPlan};
use markhold_wire::{Keyer, KeyerError};
use serde_json::{Value, json};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// Counts characters, fifty times as fast as they are.
struct Line(Arc<AtomicU64>);

impl Keyer for Line {
    fn send(&mut self, _code: Code) -> Result<(), KeyerError> {
        self.0.fetch_add(1, Ordering::SeqCst);
        std::thread::sleep(Duration::from_millis(3));
        Ok(())
    }

    fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
        std::thread::sleep(Duration::from_secs_f64(seconds / 50.0));
        Ok(())
    }

    fn motor(&mut self, _on: bool) -> Result<(), KeyerError> {
        Ok(())
    }

    fn finish(&mut self) -> Result<(), KeyerError> {
        Ok(())
    }

    fn cancel(&mut self) -> Result<(), KeyerError> {
        Ok(())
    }
}

#[derive(Default)]
struct Bench(Arc<AtomicU64>);

impl Air for Bench {
    fn plan(&self) -> Result<TransmitterPlan, String> {
        let settings = "[transmitter]\ncall = \"Q1ABC\"\nway = \"tones\"\nkey = \"by-hand\"";
        TransmitterPlan::of_settings(settings, Default::default()).map_err(|e| e.to_string())
    }

    fn open(&self, plan: &TransmitterPlan) -> Result<Transmitter, KeyerError> {
        Ok(Transmitter::on_line(plan, Box::new(Line(self.0.clone()))))
    }
}

/// A desk at a radio that is not there, with a transmitter; how many characters it has sent.
fn desk(door: Door) -> (Arc<Desk>, Arc<AtomicU64>) {
    let sent = Arc::default();
    let options = StationOptions {
        air: Arc::new(Bench(Arc::clone(&sent))),
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
    assert_eq!(
        sent.load(Ordering::SeqCst),
        0,
        "nothing went that was not asked for"
    );
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
async fn from_elsewhere_unpaired_or_in_practice_nobody_can() {
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
    let practice = crate::common::desk(Door::loopback());
    let port = serve(&practice);
    let mut page = port.here().await;
    page.ask(&arm()).await;
    let why = page.until(said("cannot")).await;
    assert!(
        why.as_str().expect("words").contains("leave practice"),
        "{why}"
    );
    practice.station.stop();
}
