//! The power fails while a file is being written: whatever blocks the disk kept of what was
//! not yet on it, everything before is there.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;
use markhold_shelf::{LocalDisk, Recorder};
use markhold_sound::repair_wav;
use proptest::prelude::*;
use std::sync::Arc;

/// What a disk writes at once, bytes (common practice).
const BLOCK: usize = 4096;

/// The file as it may lie on the disk: every block as it was put there or as it was to
/// become, and either length. A block never written reads as zeros.
fn after_the_cut(old: &[u8], new: &[u8], grown: bool, kept: &[bool]) -> Vec<u8> {
    let mut disk = old.to_vec();
    disk.resize(if grown { new.len() } else { old.len() }, 0);
    let blocks = disk.chunks_mut(BLOCK).zip(new.chunks(BLOCK));
    for ((block, new), kept) in blocks.zip(kept.iter().cycle()) {
        if *kept {
            let count = block.len().min(new.len());
            block[..count].copy_from_slice(&new[..count]);
        }
    }
    disk
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn what_was_on_the_disk_stays(
        synced in 1u64..30_000,
        more in 1u64..8_000,
        grown: bool,
        kept in proptest::collection::vec(any::<bool>(), 1..23),
    ) {
        let folder = tempfile::tempdir().unwrap();
        let begin = evening().begin.timestamp();
        let mut recorder = Recorder::new(folder.path(), Arc::new(LocalDisk), begin, RATE, 300.0);
        recorder.write(0, &ramp(0, synced)).unwrap();
        recorder.flush().unwrap();
        recorder.settling().into_iter().for_each(|settle| settle().unwrap());
        let path = folder.path().join(&recorder.current().unwrap().file);
        let old = std::fs::read(&path).unwrap();
        recorder.write(synced, &ramp(synced, more)).unwrap();
        recorder.flush().unwrap();
        let new = std::fs::read(&path).unwrap();
        drop(recorder);

        std::fs::write(&path, after_the_cut(&old, &new, grown, &kept)).unwrap();
        let found = repair_wav(&path).unwrap();
        prop_assert!(found.frames >= synced, "{found:?}");
        let sound = samples(&path);
        prop_assert_eq!(sound.len() as u64, found.frames);
        prop_assert!(sound[..synced as usize] == ramp(0, synced));
    }
}
