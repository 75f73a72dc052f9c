//! The sheet and the machine, as browsers are told of them.

use crate::common::{desk_with, said, serve};
use markhold_desk::door::Door;
use markhold_page::Machine;
use markhold_station::StationOptions;
use markhold_station::machines::{Listing, MachineChoice, Machines};
use markhold_wire::play::Setup;
use serde_json::Value;
use std::io::Read;
use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;

/// One machine at the other end of a socket.
struct Shack(SocketAddr);

impl Machines for Shack {
    fn list(&self) -> Listing {
        Listing {
            machines: vec![MachineChoice {
                name: "shack".into(),
                about: "a machine".into(),
                way: Some(format!("codes:{}", self.0)),
                patience_s: 8.0,
                columns: 40,
            }],
            meant: Some("shack".into()),
            ..Listing::default()
        }
    }

    fn setup(&self, name: &str, _way: Option<&str>) -> Result<Setup, String> {
        let machine = Machine {
            columns: 40,
            margin_lamp: 36,
            rate_baud: 300.0,
            ..Machine::default()
        };
        match name {
            "shack" => Ok(Setup {
                way: Some(format!("codes:{}", self.0).parse().expect("a way")),
                ..Setup::of(machine)
            }),
            _ => Err(format!("no machine is called {name} here")),
        }
    }
}

/// The rows of what was said of the sheet.
fn rows(said: &Value) -> Vec<String> {
    let pieces = said["pieces"].as_array().expect("a list");
    let rows = pieces
        .iter()
        .flat_map(|piece| piece["rows"].as_array().expect("a list"));
    rows.map(|row| row["text"].as_str().expect("text").into())
        .collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_sheet_comes_whole_and_then_what_changes() {
    let desk = desk_with(Door::loopback(), StationOptions::default());
    let port = serve(&desk);
    let mut browser = port.here().await;
    let whole = browser.until(said("sheet")).await;
    assert_eq!(whole["layout"]["columns"], 69);
    let mut last = Value::Null;
    while rows(&whole).len() + 2 > last["pieces"][0]["settled"].as_u64().unwrap_or(0) as usize {
        last = browser.until(said("sheet")).await;
        assert!(last["layout"].is_null() && !rows(&last).is_empty());
    }
    // Who comes later has the rows that are settled.
    let mut reloaded = port.here().await;
    let again = reloaded.until(said("sheet")).await;
    assert!(again["layout"].is_object() && rows(&again).len() > 2);
    // Another line length is for all, and everything is laid out anew.
    browser
        .ask(r#"{"ask":"sheet","value":{"columns":30,"overprint":true}}"#)
        .await;
    for one in [&mut browser, &mut reloaded] {
        let laid_out = one
            .until(|s| {
                (s["is"] == "sheet" && s["value"]["layout"].is_object()).then(|| s["value"].clone())
            })
            .await;
        assert_eq!(
            (
                &laid_out["layout"]["columns"],
                &laid_out["layout"]["overprint"]
            ),
            (&30.into(), &true.into())
        );
        assert!(rows(&laid_out).iter().all(|row| row.len() <= 30));
        assert!(rows(&laid_out).len() > rows(&again).len());
    }
    browser
        .ask(r#"{"ask":"sheet","value":{"columns":3,"overprint":true}}"#)
        .await;
    let why = browser.until(said("cannot")).await;
    assert!(why.as_str().expect("words").contains("20 to 200"), "{why}");
    desk.station.stop();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_machine_is_started_and_stopped_and_all_see_it() {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let options = StationOptions {
        machines: Arc::new(Shack(listener.local_addr().expect("bound"))),
        ..StationOptions::default()
    };
    let desk = desk_with(Door::loopback(), options);
    let port = serve(&desk);
    let (mut one, mut other) = (port.here().await, port.here().await);
    let machines = one.until(said("machines")).await;
    assert_eq!(machines["meant"], "shack");
    one.ask(r#"{"ask":"print","value":{"machine":"attic"}}"#)
        .await;
    let why = one.until(said("cannot")).await;
    assert!(why.as_str().expect("words").contains("attic"), "{why}");
    // A browser cannot name a file of this computer.
    one.ask(r#"{"ask":"print","value":{"machine":"shack","way":"codes:/tmp/x"}}"#)
        .await;
    let why = one.until(said("cannot")).await;
    assert!(
        why.as_str().expect("words").contains("no way offered"),
        "{why}"
    );

    one.ask(r#"{"ask":"print","value":{"machine":"shack","patience_s":0}}"#)
        .await;
    let prints = |s: &Value| {
        (s["is"] == "printing" && s["value"]["sent"].as_u64() > Some(20))
            .then(|| s["value"].clone())
    };
    let (mut machine, _) = tokio::task::spawn_blocking(move || listener.accept())
        .await
        .expect("waited")
        .expect("it connects");
    let state = other.until(prints).await;
    assert_eq!(
        (&state["machine"], &state["runs"], &state["patience_s"]),
        (&"shack".into(), &true.into(), &0.0.into())
    );
    // The sheet is laid out as this machine prints.
    let mut late = port.here().await;
    let sheet = late.until(said("sheet")).await;
    assert_eq!(
        (&sheet["layout"]["machine"], &sheet["layout"]["columns"]),
        (&"shack".into(), &40.into())
    );
    other.ask(r#"{"ask":"patience","value":2.5}"#).await;
    let patient =
        |s: &Value| (s["is"] == "printing" && s["value"]["patience_s"] == 2.5).then_some(());
    one.until(patient).await;
    other.ask(r#"{"ask":"stop-printing"}"#).await;
    let stopped = |s: &Value| {
        (s["is"] == "printing" && s["value"]["runs"] == false).then(|| s["value"].clone())
    };
    let state = one.until(stopped).await;
    assert_eq!(state["waiting"], 0);
    let mut codes = Vec::new();
    machine.read_to_end(&mut codes).expect("its way is closed");
    assert_eq!(Some(codes.len() as u64), state["sent"].as_u64());
    desk.station.stop();
}
