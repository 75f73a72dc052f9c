//! The clock: wrong, and set.

use super::*;

#[test]
fn a_wrong_clock_deletes_nothing_of_tonight() {
    let folder = tempfile::tempdir().unwrap();
    let small = |limit| KeepSettings {
        sound_bytes: limit,
        segment_s: 1.0,
        ..settings()
    };
    let last = KeepSettings {
        segment_s: 1.0,
        ..settings()
    };
    let keeper = Keeper::begin(folder.path(), evening(), last).unwrap();
    give(&keeper, &ramp(0, 32_000));
    keeper.finish().unwrap();
    // The clock of a machine whose battery is flat; tonight alone takes more than its room.
    let tonight = evening_at("1970-01-01T00:00:12Z[UTC]");
    let keeper = Keeper::begin(folder.path(), tonight, small(80_000)).unwrap();
    for second in 0..8 {
        give(&keeper, &ramp(second * 8_000, 8_000));
        std::thread::sleep(Duration::from_millis(250));
    }
    let notices = std::cell::RefCell::new(Vec::new());
    let more = |n: &KeepNotice| {
        notices.borrow_mut().push(n.clone());
        matches!(n, KeepNotice::MoreThanItsRoom { .. })
    };
    wait_for(&keeper, more);
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    assert_eq!((sound_s(&shelf, 1), sound_s(&shelf, 2)), (0.0, 8.0));
    // The next evening makes room by number: tonight's goes then, the latest stays.
    let keeper = Keeper::begin(folder.path(), evening(), small(100_000)).unwrap();
    give(&keeper, &ramp(0, 16_000));
    wait_until(&keeper, |state| state.copy == Kept::Yes);
    std::thread::sleep(Duration::from_millis(1_200));
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    assert_eq!(sound_s(&shelf, 3), 2.0);
    assert!(sound_s(&shelf, 2) < 8.0);
}

#[test]
fn a_step_of_the_clock_is_noted() {
    let folder = tempfile::tempdir().unwrap();
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    give(&keeper, &ramp(0, 12_000));
    keeper.clock_step(86_400.0);
    give(&keeper, &ramp(12_000, 4_000));
    keeper.finish().unwrap();
    let evening = Shelf::open(folder.path()).unwrap().evening(1).unwrap();
    let steps: Vec<_> = evening
        .clock_steps
        .iter()
        .map(|step| (step.at_s, step.by_s))
        .collect();
    assert_eq!(steps, [(1.5, 86_400.0)]);
}
