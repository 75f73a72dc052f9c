//! An over on exactly the tones of a pair that is received, through the whole road: made sound,
//! receiver, over, sound, and a receiver at the other end.

use super::played::{Play, ThenNothing, offline, played, printed};
use markhold_air::{Air as Scened, Noise, Scene, Sender, Sense};
use markhold_code::{FiguresRow, Tones};
use markhold_event::Event;
use markhold_sound::{ReadOptions, Sideband, SoundReader, Source};
use markhold_station::answering::{Air, Answer, AnswerState, Hand};
use markhold_station::inputs::{InputChoice, Inputs};
use markhold_station::settings::InUse;
use markhold_station::{Station, StationOptions};
use markhold_wire::KeyerError;
use markhold_wire::transmit::{TonesFrom, Transmitter, TransmitterPlan};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

const HEARD: &str = "Q1ABC Q1ABC DE Q2HLR GOOD EVENING HOW COPY Q1ABC DE Q2HLR K";
const SENT: &str = "Q2HLR DE Q1ABC R R GOOD EVENING FROM THE HARBOUR CLUB";
/// Tones are followed to this, Hz. Two receivers measure one after the other, each to about a hertz
/// in so short a text; being off by so much costs a correlator of one element 0.03 dB.
const EXACT_HZ: f64 = 2.0;

/// Somebody of a net sends, then nobody.
struct Net {
    pair: Tones,
}

impl Inputs for Net {
    fn list(&self) -> Vec<InputChoice> {
        vec![InputChoice {
            id: "net".into(),
            name: "net".into(),
        }]
    }

    fn open(&self, _id: &str) -> Result<Box<dyn Source>, String> {
        let sender = Sender {
            centre_hz: self.pair.middle_hz(),
            shift_hz: self.pair.shift_hz(),
            sense: self.pair.sense(),
            ..Sender::of_text(HEARD, FiguresRow::Us).expect("can be sent")
        };
        let scene = Scene {
            senders: vec![sender],
            noise: Noise::EsN0Db(18.0),
            // Longer than a signal is waited for in the middle of an over.
            silence_after_s: 6.0,
            ..Scene::default()
        };
        let sound = Scened::new(scene, 8000).expect("a scene").render();
        Ok(Box::new(ThenNothing("net", played([Play::Sound(sound)]))))
    }
}

/// A transmitter whose sound goes into a file.
struct InFile {
    keys: String,
    path: PathBuf,
}

impl Air for InFile {
    fn plan(&self) -> Result<TransmitterPlan, String> {
        let settings = format!(
            "[transmitter]\ncall = \"Q1ABC\"\nway = \"tones\"\nkey = \"by-hand\"\n\
             tones = \"received\"\n{}",
            self.keys
        );
        TransmitterPlan::of_settings(&settings, Default::default()).map_err(|e| e.to_string())
    }

    fn open(&self, plan: &TransmitterPlan) -> Result<Transmitter, KeyerError> {
        Transmitter::in_file(plan, Some(self.path.clone()))
    }
}

/// A station that has copied the net and has the transmitter armed.
struct Stand {
    station: Station,
    hand: Hand,
}

impl Stand {
    fn new(pair: Tones, sideband: Option<Sideband>, keys: &str, path: &Path) -> Stand {
        let options = StationOptions {
            inputs: Arc::new(Net { pair }),
            air: Arc::new(InFile {
                keys: keys.into(),
                path: path.into(),
            }),
            in_use: InUse {
                sideband,
                ..InUse::default()
            },
            ..StationOptions::default()
        };
        let station = Station::start(options, "net").expect("it opens");
        let stand = Stand {
            station,
            hand: Hand::new(),
        };
        let copied = |_: &AnswerState| {
            let last =
                |sum: &markhold_station::Snapshot| printed(&sum.sheet).contains("DE Q2HLR K");
            stand.station.look(last)
        };
        stand.until("the net", copied);
        let arm = Answer::Arm {
            call: "Q1ABC".into(),
            minutes: 5.0,
            tones: None,
        };
        stand.ask(&arm).expect("armed");
        stand
    }

    fn ask(&self, answer: &Answer) -> Result<(), String> {
        let asked = self.station.answer(self.hand, answer);
        asked.map_err(|why| why.to_string())
    }

    /// The net may have sent a moment ago; whoever is told so and asks again means it.
    fn go(&self) -> Result<(), String> {
        let done = self.ask(&Answer::GoAndEnd);
        match done {
            Err(why) if why.contains("ask again") => self.ask(&Answer::GoAndEnd),
            done => done,
        }
    }

