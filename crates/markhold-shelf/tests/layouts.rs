//! Archives of earlier versions are taken over as they are; what they did not keep is not
//! made up.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::fixture;
use markhold_shelf::{Filter, Gap, GapCause, KeptLine, Shelf, Traffic};

/// A shelf with the archive that markhold 0.1.0 made of a noisy recording with language on,
/// before it kept what language did.
fn of_layout_1() -> (tempfile::TempDir, Shelf) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("markhold.sqlite");
    std::fs::copy(fixture("layout-1.sqlite"), file).unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    (folder, shelf)
}

fn lines(shelf: &Shelf) -> Vec<KeptLine> {
    let mut lines = Vec::new();
    let reading = shelf.evening(1).unwrap().best_reading().unwrap().id;
    shelf.lines(reading, &mut |line| lines.push(line)).unwrap();
    lines
}

#[test]
fn layout_1_is_read_as_it_was() {
    let (folder, shelf) = of_layout_1();
    assert_eq!(shelf.check().unwrap().damage, [""; 0]);
    let evening = shelf.evening(1).unwrap();
    let gap = |begin_s, length_s, cause| Gap {
        begin_s,
        length_s: Some(length_s),
        cause,
    };
    assert_eq!(
        evening.gaps,
        [
            gap(12.5, 0.25, GapCause::Lost),
            gap(30.0, 2.0, GapCause::Device)
        ]
    );
    let reading = evening.best_reading().unwrap();
    assert_eq!((reading.characters, reading.doubtful), (226, 10));
    let lines = lines(&shelf);
    let texts: Vec<&str> = lines.iter().map(|line| line.text.as_str()).collect();
    assert_eq!(
        texts[1],
        "THE NET MEETS AT NINE AT THE ROPEWALK. ASK AT THE ROPEWALK DOOR."
    );
    let characters = lines.iter().flat_map(|line| line.characters().unwrap());
    assert_eq!(characters.filter(|c| c.doubt.is_some()).count(), 10);
    let hits = shelf.search("ropewalk door", &Filter::default()).unwrap();
    assert_eq!(hits[0].line, Traffic::Received(lines[1].clone()));
    drop(shelf);
    // Once taken over it is opened like any other.
    Shelf::open(folder.path()).unwrap();
}

/// What has no ids gets them from the starts, so that a later reading can share them; what
/// was not kept of likelihoods is not made up.
#[test]
fn characters_of_layout_1_have_ids_and_keys() {
    let (folder, shelf) = of_layout_1();
    let characters = lines(&shelf)
        .iter()
        .flat_map(|line| line.characters().unwrap())
        .collect::<Vec<_>>();
    assert_eq!(characters.len(), 226);
    let ids = characters.iter().map(|c| (c.signal, c.id));
    assert!(
        ids.clone()
            .zip(ids.skip(1))
            .all(|(a, b)| a.0 != b.0 || a.1 < b.1)
    );
    assert!(
        characters
            .iter()
            .all(|c| c.codes.is_none() && c.present == 1.0)
    );
    let key = |shelf: &Shelf| shelf.key(1, &characters[0]).unwrap();
    let (first, again) = (key(&shelf), key(&Shelf::open(folder.path()).unwrap()));
    assert_eq!(first, again, "a station keeps its name");
    let (_other_folder, other) = of_layout_1();
    assert_ne!(first.station, other.station().unwrap());
}

#[test]
fn what_layout_1_dropped_is_not_known_and_teaches_nothing() {
    let (_folder, mut shelf) = of_layout_1();
    assert_eq!(
        shelf.evening(1).unwrap().best_reading().unwrap().changed,
        None
    );
    for line in lines(&shelf) {
        assert!(line.changed.is_none() && !line.knows_language());
    }
    assert!(shelf.learn().unwrap().learned.is_empty());
}

/// The same evening in an archive of layout 2, made from the one of layout 1 by the step that
/// led there, with what that layout added: a gap of unknown length, what language changed, and
/// an evening that is not to teach.
#[test]
fn layout_2_is_read_without_loss() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("markhold.sqlite");
    std::fs::copy(fixture("layout-2.sqlite"), file).unwrap();
    let (_other, before) = of_layout_1();
    for time in ["taken over", "opened again"] {
        let shelf = Shelf::open(folder.path()).unwrap();
        assert!(shelf.check().unwrap().damage.is_empty(), "{time}");
        let (evening, old) = (shelf.evening(1).unwrap(), before.evening(1).unwrap());
        assert!(!evening.teaches && evening.number == 1);
        assert_eq!(evening.station, shelf.station().unwrap());
        assert_eq!(
            (
                &evening.begin,
                evening.end,
                &evening.input,
                &evening.settings
            ),
            (&old.begin, old.end, &old.input, &old.settings)
        );
        let unknown = Gap {
            begin_s: 41.0,
            length_s: None,
            cause: GapCause::Lost,
        };
        assert_eq!(evening.gaps, [&old.gaps[..], &[unknown]].concat());
        let reading = evening.best_reading().unwrap();
        assert_eq!(
            (reading.characters, reading.doubtful, reading.changed),
            (226, 10, Some(2))
        );
        // What was kept then was copied to its end.
        assert_eq!(reading.copied_s, reading.heard_s);
        let changed = lines(&shelf)
            .iter()
            .map(|line| line.changed)
            .collect::<Vec<_>>();
        assert_eq!(changed, [Some(2), Some(0), Some(0), Some(0)]);
        let text = |shelf: &Shelf| {
            lines(shelf)
                .iter()
                .map(|l| l.text.clone())
                .collect::<Vec<_>>()
        };
        assert_eq!(text(&shelf), text(&before));
        let characters = |shelf: &Shelf| {
            let all = lines(shelf);
            all.iter()
                .flat_map(|line| line.characters().unwrap())
                .map(|c| (c.start_s, c.code, c.probability, c.doubt))
                .collect::<Vec<_>>()
        };
        assert_eq!(characters(&shelf), characters(&before));
        assert_eq!(
            shelf.search("ropewalk", &Filter::default()).unwrap().len(),
            2
        );
    }
}

/// The same evening in an archive of layout 5, made from the one of layout 2 by the steps that led
/// there, with what those added: an evening of another station, and a clock that was set. Skeds
/// come after it.
#[test]
fn layout_5_is_read_without_loss_and_takes_skeds() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("markhold.sqlite");
    std::fs::copy(fixture("layout-5.sqlite"), file).unwrap();
    let (_other, before) = of_layout_1();
    for time in ["taken over", "opened again"] {
        let shelf = Shelf::open(folder.path()).unwrap();
        assert_eq!(shelf.check().unwrap().damage, [""; 0], "{time}");
        let evening = shelf.evening(1).unwrap();
        assert_eq!((evening.station.0, evening.number), (815, 7));
        assert_eq!(shelf.station().unwrap().0, 4711);
        let step = markhold_shelf::ClockStep {
            at_s: 20.0,
            by_s: 3600.0,
        };
        assert_eq!(evening.clock_steps, [step]);
        assert_eq!(evening.gaps.len(), 3);
        let texts = |shelf: &Shelf| {
            lines(shelf)
                .iter()
                .map(|l| l.text.clone())
                .collect::<Vec<_>>()
        };
        assert_eq!(texts(&shelf), texts(&before));
        assert!(shelf.skeds().unwrap().is_empty() && shelf.last_watched().unwrap().is_none());
        assert!(shelf.runs(jiff::Timestamp::UNIX_EPOCH).unwrap().is_empty());
        assert!(shelf.dial_found().unwrap().is_empty());
    }
}
