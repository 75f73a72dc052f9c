//! What browsers are told: the same for all, nothing lost on reload, a slow one alone late.

use crate::common::said;
use markhold_desk::door::Door;
use serde_json::Value;
use tokio_tungstenite::tungstenite::Message;

fn character(said: &Value) -> Option<(f64, u64)> {
    let event = (said["is"] == "report" && said["value"]["report"] == "event")
        .then(|| &said["value"]["value"])?;
    let decided = event["type"] == "character";
    decided.then(|| {
        (
            event["start"].as_f64().expect("a time"),
            event["code"].as_u64().expect("a code"),
        )
    })
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn copy_comes_and_a_reload_has_all_of_it() {
    let desk = crate::common::desk(Door::loopback());
    let port = crate::common::serve(&desk);
    let mut browser = port.here().await;
    browser.until(said("snapshot")).await;
    let mut copy = Vec::new();
    while copy.len() < 12 {
        copy.push(browser.until(character).await);
    }
    let mut reloaded = port.here().await;
    let snapshot = reloaded.until(said("snapshot")).await;
    let strip = snapshot["strip"].as_array().expect("a list");
    let times: Vec<f64> = strip
        .iter()
        .map(|c| c[0].as_f64().expect("a time"))
        .collect();
    // Times of the strip are rounded to a millisecond.
    let has = |start: f64| times.iter().any(|time| (time - start).abs() < 0.001);
    for (start, _) in &copy {
        assert!(has(*start), "{start} of {copy:?} is not in {times:?}");
    }
    // The next character decided is told to both, or to the second in its snapshot.
    let next = browser.until(character).await;
    if !has(next.0) {
        assert_eq!(reloaded.until(character).await, next);
    }
    desk.station.stop();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_one_turns_all_see() {
    let desk = crate::common::desk(Door::loopback());
    let port = crate::common::serve(&desk);
    let (mut one, mut other) = (port.here().await, port.here().await);
    one.ask(r#"{"ask":"practice","value":{"dial_hz":7041000,"sideband":"upper"}}"#)
        .await;
    let stands = other
        .until(|s| {
            (s["is"] == "practice" && s["value"]["dial_hz"] == 7_041_000.0).then(|| s.clone())
        })
        .await;
    assert_eq!(stands["value"]["sideband"], "upper");
    let in_use = |s: &Value| {
        let settings = s["is"] == "report" && s["value"]["report"] == "settings";
        settings.then(|| s["value"]["value"].clone())
    };
    // The tuning is told which way the dial goes now.
    assert_eq!(other.until(in_use).await["sideband"], "upper");
    one.ask(r#"{"ask":"hold","value":{"at_hz":1500,"rate_baud":50}}"#)
        .await;
    assert_eq!(other.until(in_use).await["hold"]["rate_baud"], 50.0);
    desk.station.stop();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_cannot_be_is_said_to_who_asked() {
    let desk = crate::common::desk(Door::loopback());
    let port = crate::common::serve(&desk);
    let mut browser = port.here().await;
    for ask in [
        r#"{"ask":"hold","value":{"rate_baud":300}}"#,
        r#"{"ask":"listen","value":"no such input"}"#,
        "nonsense",
    ] {
        browser.ask(ask).await;
        let why = browser.until(said("cannot")).await;
        assert!(why.as_str().is_some_and(|w| w.len() > 20), "{why}");
    }
    desk.station.stop();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn pictures_stop_for_who_does_not_paint() {
    let desk = crate::common::desk(Door::loopback());
    let port = crate::common::serve(&desk);
    let mut slow = port.here().await;
    let mut quick = port.here().await;
    let (mut to_slow, mut to_quick) = (0_u32, 0_u32);
    while to_quick < 120 {
        tokio::select! {
            message = slow.next() => to_slow += u32::from(message.is_binary()),
            message = quick.next() => if let Message::Binary(bytes) = message {
                to_quick += 1;
                let number = u32::from_le_bytes(bytes[12..16].try_into().expect("four"));
                quick.ask(&format!(r#"{{"ask":"painted","value":{number}}}"#)).await;
            },
        }
    }
    assert!(
        to_slow <= 50,
        "{to_slow} pictures to a page that paints none"
    );
    desk.station.stop();
}

/// A browser that takes what it is told but answers no call has gone, as a phone out of reach.
#[tokio::test]
async fn who_answers_no_call_is_gone() {
    let desk = crate::common::desk(Door::loopback());
    let port = crate::common::serve(&desk);
    let mut phone = port.deaf().await;
    tokio::time::pause();
    assert!(phone.is_closed().await);
    desk.station.stop();
}