    fn until(&self, what: &str, so: impl Fn(&AnswerState) -> bool) {
        let begun = Instant::now();
        loop {
            let _ = self.ask(&Answer::Here);
            let state = self.station.answering();
            if so(&state) {
                return;
            }
            assert!(begun.elapsed().as_secs() < 60, "{what}: {state:?}");
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    fn write(&self, text: &str) {
        let write = Answer::Write {
            gone: 0,
            typed: None,
            text: text.into(),
        };
        self.ask(&write).expect("it waits");
    }
}

fn sound(path: &Path) -> (Vec<f32>, u32) {
    let mut reader = SoundReader::open(path, &ReadOptions::default()).expect("a file");
    let (rate, mut all, mut block) = (reader.rate(), Vec::new(), [0.0; 4096]);
    loop {
        match reader.read(&mut block).expect("sound") {
            0 => return (all, rate),
            count => all.extend_from_slice(&block[..count]),
        }
    }
}

#[test]
fn what_is_sent_is_heard_on_exactly_the_tones_of_the_net() {
    let folder = tempfile::tempdir().expect("a folder");
    // Both sidebands, both senses, an odd shift.
    for (n, (sideband, keys, sense)) in [
        (Sideband::Lower, "", Sense::LowerTone),
        (Sideband::Upper, "sideband = \"upper\"", Sense::HigherTone),
        (Sideband::Upper, "sideband = \"upper\"", Sense::LowerTone),
    ]
    .into_iter()
    .enumerate()
    {
        let path = folder.path().join(format!("{n}.wav"));
        let pair = Tones::of_pair(1483.2, 1653.7, sense);
        let stand = Stand::new(pair, Some(sideband), keys, &path);
        stand.write(SENT);
        stand.go().expect("it goes");
        let told = stand.station.answering().tones;
        assert_eq!(told.from, TonesFrom::Received);
        let words = told.words.expect("armed");
        assert!(
            words.contains("exactly those of the received pair"),
            "{words}"
        );
        stand.until("it has gone", |state| {
            state.gone == SENT.len() as u64 && !state.on_the_air
        });
        stand.station.stop();
        let (sound, rate) = sound(&path);
        let events = offline(&sound, rate);
        let ended = events.iter().find_map(|event| match event {
            Event::Ended(signal) => Some(signal.clone()),
            _ => None,
        });
        let found = ended.expect("it is copied at the other end");
        let off_hz = [found.mark_hz - pair.mark_hz, found.space_hz - pair.space_hz];
        assert!(
            off_hz.iter().all(|hz| hz.abs() < EXACT_HZ),
            "{off_hz:?} {found:?}"
        );
        let text: String = events
            .iter()
            .filter_map(|event| match event {
                Event::Character(c) => c.symbol.text(),
                _ => None,
            })
            .collect();
        assert!(
            text.contains("GOOD EVENING FROM THE HARBOUR CLUB"),
            "{text:?}"
        );
    }
}

/// Nothing goes out where it would have to be guessed, and why is told.
#[test]
fn without_a_sideband_or_on_the_other_one_nothing_is_sent() {
    let folder = tempfile::tempdir().expect("a folder");
    let pair = |lower_hz: f64| Tones::of_pair(lower_hz, lower_hz + 170.0, Sense::LowerTone);
    for (n, (lower_hz, sideband, keys, said)) in [
        (
            1500.0,
            None,
            "",
            "nobody has said which sideband the receiver is on",
        ),
        (
            1500.0,
            Some(Sideband::Upper),
            "",
            "on the upper sideband and the transmitter on the lower",
        ),
        (
            1500.0,
            Some(Sideband::Lower),
            "audio_to_hz = 1600",
            "300 to 1600 Hz",
        ),
    ]
    .into_iter()
    .enumerate()
    {
        let path = folder.path().join(format!("{n}.wav"));
        let stand = Stand::new(pair(lower_hz), sideband, keys, &path);
        stand.write(SENT);
        let why = stand.go().expect_err("it is refused");
        assert!(why.contains(said), "{why}");
        assert_eq!(stand.station.answering().tones.refused, Some(why));
        assert_eq!(stand.station.answering().gone, 0);
        // Its own are sent all the same, once a person says so.
        stand.ask(&Answer::Tones(TonesFrom::Own)).expect("chosen");
        stand.go().expect("it goes");
        stand.until("it has gone", |state| state.gone == SENT.len() as u64);
        stand.station.stop();
    }
}
