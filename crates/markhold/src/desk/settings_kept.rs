//! What was set at the desk is there at its next start: aim, sideband, figures row, spaces, and
//! whether every signal is copied. It lies in the shelf's folder. What is held of a signal is of
//! that evening only, and what language may do stands in the settings file.

use markhold_station::settings::InUse;
use markhold_station::{Delivery, Report, Station};
use std::path::Path;

/// The file in the shelf's folder.
const FILE: &str = "desk.json";
/// Most bytes that are read: what is longer is none of ours.
const MOST_BYTES: u64 = 16 * 1024;

/// What was set last, in place of what is usual; what cannot be read was not set.
pub fn before(place: &Path, usual: InUse) -> InUse {
    let file = place.join(FILE);
    let is_ours =
        std::fs::metadata(&file).is_ok_and(|about| about.is_file() && about.len() < MOST_BYTES);
    let text = is_ours
        .then(|| std::fs::read_to_string(&file).ok())
        .flatten();
    let kept: Option<InUse> = text.and_then(|text| serde_json::from_str(&text).ok());
    kept.map_or(usual, |kept| InUse {
        sideband: kept.sideband,
        target: kept.target,
        figures_row: kept.figures_row,
        unshift_on_space: kept.unshift_on_space,
        all: kept.all,
        ..usual
    })
}

/// Keeps what is set, whenever that changes.
pub fn keep(station: &Station) {
    let Some(place) = station.place().map(Path::to_path_buf) else {
        return;
    };
    let (mut reports, station) = (station.reports(), station.clone());
    // Without a thread it is as usual at the next start.
    let _ = std::thread::Builder::new()
        .name("settings".into())
        .spawn(move || {
            while let Some(delivery) = reports.wait() {
                let in_use = match delivery {
                    Delivery::Report(report) => match *report {
                        Report::Settings(in_use) => Some(in_use),
                        _ => None,
                    },
                    Delivery::Missed(_) => Some(station.look(|sum| sum.in_use)),
                };
                // A disk that takes nothing is told of where the evening is kept.
                let _ = in_use.map(|in_use| write(&place, &in_use));
            }
        });
}

fn write(place: &Path, in_use: &InUse) -> std::io::Result<()> {
    std::fs::create_dir_all(place)?;
    // Whole or not at all.
    let new = place.join(format!("{FILE}.new"));
    std::fs::write(&new, serde_json::to_vec(in_use)?)?;
    std::fs::rename(new, place.join(FILE))
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_station::settings::{Hold, Target};

    #[test]
    fn what_is_set_comes_back_and_what_is_held_does_not() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = folder.path().join("shelf");
        let usual = InUse::default();
        assert_eq!(before(&place, usual), usual);
        let set = InUse {
            target: Target::Middle(2210.0),
            all: true,
            ..usual
        };
        let held = InUse {
            hold: Hold {
                rate_baud: Some(50.0),
                ..Hold::default()
            },
            ..set
        };
        write(&place, &held).expect("written");
        assert_eq!(before(&place, usual), set);
        std::fs::write(place.join(FILE), "{\"all\": 5").expect("written");
        assert_eq!(before(&place, usual), usual);
    }
}
